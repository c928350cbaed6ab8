"""What was understood of a passage, in words and as data that a form can be filled from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from planner.domain.inputs.given import Inputs
from planner.presentation.words.weather import row_words

NO_BREAK = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Understood:
    """A passage as it was read.

    Attributes
    ----------
    title : str
        From where to where.
    facts : tuple of (str, str)
        What it is about and what was read.
    passage, boat : dict
        The typed inputs, JSON-ready.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    passage: dict[str, Any]
    boat: dict[str, Any]


def understand(inputs: Inputs) -> Understood:
    """Return what was understood of consistent inputs."""
    return Understood(
        title=f"{inputs.route[0].name} to {inputs.route[-1].name}",
        facts=tuple(_facts(inputs)),
        passage=inputs.passage.model_dump(mode="json"),
        boat=inputs.boat.model_dump(mode="json"),
    )


def _facts(inputs: Inputs) -> list[tuple[str, str]]:
    passage, boat, forecast = inputs.passage, inputs.boat, inputs.forecast
    times = forecast["time"].to_numpy()
    first, last = (datetime.fromisoformat(str(time)[:16]).replace(tzinfo=UTC) for time in (times[0], times[-1]))
    rating_w = sum(panel.max_power_w for panel in boat.panel)
    members = int(forecast.sizes["member"])
    quiet = ", ".join(f"{start} to {end}" for start, end in passage.wishes.quiet_hours) or "none"
    return [
        ("Departure", f"{_words(passage.departure)}, ship's clock {passage.departure.isoformat()[-6:]} on UTC"),
        ("Route", " \N{RIGHTWARDS ARROW} ".join(point.name for point in inputs.route)),
        (
            "Forecast",
            f"{members} member{'s' if members > 1 else ''}, {_words(first)} to {_words(last)} UTC",
        ),
        *(("Typed by hand", f"from {_words(row.begins)}: {row_words(row)}") for row in passage.weather),
        ("Solar", f"{len(boat.panel)} panels, {rating_w:.0f} W, on {len(boat.controller)} controllers"),
        (
            "Bank",
            f"{boat.bank.capacity_ah * boat.bank.health:.0f} Ah {boat.bank.chemistry}, {boat.bank.nominal_v:g} V",
        ),
        (
            "Charge",
            f"{passage.start.state_of_charge:.0%} at departure, reserve {boat.bank.reserve_soc:.0%}, "
            f"{passage.wishes.arrival_soc:.0%} wanted on arrival",
        ),
        ("How sure", f"the reserve is to be kept in {passage.wishes.confidence:.0%} of forecasts"),
        ("Engine", f"{boat.engine.tank_l:g} L aboard; quiet hours {quiet}"),
        ("Loads", ", ".join(load.name for load in boat.load)),
        ("Watches", f"{len(passage.watches)} a day, stood by {', '.join(dict.fromkeys(passage.roles))}"),
    ]


def _words(moment: datetime) -> str:
    return f"{moment:%a} {moment.day} {moment:%b %Y %H:%M}"
