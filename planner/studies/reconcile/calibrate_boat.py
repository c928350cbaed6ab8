"""From what readings showed to what they change in the boat file: only what they contradict beyond doubt."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import count
from typing import Final

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Load
from planner.domain.results.calibration import UNLISTED, BoatChange
from planner.domain.results.note import NOTHING, Note, together
from planner.domain.results.reconcile.findings import LEVEL, ControllerFinding, Interval, LoadFinding, Reconciliation
from planner.simulation.ledger.bank import bank_params

FAULTS: Final = frozenset({"weak", "substring out", "panel dark"})
"""Verdicts that lie with the panels themselves: shade, limits and a full bank do not."""
PART_STEPS: Final = (0.1, 0.05, 0.02, 0.01)  # 1, to which parts are rounded, the coarsest that doubt allows
WATT_STEPS: Final = (10.0, 5.0, 2.0, 1.0)  # W
ROUND_WITHIN: Final = 0.5  # 1, of the way from the value to the interval's nearer end that rounding may take


def calibrate_boat(found: Reconciliation, boat: Boat) -> tuple[BoatChange, ...]:
    """Return the changes to a boat file that readings call for.

    A key is changed where the interval of what was found excludes what is listed: panels of a controller that is weak
    or has a substring out, the bank's capacity, a load that is not on the list. Verdicts of shade, of a limit, of a
    full bank or of doubt change nothing. Figures are rounded as coarsely as their intervals allow.

    Parameters
    ----------
    found : Reconciliation
        Of readings against this boat.
    boat : Boat
        That the model went by.
    """
    return (
        *(change for finding in found.controllers for change in _panels(finding, boat)),
        *_bank(found, boat),
        *_load(found.loads, [load.name for load in boat.load]),
    )


def _panels(finding: ControllerFinding, boat: Boat) -> list[BoatChange]:
    ratio = finding.ratio
    if finding.verdict not in FAULTS or ratio is None or ratio.low <= 1.0 <= ratio.high:
        return []
    gave = Note(
        "controller_gave",
        {
            "controller": finding.controller,
            "ratio": ratio,
            "level": LEVEL,
            "judged_h": finding.judged_h,
            "since": _since(finding.since),
            "verdict": finding.verdict,
        },
    )
    why = together([gave, *([Note("each_gets_the_mean")] if len(finding.panels) > 1 else [])])
    changes = []
    for panel in boat.panel:
        if panel.name in finding.panels:
            before = panel.measured_fraction
            after = rounded(_scaled(ratio, before), PART_STEPS)
            changes.append(BoatChange(f"panel.{panel.name}.measured_fraction", before, after, why))
    return changes


def _bank(found: Reconciliation, boat: Boat) -> list[BoatChange]:
    capacity, bank = found.bank.capacity_ah, boat.bank
    listed = bank_params(bank).capacity_ah
    if capacity is None or capacity.low <= listed <= capacity.high:
        return []
    why = Note("bank_measured", {"capacity": capacity, "level": LEVEL, "listed_ah": listed})
    part = _scaled(capacity, 1.0 / bank.capacity_ah)
    if part.value <= 1.0:
        changes = [BoatChange("bank.health", bank.health, min(rounded(part, PART_STEPS), 1.0), why)]
    else:
        rated = rounded(_scaled(capacity, 1.0 / bank.health), WATT_STEPS)
        changes = [BoatChange("bank.capacity_ah", bank.capacity_ah, rated, why)]
    if bank.meter.capacity_ah is None:
        still = Note("monitor_counts", {"listed_ah": listed})
        changes.append(BoatChange("bank.meter.capacity_ah", None, round(listed, 1), still))
    return changes


def _load(loads: LoadFinding, names: Sequence[str]) -> list[BoatChange]:
    drawn = loads.while_on_w
    if not loads.found or drawn is None or drawn.low <= 0.0:
        return []
    name = next(
        each for number in count(1) if (each := UNLISTED if number == 1 else f"{UNLISTED} {number}") not in names
    )
    when = Note("at_all_hours")
    if loads.spans:
        when = Note("from_hours", {"begins": loads.spans[0][0], "ends": loads.spans[0][1]})
    why = Note("drawn_more", {"drawn": drawn, "level": LEVEL, "when": when, "since": _since(loads.since)})
    load = Load(
        name=name,
        watts=rounded(drawn, WATT_STEPS),
        when="hours" if loads.spans else "always",
        hours=loads.spans,
    )
    return [BoatChange(f"load.{name}", None, load, why)]


def rounded(figure: Interval, steps: Sequence[float]) -> float:
    """Return a figure rounded to the coarsest step that keeps it well inside its interval.

    Parameters
    ----------
    figure : Interval
    steps : sequence of float
        From coarse to fine; the last is taken where the interval allows none.

    Returns
    -------
    float
    """
    room = ROUND_WITHIN * min(figure.value - figure.low, figure.high - figure.value)
    for step in steps:
        value = round(figure.value / step) * step
        if value > 0.0 and abs(value - figure.value) <= room:
            return round(value, 6)
    return round(max(round(figure.value / steps[-1]), 1) * steps[-1], 6)


def _scaled(figure: Interval, by: float) -> Interval:
    return Interval(figure.value * by, figure.low * by, figure.high * by)


def _since(moment: datetime | None) -> Note:
    return Note("since", {"at": moment}) if moment else NOTHING
