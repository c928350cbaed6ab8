"""Any result as JSON for other programs: its fields by their names, which carry the units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from planner.domain.results import Plan
from planner.domain.ship_clock import ShipClock
from planner.presentation.json_text import as_json
from planner.presentation.summary_json import summarise

SECONDS_PER_HOUR = 3600.0


def to_json(result: object) -> str:
    """Return a result as one JSON object, a newline at its end.

    Parameters
    ----------
    result : dataclass instance
        Of the domain's results; a plan in it stands as in plan.json, without the files.

    Returns
    -------
    str
        Times in UTC as ISO 8601 with Z, spans of time in hours, figures that are not finite as null.

    Raises
    ------
    TypeError
        When something in it has no form in JSON.
    """
    return as_json(plain(result))


def plain(value: object) -> Any:
    """Return a value as dicts, lists, text, numbers and None."""
    if isinstance(value, Plan):
        return plain(summarise(value))
    if is_dataclass(value) and not isinstance(value, type):
        return {name: content for field in fields(value) for name, content in named(field.name, value)}
    if isinstance(value, Mapping):
        return {str(name): plain(content) for name, content in value.items()}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if value is None or isinstance(value, str | int | float):
        return None if isinstance(value, float) and not math.isfinite(value) else value
    raise TypeError(f"a {type(value).__name__} has no form in JSON")


def named(name: str, holder: object) -> Iterator[tuple[str, Any]]:
    """Yield a result's field under its name; spans of time get their unit, a ship's clock its changes beside it."""
    value = getattr(holder, name)
    if isinstance(value, ShipClock):
        yield f"{name}_hours", _hours(value.first)
        yield f"{name}_changes", [{"at": plain(at), "hours": _hours(later)} for at, later in value.changes]
    elif isinstance(value, timedelta):
        yield f"{name}_hours", _hours(value)
    else:
        yield name, plain(value)


def _hours(span: timedelta) -> float:
    return span.total_seconds() / SECONDS_PER_HOUR
