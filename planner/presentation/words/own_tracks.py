"""The plan with every member on its own track, in words and as a table beside the control's track."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from planner.domain.results.figures import Count, Spread
from planner.domain.results.own_tracks import Arrivals, OwnTracks, Percentiles
from planner.domain.results.plan import Plan
from planner.presentation.words.content import Column, Table
from planner.presentation.words.wording import EN_DASH, NO_BREAK, duration, moment_words, whole

HOUR_MIN = 60
LATER = "later than the forecast serves"
OWN_HEADING = "On their own tracks"


def own_tracks_sentence(plan: Plan, own: OwnTracks) -> str:
    """Return when the members arrive and with how much, in one sentence."""
    low, middle, high = (
        round(100 * value) for value in (own.arrival_soc.p10, own.arrival_soc.p50, own.arrival_soc.p90)
    )
    words = (
        f"Each forecast on its own track: arrives {_arrival(plan, own.arrival)} with {middle}{NO_BREAK}% "
        f"({low}{EN_DASH}{high}); starts the engine {_span(own.starts, whole)} times to charge."
    )
    return f"{words} {_missing(own)}" if own.arrived < own.members else words


def own_tracks_table(plan: Plan, own: OwnTracks) -> Table:
    """Return arrival, bank, engine and fuel on the track that is drawn and on the members' own.

    Parameters
    ----------
    plan : Plan
        Drawn for the control's track.
    own : OwnTracks
        Beside it.
    """

    def row(name: str, drawn: Spread, words: Callable[[float], str]) -> tuple[str, str, str]:
        return name, words(drawn.planned), _span(drawn, words)

    rows = (
        ("Arrival", moment_words(plan.arrival, plan.ship_offset), _arrival(plan, own.arrival)),
        row("Bank at lowest [%]", plan.min_soc, _points),
        ("Bank at arrival [%]", _points(plan.voyage.planned_soc[-1]), _span(own.arrival_soc, _points)),
        (f"Arrive with the {_points(plan.passage.wishes.arrival_soc)} % that is wanted", "", _of(own.as_wanted)),
        row("Engine to charge", plan.charging_hours, _hours),
        ("Starts to charge", str(sum(not window.propels for window in plan.windows)), _span(own.starts, whole)),
        row("Engine, whatever for", plan.engine_hours, _hours),
        row("Fuel [L]", plan.fuel_l, whole),
        ("Charge in quiet hours, the reserve being near", "", _of(own.quiet_broken)),
    )
    note = (
        "As drawn: in the forecasts' mean weather on the control's track, for which the bill is drawn. On their own "
        "tracks: the middle forecast, in brackets eight in ten (p10 to p90); wind, current, light, heel, loads and "
        "driving are those of each where it has the boat. Loads that can wait run where the bill expects surplus."
    )
    return Table(
        "Each forecast on its own track",
        (Column("Of the passage", "left"), Column("As drawn"), Column(OWN_HEADING)),
        rows,
        f"{note} {_missing(own)}" if own.arrived < own.members else note,
    )


def _of(count: Count) -> str:
    return f"{count.k} of {count.n}"


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


def _hours(hours: float) -> str:
    return duration(HOUR_MIN * hours)
