"""Finds a policy and turns it into ladders, windows and reasons."""

from planner.kernel_cache import ensure_kernel_cache

ensure_kernel_cache()
