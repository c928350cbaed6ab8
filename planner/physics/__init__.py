"""Pure array functions, each a leaf: arrays in, arrays out, no files, clock or printing."""

from planner.kernel_cache import ensure_kernel_cache

ensure_kernel_cache()
