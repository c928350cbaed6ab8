"""Command line and local page: parse, call the application layer, show."""
