"""Which panel earns its place, and how to wire pairs."""
