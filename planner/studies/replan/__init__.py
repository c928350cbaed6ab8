"""The rest of a passage from a fix."""
