"""What every reader is shown, whatever the plan. Standards are named as the README names them."""

from __future__ import annotations

from typing import Final

from planner.domain.results.plan import Plan
from planner.presentation.words.notes import all_said

AID: Final = (
    "A planning aid, not for navigation. Forecasts err: read the meter, keep a lookout, and trust what you see."
)
STANDING: Final = (
    AID,
    "Electrical work to ISO 13297, ISO/TS 23625 (lithium), ABYC E-10, E-11 and E-13 or the local code, by a "
    "qualified person.",
    "Keep the start battery apart and charged.",
    "Ventilate while the engine runs: carbon monoxide has no smell.",
    "The limits of the engine's maker on heel and on running at low load come first.",
    "Before starting in gear look over the side for lines. Engine in gear, she is a power-driven vessel (COLREGs 3, "
    "23, 25): lights and day shape to match.",
    "Cover panels before disconnecting them, and disconnect them from the controller before the bank.",
    "Nobody goes on deck at night for watts.",
)  # common practice


def cautions_of(plan: Plan) -> list[str]:
    """Return the cautions that a plan calls for, then the standing ones."""
    return [*all_said(plan.cautions), *STANDING]
