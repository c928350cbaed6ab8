"""Sentences and short words of the bill, for terminals, pages, calendars and tables."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from planner.domain.results.bill import Deferred, Lasts, LaterWatch, Rung, WatchRow, WithoutEngine
from planner.domain.results.plan import Day, Plan, Stress, Trouble
from planner.domain.ship_clock import ShipOffset
from planner.presentation.words.wording import (
    EN_DASH,
    NO_BREAK,
    clock,
    duration,
    ladder_lines,
    moment_words,
    percent,
    plain,
)

TROUBLES: Final[dict[Trouble, str]] = {
    "overcast": "three overcast days",
    "day_longer": "a day more at sea",
    "other_side": "wind over the other side",
    "day_shorter": "a day less at sea",
    "waits": "half a day hove-to off the landfall",
}


def ladder_words(row: WatchRow) -> str:
    """Return the ladder on one line, '65 % or more no run / 55-64 % 1 h / below 55 % 2 h', or why there is none."""
    if row.earliest is None:
        return "under engine" if row.under_engine_min else "no run"
    return " / ".join(rung_words(row.ladder))


def rung_words(ladder: Sequence[Rung]) -> list[str]:
    """Return each rung from high reading to low: readings in percent and what to do.

    Parameters
    ----------
    ladder : sequence of Rung
        From high reading to low, covering 0 to 100 %.
    """
    return [plain(f"{readings} {action}") for readings, action in ladder_lines(ladder)]


def deferred_words(row: WatchRow, offset: ShipOffset) -> str:
    """Return what to run of the loads that can wait: 'watermaker 1 h 20 from 11:00 if 60 % or more'."""

    def words(load: Deferred) -> str:
        needs = f"if {load.from_percent}{NO_BREAK}% or more"
        return f"{load.load} {duration(load.minutes)} from {clock(load.start, offset)} {needs}"

    return "; ".join(words(each) for each in row.deferrable)


def may_run(row: WatchRow) -> bool:
    """Return whether some reading asks for a charging run in this watch."""
    return row.earliest is not None and any(rung.minutes for rung in row.ladder)


def stop_sentence(row: WatchRow) -> str:
    """Return when to stop a run, and the current that shows the alternator well."""
    stop = row.stop
    words = f"Stop at {stop.soc_percent} %, {stop.amp_hours} Ah in, or {stop.tail_a} A"
    if row.charge_current_a is None:
        return f"{words}."
    return f"{words}; after ten minutes expect {round(row.charge_current_a)} A, else look at the alternator."


def wake_sentence(row: WatchRow) -> str:
    """Return when to wake the skipper: by the meter, and by the volts whatever the meter shows."""
    return f"Wake the skipper at {row.wake_soc_percent} % or less; whatever the meter shows, {low_volts_words(row)}."


def usual_watch(rows: Sequence[WatchRow]) -> WatchRow:
    """Return the watch whose low volts stand in the middle: where one figure serves all, its catches the most.

    That of the least load hardly ever counts, since more is drawn; that of the heaviest load rings late.
    """
    return sorted(rows, key=lambda row: row.wake_v)[len(rows) // 2]


def low_volts_words(row: WatchRow) -> str:
    """Return the low backstop in volts, and what it takes for it to count."""
    return f"below {row.wake_v:.2f} V for {row.wake_min} min while no more than {row.wake_a:.0f} A is drawn"


def full_words(plan: Plan, day: Day) -> str:
    """Return a lead bank's days since full and its time at float; nothing of lithium, which needs neither."""
    if plan.boat.bank.chemistry == "lifepo4":
        return ""
    held = f"; at float for {duration(60 * day.float_h)}" if day.float_h else ""
    return f"{day.since_full_d:.1f} days since the bank was full, or departure{held}"


