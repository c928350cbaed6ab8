"""JSON as every output writes it: led by its format and the planner's version, results by their fields' names."""

from __future__ import annotations

import json
import math
from collections.abc import Container, Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from planner.domain.file_format import STAMP
from planner.domain.results.note import Note
from planner.domain.ship_clock import ShipClock
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.utc import iso_8601
from planner.presentation.words.notes import said

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def as_json(content: Mapping[str, Any]) -> str:
    """Return JSON-ready content as one object, format and version first, a newline at its end."""
    return json.dumps({**STAMP, **content}, indent=1, allow_nan=False) + "\n"


def plain(value: object) -> Any:
    """Return a value as dicts, lists, text, numbers and None."""
    if isinstance(value, Note):
        return said(value)
    if is_dataclass(value) and not isinstance(value, type):
        return fields_of(value)
    if isinstance(value, Mapping):
        return {str(name): plain(content) for name, content in value.items()}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, datetime):
        return iso_8601(value)
    if value is None or isinstance(value, str | int | float):
        return None if isinstance(value, float) and not math.isfinite(value) else value
    raise TypeError(f"a {type(value).__name__} has no form in JSON")


def fields_of(holder: DataclassInstance, *, without: Container[str] = ()) -> dict[str, Any]:
    """Return a result's fields but some, by their names."""
    kept = (field.name for field in fields(holder) if field.name not in without)
    return {name: content for each in kept for name, content in named(each, holder)}


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
