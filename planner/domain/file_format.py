"""The number of the form that the planner's files have, and what a file of another form is refused with."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final, Literal

from planner.domain.errors import Fault
from planner.domain.version import __version__

Format = Literal[1]
FORMAT: Final[Format] = 1
"""Of every file that is written or read; it rises when a file of the older form would be misread."""

STAMP: Final[Mapping[str, Any]] = MappingProxyType({"format": FORMAT, "planner_version": __version__})
"""What every output says of itself."""

PLAN_FILE: Final = "plan.json"
SETS: Final = ".sets"
"""Folder, beside the files that people open, of the sets that manifests name."""


def format_faults(content: Mapping[str, Any], where: str, *, remedy: str) -> list[Fault]:
    """Return what is wrong with the format that a file says it has; a file that says none has this one.

    Parameters
    ----------
    content : mapping
        The file's outermost keys.
    where : str
        Its name.
    remedy : str
        What to do about a file of another form.
    """
    given = content.get("format", FORMAT)
    if given == FORMAT and not isinstance(given, bool):
        return []
    writer = content.get("planner_version")
    by = f", written by planner {writer}," if isinstance(writer, str) else ""
    return [Fault(where, "format", f"{given!r} was given{by} and planner {__version__} reads {FORMAT}.", remedy)]
