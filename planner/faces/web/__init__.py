"""The local page: parse a request, call the application layer in a process of its own, show what came of it."""
