"""Find the policy: ladders for every watch."""
