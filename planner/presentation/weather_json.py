"""The account of a forecast for other programs."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import UTC, datetime

from planner.domain.forecast_results import ForecastAccount


def weather_json(account: ForecastAccount) -> str:
    """Return an account as JSON: names as its class has them, times in UTC as ISO 8601 with Z.

    Parameters
    ----------
    account : ForecastAccount
        All but its arrays is told.
    """
    told = asdict(replace(account, joined=None))
    del told["joined"]
    told["can_plan"] = account.can_plan
    return json.dumps(told, default=_iso, indent=2, ensure_ascii=False, allow_nan=False)


def _iso(moment: object) -> str:
    if not isinstance(moment, datetime):
        raise TypeError(f"{type(moment).__name__} has no place in JSON")
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
