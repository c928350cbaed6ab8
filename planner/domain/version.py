"""The version of the planner, which the packaging reads from here, too."""

__version__ = "0.1.0"
