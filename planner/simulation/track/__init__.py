"""Where the boat is when, how she heads and how she is trimmed."""
