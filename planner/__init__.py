"""Passage energy planner: how a yacht's battery bank fares on a crossing, and when the engine must charge.

``planner.__all__`` is the public interface; everything else may change from version to version. ``read_passage``
reads and checks a passage; one function a verb, named as on the command line, takes what was read and returns a typed
result; ``text_of`` and ``json_of`` show a result, and ``write`` writes its files, as the command does.
"""

from __future__ import annotations

import logging
from importlib import import_module
from typing import TYPE_CHECKING, Any

from planner.domain.version import __version__

if TYPE_CHECKING:
    from planner.app.api import (
        calibrate,
        check,
        compare,
        explain,
        fetch,
        headings,
        json_of,
        new,
        panels,
        plan,
        read_passage,
        reconcile,
        replan,
        request,
        text_of,
        weather,
        write,
    )

__all__ = [
    "__version__", "calibrate", "check", "compare", "explain", "fetch", "headings", "json_of", "new",
    "panels", "plan", "read_passage", "reconcile", "replan", "request", "text_of", "weather", "write",
]  # fmt: skip

logging.getLogger(__name__).addHandler(logging.NullHandler())


def __getattr__(name: str) -> Any:
    """Import the public functions, and the libraries behind them, when the first one is asked for."""
    if name in __all__:
        return getattr(import_module("planner.app.api"), name)
    raise AttributeError(f"module 'planner' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
