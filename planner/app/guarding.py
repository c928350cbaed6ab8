"""How a face watches over the libraries that read foreign files."""

from planner.readers.forecast.guard import ended_by, guard_with, held_back

__all__ = ["ended_by", "guard_with", "held_back"]
