"""What readings show."""
