"""What watches over file libraries while they read a foreign file: damage may hang or crash them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from contextvars import ContextVar
from pathlib import Path

Guard = Callable[[Path], AbstractContextManager[None]]
"""Called with the file, it is entered before a library opens it and left when it is read."""

_GUARD: ContextVar[Guard] = ContextVar("guard", default=lambda _: nullcontext())


def guard_with(guard: Guard) -> None:
    """Have a guard watch over every reading from now on; without one, nothing does."""
    _GUARD.set(guard)


def guarded(path: Path) -> AbstractContextManager[None]:
    """Return the context to read a file in."""
    return _GUARD.get()(path)
