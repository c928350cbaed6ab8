"""The plan with every member on its own track, in words and as a table beside the control's track."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from planner.domain.results.figures import Spread
from planner.domain.results.own_tracks import Arrivals, OwnTracks, Percentiles
from planner.domain.results.plan import Plan
from planner.presentation.words.content import Column, Table
from planner.presentation.words.reserve_kept import kept_count
from planner.presentation.words.wording import EN_DASH, MINUS, NO_BREAK, duration, moment_words

HOUR_MIN = 60
LATER = "later than the forecast serves"
OWN_HEADING = "On their own tracks"


def own_tracks_sentence(plan: Plan, own: OwnTracks) -> str:
    """Return what the own tracks change, in one sentence."""
    low, middle, high = (round(100 * value) for value in (own.min_soc.p10, own.min_soc.p50, own.min_soc.p90))
    words = (
        f"Each forecast on its own track: arrives {_arrival(plan, own.arrival)}; lowest bank {middle}{NO_BREAK}% "
        f"({low}{EN_DASH}{high})."
    )
    return f"{words} {_missing(own)}" if own.arrived < own.members else words


def own_tracks_table(plan: Plan, own: OwnTracks) -> Table:
    """Return arrival, bank, engine, fuel and the reserve on the control's track and on the members' own.

    Parameters
    ----------
    plan : Plan
        On the control's track.
    own : OwnTracks
        Beside it.
    """

    def row(name: str, control: Spread, each: Percentiles, words: Callable[[float], str]) -> tuple[str, str, str]:
        return name, _span(control, words), _span(each, words)

    by_control = plan.control_kept or plan.reserve_kept
    rows = (
        ("Arrival", moment_words(plan.arrival, plan.ship_offset), _arrival(plan, own.arrival)),
        row("Bank at lowest [%]", plan.min_soc, own.min_soc, _points),
        ("Change of that, each forecast by itself", "", _span(own.min_soc_change, _change)),
        row("Engine to charge", plan.charging_hours, own.charging_hours, _hours),
        row("Engine, whatever for", plan.engine_hours, own.engine_hours, _hours),
        row("Fuel [L]", plan.fuel_l, own.fuel_l, lambda litres: f"{litres:.0f}"),
        (
            "Reserve kept in trials on weather held out",
            kept_count(by_control),
            kept_count(own.reserve_kept),
        ),
    )
    note = (
        "The middle forecast, in brackets eight in ten (p10 to p90). The ladders are those of the bill, which count "
        "on no charge from driving the boat, and are followed by the clock; past the planned arrival the last day's "
        "watches are stood again. Wind, current, light, heel, loads and driving are those of each forecast where it "
        "has the boat. "
        "Loads that can wait run where the bill expects surplus."
    )
    return Table(
        "Each forecast on its own track",
        (Column("Of the passage", "left"), Column("On the control's track"), Column(OWN_HEADING)),
        rows,
        f"{note} {_missing(own)}" if own.arrived < own.members else note,
    )


def _missing(own: OwnTracks) -> str:
    return f"{own.members - own.arrived} of {own.members} do not arrive within what the forecast serves."


def _arrival(plan: Plan, arrival: Arrivals) -> str:
    def words(moment: datetime | None) -> str:
        return moment_words(moment, plan.ship_offset) if moment is not None else LATER

    return f"{words(arrival.p50)} ({words(arrival.p10)} to {words(arrival.p90)})"


def _span(figure: Spread | Percentiles, words: Callable[[float], str]) -> str:
    return f"{words(figure.p50)} ({words(figure.p10)} to {words(figure.p90)})"


def _points(fraction: float) -> str:
    return f"{round(100 * fraction)}"


def _change(fraction: float) -> str:
    points = round(100 * fraction)
    return "0" if points == 0 else f"{MINUS if points < 0 else '+'}{abs(points)}"


def _hours(hours: float) -> str:
    return duration(HOUR_MIN * hours)
