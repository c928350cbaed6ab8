"""How a face has kernels compiled beside its first plan."""

from planner.flow.kernels_ahead import compiled_beside

__all__ = ["compiled_beside"]
