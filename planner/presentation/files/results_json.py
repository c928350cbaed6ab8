"""Results as JSON for other programs, where not all of their fields are meant for one."""

from __future__ import annotations

from typing import Any

from planner.domain.results.fetched import FetchedForecast
from planner.domain.results.forecast import ForecastAccount
from planner.domain.results.reconcile.findings import Reconciliation
from planner.domain.results.replan import Replan
from planner.domain.results.request import ForecastRequest
from planner.presentation.files.json_text import fields_of
from planner.presentation.files.summary_json import summarise


def replanned(result: Replan) -> dict[str, Any]:
    """Return what was read and found at a fix, the new plan as in plan.json.

    Parameters
    ----------
    result : Replan
    """
    return fields_of(result, without=["plan"]) | {"plan": summarise(result.plan)}


def findings(found: Reconciliation) -> dict[str, Any]:
    """Return what reconcile.json says: every finding under its own name, without the courses step by step.

    ``controllers`` holds each controller's level day by day in ``days``: the passage ``day`` from 1, when it
    ``begins`` (UTC), ``ratio`` of the energy read to that expected (``value``, ``low``, ``high`` [1]), ``hours``
    judged [h], ``read_wh`` and ``expected_wh`` over them [Wh]. Days without a judged hour are absent.

    Parameters
    ----------
    found : Reconciliation
    """
    return fields_of(found, without=["courses", "mapping"])


def account_for_programs(account: ForecastAccount) -> dict[str, Any]:
    """Return what a forecast holds and how it is understood, JSON-ready, without the forecast itself.

    Parameters
    ----------
    account : ForecastAccount
    """
    return fields_of(account, without=["joined"]) | {"can_plan": account.can_plan}


def fetched_for_programs(fetched: FetchedForecast) -> dict[str, Any]:
    """Return what was fetched, JSON-ready, and under ``account`` what it holds.

    Parameters
    ----------
    fetched : FetchedForecast
    """
    return fields_of(fetched, without=["account", "path"]) | {
        "path": str(fetched.path),
        "account": account_for_programs(fetched.account),
    }


def asked_for(request: ForecastRequest) -> dict[str, Any]:
    """Return an order of a forecast, JSON-ready.

    Parameters
    ----------
    request : ForecastRequest
    """
    filled = fields_of(request)
    filled["area"]["over_antimeridian"] = request.area.over_antimeridian
    return filled
