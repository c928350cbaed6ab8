"""The rows of the watch bill, drawn from a computed plan."""
