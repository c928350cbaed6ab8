"""How a face watches over the libraries that read foreign files."""

from planner.readers.forecast.guard import guard_with

__all__ = ["guard_with"]
