"""Passage energy planner: how a yacht's battery bank fares on a crossing, and when the engine must charge."""

__version__ = "0.1.0"
