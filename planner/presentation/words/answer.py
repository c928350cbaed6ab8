"""The answer in three sentences: how the bank fares, when the engine runs, how sure that is."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

import numpy as np

from planner.domain.results.bill import EngineWindow
from planner.domain.results.figures import Wind
from planner.domain.results.plan import Plan
from planner.presentation.words.hours import hours_of
from planner.presentation.words.wording import EN_DASH, clock, duration, duration_span, moment_words, percent, whole

MOST_RUNS_NAMED = 4
_IN_WIND: Final[dict[Wind, str]] = {
    "own": ", each in its own wind",
    "control": ", all on the control's track",
    "forecast": ", wind as forecast",
}
INTERVAL = "90\N{NO-BREAK SPACE}% interval"  # the results' own Wilson interval


def answer(plan: Plan) -> tuple[str, str, str]:
    """Return the three sentences."""
    return _bank(plan), _engine(plan), _sure(plan)


def _bank(plan: Plan) -> str:
    hours = hours_of(plan)
    soc = np.append(plan.planned["bank_soc"].values[0], plan.planned["bank_soc_end"].values[0])
    step = int(soc.argmin())
    moment = hours.start + timedelta(hours=step * hours.step_h)
    reserve = plan.boat.bank.reserve_soc
    points = round(100 * soc[step]) - round(100 * reserve)
    stand = f"{points} points above the reserve of" if points > 0 else "on the reserve of"
    if points < 0:
        stand = f"{-points} points BELOW the reserve of"
    words = (
        f"The bank leaves with {percent(soc[0])} and comes to {plan.route[-1].name} with {percent(soc[-1])};"
        f" it is lowest on day {hours.day(step * hours.step_h)} ({moment_words(moment, hours.offset)})"
        f" with {percent(soc[step])}, {stand} {percent(reserve)}"
    )
    if plan.ledger.sizes["member"] > 1:
        own = plan.own_tracks
        low, whose = (own.min_soc.p10, ", on its own track,") if own else (plan.min_soc.p10, "")
        words += f", and one forecast in ten{whose} takes it to {percent(low)} or less"
    return words + "."


def _engine(plan: Plan) -> str:
    charging = [window for window in plan.windows if not window.propels]
    propelling = sum(((w.stop - w.start) for w in plan.windows if w.propels), timedelta())
    minutes = 60 * plan.charging_hours.planned
    if not charging:
        words = "As planned the engine need not run to charge"
    else:
        named = ", ".join(_run(plan, window) for window in charging[:MOST_RUNS_NAMED])
        more = len(charging) - MOST_RUNS_NAMED
        rest = f" and {more} more that the bill names" if more > 0 else ""
        runs = "one run" if len(charging) == 1 else f"{len(charging)} runs"
        words = f"As planned the engine charges for {duration(minutes)} in {runs}: {named}{rest}"
    if plan.ledger.sizes["member"] > 1:
        words += f" (eight forecasts in ten: {duration_span(plan.charging_hours)})"
    if propelling:
        words += f"; it drives the boat for {duration(propelling.total_seconds() / 60)} more"
    return words + f", and burns {whole(plan.fuel_l.planned)} of the {whole(plan.boat.engine.tank_l)} litres aboard."


def _run(plan: Plan, window: EngineWindow) -> str:
    hours = hours_of(plan)
    day = hours.day(hours.since_start(window.start))
    return f"day {day} {clock(window.start, hours.offset)}{EN_DASH}{clock(window.stop, hours.offset)}"


def _sure(plan: Plan) -> str:
    kept = plan.reserve_kept
    if kept.members <= 1:
        return "With one forecast only, how sure this is cannot be said: take a forecast with members where you can."
    share = kept.kept / kept.members
    verdict = "as asked" if share >= kept.confidence else "LESS than asked"
    words = (
        f"How sure: of {kept.members} forecasts that the engine ladder had not seen{_IN_WIND[kept.wind]}, {kept.kept}"
        f" stay above the reserve all the way, {percent(share)} ({INTERVAL} {percent(kept.low)} to"
        f" {percent(kept.high)}) where {percent(kept.confidence)} was asked: {verdict}."
    )
    return words if kept.wind == "own" else f"{words} The doubt of the wind is not in it."
