"""reconcile.json: the findings for other programs."""

from __future__ import annotations

import math
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from typing import Any

from planner.domain.reconcile_results import Reconciliation
from planner.domain.ship_clock import ShipClock


def findings(found: Reconciliation) -> dict[str, Any]:
    """Return the content of reconcile.json: every finding under its own names, without the courses.

    Parameters
    ----------
    found : Reconciliation

    Returns
    -------
    dict
        JSON-ready; moments in UTC as ISO 8601 with Z; what cannot be told is null.
    """
    return {
        name.name: _plain(getattr(found, name.name))
        for name in fields(found)
        if name.name not in {"courses", "ship_offset"}
    } | {"ship_offset_hours": _offset_hours(found)}


def _offset_hours(found: Reconciliation) -> float:
    offset = found.ship_offset
    first: timedelta = offset.first if isinstance(offset, ShipClock) else offset
    return first.total_seconds() / 3600.0


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if hasattr(value, "__dataclass_fields__"):
        return {name.name: _plain(getattr(value, name.name)) for name in fields(value)}
    if isinstance(value, float) and math.isnan(value):
        raise ValueError("a finding is not a number")
    return value
