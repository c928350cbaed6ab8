"""What was understood of a passage, in words and as data that a form can be filled from."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Final

from planner.domain.inputs.given import Inputs
from planner.domain.inputs.hand_weather import end_of
from planner.domain.results.checked import Checked
from planner.presentation.words.content import Column, Page, Table
from planner.presentation.words.notes import all_said, said
from planner.presentation.words.weather import date_and_time, row_words

SOUND_BUT_ODD: Final = (
    "All input is consistent and will be planned; but look at these first, the oddest before the rest:"
)
ACKNOWLEDGE: Final = 'What is so all the same is written into the passage file: acknowledged = ["key", ...].'


def checked_for_programs(checked: Checked) -> dict[str, Any]:
    """Return what was understood, and the warnings with their keys, JSON-ready."""
    warnings = [{"key": note.figures["key"], "says": said(note)} for note in checked.warnings]
    return {**understood(checked.inputs), "warnings": warnings}


def understood(inputs: Inputs) -> dict[str, Any]:
    """Return what was understood of consistent inputs, JSON-ready.

    ``title`` is from where to where; ``facts`` are pairs of words; ``passage`` and ``boat`` the typed inputs.
    """
    return {
        "title": title(inputs),
        "facts": facts(inputs),
        "passage": inputs.passage.model_dump(mode="json"),
        "boat": inputs.boat.model_dump(mode="json"),
    }


def checked_page(checked: Checked) -> Page:
    """Return the facts as a page, with what a forecast beside typed weather was repaired by, and what is odd."""
    inputs, odd = checked.inputs, all_said(checked.warnings)
    notes = str(inputs.forecast.attrs.get("notes", "")).splitlines() if inputs.passage.weather else []
    rows = (*facts(inputs), *(("Note", note) for note in notes))
    columns = (Column("Of", "left"), Column("What was understood", "left"))
    answer = ("All input is consistent." if not odd else SOUND_BUT_ODD, *odd, *([ACKNOWLEDGE] if odd else []))
    return Page(title(inputs), answer, (), (Table("As it was read", columns, rows),))


def title(inputs: Inputs) -> str:
    """Return from where to where."""
    return f"{inputs.route[0].name} to {inputs.route[-1].name}"


def facts(inputs: Inputs) -> list[tuple[str, str]]:
    """Return what the passage is about and what was read."""
    passage, boat, forecast = inputs.passage, inputs.boat, inputs.forecast
    times = forecast["time"].to_numpy()
    first, last = (datetime.fromisoformat(str(time)[:16]).replace(tzinfo=UTC) for time in (times[0], times[-1]))
    rating_w = sum(panel.max_power_w for panel in boat.panel)
    members = int(forecast.sizes["member"])
    quiet = ", ".join(f"{start} to {end}" for start, end in passage.wishes.quiet_hours) or "none"
    rows = passage.weather
    return [
        (
            "Departure",
            f"{date_and_time(passage.departure)}, ship's clock {passage.departure.isoformat()[-6:]} on UTC",
        ),
        ("Route", " \N{RIGHTWARDS ARROW} ".join(point.name for point in inputs.route)),
        (
            "Forecast",
            f"{members} member{'s' if members > 1 else ''}, {date_and_time(first)} to {date_and_time(last)} UTC"
            + ("" if passage.forecast else ", all typed by hand"),
        ),
        *(("Typed by hand", f"from {date_and_time(row.begins)}: {row_words(row)}") for row in rows),
        *([("", f"until {date_and_time(end_of(rows))}")] if rows else []),
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
