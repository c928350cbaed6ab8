"""The bank by its readings."""
