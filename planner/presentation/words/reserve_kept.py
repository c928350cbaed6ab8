"""How often the reserve is kept, in words that say in whose wind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from planner.domain.results.figures import ReserveKept, Wind
from planner.domain.results.plan import Plan

IN_WIND: Final[dict[Wind, str]] = {
    "own": "each in its own wind",
    "control": "all on the control's track: the doubt of the wind is not in it",
    "forecast": "wind as forecast: its doubt is not in it",
}

WIND_BRIEFLY: Final[dict[Wind, str]] = {
    "own": "own winds",
    "control": "the control's wind",
    "forecast": "wind as forecast",
}


def kept_count(kept: ReserveKept) -> str:
    """Return the count alone, '17 of 21'."""
    return f"{kept.kept} of {kept.members}"


def kept_words(plan: Plan) -> str:
    """Return the share that keeps the reserve and in whose wind: '17 of 21, each in its own wind'."""
    return f"{kept_count(plan.reserve_kept)}, {IN_WIND[plan.reserve_kept.wind]}"


def kept_briefly(kept: Mapping[str, Any]) -> str:
    """Return the headline of a plan.json with its wind, '17 of 21, own winds'; an older one does not say whose."""
    count = f"{kept['kept']} of {kept['members']}"
    return f"{count}, {WIND_BRIEFLY[kept['wind']]}" if "wind" in kept else count
