"""Validate the input of a passage without planning it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.app.stages import Tell
from planner.app.told import Told
from planner.app.understand import understand
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.hand_weather import end_of
from planner.presentation.words.weather import row_words
from planner.readers.config import parse_override


def describe_inputs(passage_file: Path, overrides: Sequence[str] = (), *, tell: Tell) -> Told:
    """Read and cross-check a passage and say what was understood: in a few lines, and key by key.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line.
    tell : callable
        Told each stage as it begins, and how much is done.

    Raises
    ------
    InputError
        When anything is wrong.
    """
    from planner.presentation.files.results_json import to_json

    tell("reading", 0.0)
    inputs = read_inputs(passage_file, [parse_override(text) for text in overrides])
    return Told("".join(f"{line}\n" for line in _lines(inputs)), to_json(understand(inputs)))


def _lines(inputs: Inputs) -> list[str]:
    passage, boat, forecast = inputs.passage, inputs.boat, inputs.forecast
    times, members = forecast["time"].to_numpy(), forecast.sizes["member"]
    rating_w = sum(panel.max_power_w for panel in boat.panel)
    typed = [f"By hand    from {row.begins.isoformat()}: {row_words(row)}" for row in passage.weather]
    notes = str(forecast.attrs.get("notes", "")).splitlines() if typed else []
    return [
        f"Departure  {passage.departure.isoformat()}",
        f"Route      {len(inputs.route)} waypoints, {inputs.route[0].name} to {inputs.route[-1].name}",
        f"Forecast   {members} member{'s' if members > 1 else ''}, {len(times)} times, "
        f"{str(times[0])[:16]}Z to {str(times[-1])[:16]}Z" + ("" if passage.forecast else ", all typed by hand"),
        *typed,
        *([f"           until {end_of(passage.weather).isoformat()}"] if typed else []),
        *(f"Note       {note}" for note in notes),
        f"Solar      {len(boat.panel)} panels, {rating_w:.0f} W, on {len(boat.controller)} controllers",
        f"Bank       {boat.bank.capacity_ah * boat.bank.health:.0f} Ah {boat.bank.chemistry}, "
        f"start {passage.start.state_of_charge:.0%}, reserve {boat.bank.reserve_soc:.0%}",
        f"Watches    {len(passage.watches)} a day, stood by {', '.join(passage.roles)}",
        "All input is consistent.",
    ]
