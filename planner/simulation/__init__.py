"""Physics assembled along the passage: sail, collect, simulate."""
