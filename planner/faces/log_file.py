"""The log of a run: one line an event, in UTC, for whoever asks later what was done and what went wrong."""

from __future__ import annotations

import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from planner.domain.addresses import masked
from planner.domain.errors import Fault, InputError

LINE: Final = "%(asctime)s %(levelname)s %(name)s: %(message)s"
UTC: Final = "%Y-%m-%dT%H:%M:%SZ"
TABLE: Final = ".csv"


class OneLine(logging.Formatter):
    """An event on one line, whatever its message holds."""

    def __init__(self) -> None:
        super().__init__(LINE, UTC)
        self.converter = time.gmtime

    def format(self, record: logging.LogRecord) -> str:
        """Return the event with its lines parted by bars, and without the secrets of an address."""
        return " | ".join(masked(line.strip()) for line in super().format(record).splitlines())


@contextmanager
def logged(path: Path | None) -> Iterator[None]:
    """Add what the planner does meanwhile to a file.

    Parameters
    ----------
    path : Path or None
        Made when it does not exist; None keeps no log.

    Raises
    ------
    InputError
        When it is a table by the ending of its name, which may be the engine's own log, or cannot be written to.
    """
    if path is None:
        yield
        return
    if path.suffix.lower() == TABLE:
        remedy = "Name another file; readings are given by --readings, the engine's runs by --engine-log."
        raise InputError([Fault("--log", "", f"'{path}' is a table by its name, and the log is none.", remedy)])
    try:
        handler = logging.FileHandler(path, encoding="utf-8")
    except OSError as error:
        problem = f"'{path}' cannot be written to: {error.strerror}."
        raise InputError([Fault("--log", "", problem, "Name a file in a folder of your own.")]) from error
    with handled(handler):
        yield


@contextmanager
def handled(handler: logging.Handler) -> Iterator[None]:
    """Hand what the planner does meanwhile to a handler, which is closed in the end."""
    events = logging.getLogger("planner")
    before = events.level
    handler.setFormatter(OneLine())
    events.addHandler(handler)
    events.setLevel(logging.INFO)
    try:
        yield
    finally:
        events.removeHandler(handler)
        events.setLevel(before)
        handler.close()