def standing_sentence(plan: Plan) -> str:
    """Return what holds in every watch once the reserve is near; empty where no run would help."""
    order = plan.policy.standing
    if order is None:
        return ""
    return (
        f"In any watch, at {order.start_percent}{NO_BREAK}% or less, quiet hours or not: start the engine at once "
        f"and charge to {order.stop_percent}{NO_BREAK}%."
    )


def later_lines(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return the watches past the planned arrival, where no card goes on: when, and the ladder with its stop."""

    def words(row: LaterWatch) -> str:
        ladder = " / ".join(rung_words(row.ladder))
        return f"{ladder} / stop at {row.stop_percent} %" if any(rung.minutes for rung in row.ladder) else ladder

    return tuple(
        (f"{moment_words(row.start, plan.ship_offset)}{EN_DASH}{clock(row.end, plan.ship_offset)}", words(row))
        for row in plan.later_watches
        if plan.card is None
    )


def stress_words(plan: Plan, stress: Stress) -> str:
    """Return how the plan fares in a trouble."""
    begun = f" from {moment_words(stress.begun, plan.ship_offset)}" if stress.begun else ""
    more_min = 60.0 * (stress.charging_h - plan.charging_hours.planned)
    engine = f"{duration(abs(more_min))} {'more' if more_min > 0 else 'less'} engine"
    if duration(abs(more_min)) == duration(0.0):
        engine = "no more engine"
    lost = f", lost first on {moment_words(stress.lost_from, plan.ship_offset)}" if stress.lost_from else ""
    return (
        f"{TROUBLES[stress.trouble].capitalize()}{begun}: {engine}; lowest "
        f"{percent(stress.lowest_soc)} on {moment_words(stress.lowest_at, plan.ship_offset)}; arrives with "
        f"{percent(stress.arrival_soc)}, {stress.fuel_l:.0f}{NO_BREAK}L burnt; reserve kept in "
        f"{stress.kept} of {stress.members} forecasts{lost}."
    )


def without_engine_from(plan: Plan, moment: datetime) -> WithoutEngine:
    """Return what holds if the engine is dead from the day of a moment on."""
    return next((case for case in reversed(plan.without_engine) if case.start <= moment), plan.without_engine[0])


def without_engine_sentence(case: WithoutEngine, offset: ShipOffset) -> str:
    """Return how long the bank lasts if the engine is dead from a moment on: as it is, all shed, steered by hand."""
    parts = [_lasting(case.as_it_is)]
    if case.as_it_is != Lasts(None, None):
        parts.append(f"with all shed that may be, {_lasting(case.shed)}")
    if case.shed != Lasts(None, None) and case.by_hand is not None:
        parts.append(f"and steered by hand or vane, {_lasting(case.by_hand)}")
    weather = "in poor weather (one forecast in ten is worse)"
    return f"Engine dead from {clock(case.start, offset)}, {weather}: {'; '.join(parts)}."


def _lasting(lasts: Lasts) -> str:
    if lasts.reserve_h is None and lasts.lights_out_h is None:
        return "the bank lasts to arrival"
    reserve = "reserve kept" if lasts.reserve_h is None else f"reserve in {duration(60 * lasts.reserve_h)}"
    if lasts.lights_out_h is None:
        return f"{reserve}, lit to arrival"
    return f"{reserve}, lights out {_after(lasts.lights_out_h)}"


def _after(hours: float) -> str:
    return f"in {duration(60 * hours)}" if hours else "at once"


def shedding_turns(plan: Plan) -> tuple[tuple[int, str], ...]:
    """Return what to shed in need, first to last: the boat file's order and the loads that share it."""
    orders = sorted({price.shed_order for price in plan.prices if price.shed_order is not None})
    return tuple(
        (order, ", ".join(price.name for price in plan.prices if price.shed_order == order)) for order in orders
    )


def never_shed(plan: Plan) -> str:
    """Return the loads that the boat file never sheds."""
    return ", ".join(price.name for price in plan.prices if price.shed_order is None)
