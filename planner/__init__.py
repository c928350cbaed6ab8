"""Passage energy planner: how a yacht's battery bank fares on a crossing, and when the engine must charge."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from planner.domain.version import __version__

if TYPE_CHECKING:
    from planner.app.api import compare, headings, panels, plan, read_passage, reconcile, replan, write

__all__ = ["__version__", "compare", "headings", "panels", "plan", "read_passage", "reconcile", "replan", "write"]


def __getattr__(name: str) -> Any:
    """Import the calls of the small API, and the libraries behind them, when the first one is asked for."""
    if name in __all__:
        return getattr(import_module("planner.app.api"), name)
    raise AttributeError(f"module 'planner' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
