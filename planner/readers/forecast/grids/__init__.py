"""The nodes of a forecast: where they lie, and which way its components point."""
