"""Results as JSON for other programs: their fields by their names, which carry the units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from planner.domain.results.forecast import ForecastAccount
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.results.reconcile.findings import Reconciliation
from planner.domain.ship_clock import ShipClock
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.utc import iso_8601
from planner.presentation.files.json_text import as_json
from planner.presentation.files.summary_json import summarise
from planner.presentation.words.notes import said

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


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


def findings(found: Reconciliation) -> dict[str, Any]:
    """Return what reconcile.json says: every finding under its own name, without the courses step by step.

    ``controllers`` holds each controller's level day by day in ``days``: the passage ``day`` from 1, when it
    ``begins`` (UTC), ``ratio`` of the energy read to that expected (``value``, ``low``, ``high`` [1]), ``hours``
    judged [h], ``read_wh`` and ``expected_wh`` over them [Wh]. Days without a judged hour are absent.

    Parameters
    ----------
    found : Reconciliation
    """
    return fields_of(found, without="courses")


def account_for_programs(account: ForecastAccount) -> dict[str, Any]:
    """Return what a forecast holds and how it is understood, JSON-ready, without the forecast itself.

    Parameters
    ----------
    account : ForecastAccount
    """
    return fields_of(account, without="joined") | {"can_plan": account.can_plan}


def plain(value: object) -> Any:
    """Return a value as dicts, lists, text, numbers and None."""
    if isinstance(value, Note | Plan):
        return said(value) if isinstance(value, Note) else plain(summarise(value))
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


def fields_of(holder: DataclassInstance, *, without: str = "") -> dict[str, Any]:
    """Return a result's fields but one, by their names."""
    kept = (field.name for field in fields(holder) if field.name != without)
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
