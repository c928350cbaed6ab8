"""One module a verb."""
