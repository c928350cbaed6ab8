"""What readings show, in words and tables."""
