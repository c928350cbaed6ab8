"""Physics assembled along the passage: sail, collect, simulate."""

from planner.kernel_cache import ensure_kernel_cache

ensure_kernel_cache()
