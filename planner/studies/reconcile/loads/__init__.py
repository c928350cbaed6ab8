"""The loads by the readings."""
