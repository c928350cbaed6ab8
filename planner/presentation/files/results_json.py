"""Results as JSON for other programs: their fields by their names, which carry the units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.domain.results.forecast import ForecastAccount
from planner.domain.results.plan import Plan
from planner.domain.results.reconcile.findings import Reconciliation
from planner.presentation.files.json_text import as_json, fields_of
from planner.presentation.files.summary_json import summarise

if TYPE_CHECKING:
    from _typeshed import DataclassInstance


def to_json(result: DataclassInstance) -> str:
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
    if isinstance(result, Plan):
        return as_json(summarise(result))
    plans = {name: summarise(part) for name, part in vars(result).items() if isinstance(part, Plan)}
    return as_json(fields_of(result, without=plans) | plans)


def findings(found: Reconciliation) -> dict[str, Any]:
    """Return what reconcile.json says: every finding under its own name, without the courses step by step.

    ``controllers`` holds each controller's level day by day in ``days``: the passage ``day`` from 1, when it
    ``begins`` (UTC), ``ratio`` of the energy read to that expected (``value``, ``low``, ``high`` [1]), ``hours``
    judged [h], ``read_wh`` and ``expected_wh`` over them [Wh]. Days without a judged hour are absent.

    Parameters
    ----------
    found : Reconciliation
    """
    return fields_of(found, without=["courses"])


def account_for_programs(account: ForecastAccount) -> dict[str, Any]:
    """Return what a forecast holds and how it is understood, JSON-ready, without the forecast itself.

    Parameters
    ----------
    account : ForecastAccount
    """
    return fields_of(account, without=["joined"]) | {"can_plan": account.can_plan}
