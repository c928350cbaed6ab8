"""The account of a forecast for other programs."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from planner.domain.forecast_results import ForecastAccount
from planner.presentation.results_json import plain


def account_for_programs(account: ForecastAccount) -> dict[str, Any]:
    """Return an account JSON-ready: names as its class has them, times in UTC as ISO 8601 with Z.

    Parameters
    ----------
    account : ForecastAccount
        All but its arrays is told.
    """
    told = asdict(replace(account, joined=None))
    del told["joined"]
    content: dict[str, Any] = plain({**told, "can_plan": account.can_plan})
    return content
