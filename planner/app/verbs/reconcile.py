"""A crew's readings held against the model: what became of panels, loads, bank, sky and clock."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from planner.app.inputs import read_inputs
from planner.app.stages import RECONCILING, Tell, along
from planner.app.told import Told
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.results.reconcile.findings import Reconciliation
from planner.domain.utc import from_numpy
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.stages import collected, demanded, laid_out, sailed, supplied
from planner.readers.config import parse_override

if TYPE_CHECKING:
    import xarray as xr

PAGE, FIGURES, MAPPING = "reconcile.html", "reconcile.json", "log-mapping.toml"
DAY: Final = timedelta(days=1)

Clock = Literal["utc", "ship"]
"""Whose time a log keeps that does not say."""


@dataclass(frozen=True)
class WrittenReconciliation:
    """A reconciliation and what was written of it.

    Attributes
    ----------
    told : Told
    files : tuple of Path
    """

    told: Told
    files: tuple[Path, ...]


def reconcile_from(
    inputs: Inputs,
    logs: Sequence[Path],
    *,
    mapping: LogMapping | None = None,
    progress: Progress,
    recall: Recall | None = None,
) -> Reconciliation:
    """Hold logs against the model on the same track, under the sky that all panels tell of and the log's own engine.

    Parameters
    ----------
    inputs : Inputs
        The passage with its best-known forecast.
    logs : sequence of Path
        CSV.
    mapping : LogMapping, optional
        What the logs do not say of themselves.
    progress : callable
        Told each stage as it begins.
    recall : Recall, optional
        Handed on from log to log of one passage, it spares sailing it and casting its shadows again.

    Raises
    ------
    InputError
        When the input is wrong, or the logs hold nothing of this passage.
    """
    return _reconciled(inputs, logs, mapping, progress, recall or Recall())[0]


def reconcile_files(
    passage_file: Path,
    logs: Sequence[Path],
    overrides: Sequence[str] = (),
    *,
    mapping_file: Path | None = None,
    clock: Clock | None = None,
    folder: Path | None = None,
    calibrates: bool = False,
    tell: Tell,
) -> WrittenReconciliation:
    """Reconcile as the command line asks.

    Parameters
    ----------
    passage_file : Path
    logs : sequence of Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line.
    mapping_file : Path, optional
        TOML that says how the logs are to be read.
    clock : {'utc', 'ship'}, optional
        Whose time they keep; goes before the mapping.
    folder : Path, optional
        For page, figures and mapping.
    calibrates : bool
        Whether a boat file by what the readings showed is written beside the passage's own.
    tell : callable
        Told each stage as it begins, and how much is done.

    Raises
    ------
    InputError
        When the input is wrong, or a folder cannot be written to; nothing is written then.
    OutputError
        When the outputs cannot be written.
    """
    from planner.presentation.files.file_set import claimed
    from planner.presentation.files.json_text import as_json
    from planner.presentation.files.results_json import findings
    from planner.presentation.pages.reconcile import html_of
    from planner.presentation.words.reconcile.tables import tables_of

    progress = along(tell, RECONCILING)
    progress("reading")
    with claimed(folder) if folder is not None else nullcontext() as place:
        inputs = read_inputs(passage_file, [parse_override(text) for text in overrides])
        mapping = asked_mapping(mapping_file, clock)
        found, readings = _reconciled(inputs, logs, mapping, progress, Recall())
        files: list[Path] = []
        text = tables_of(found)
        content = findings(found)
        if place is not None:
            progress("writing")
            texts = {PAGE: html_of(found), MAPPING: str(readings.attrs["mapping"])}
            writers = {name: partial(Path.write_text, data=words, encoding="utf-8") for name, words in texts.items()}
            files += place.write_set(FIGURES, writers, content)
    if calibrates:
        new, changes = _calibrate(found, inputs)
        files += new
        text += "\n" + changes
    return WrittenReconciliation(Told(text, as_json(content)), tuple(files))


def asked_mapping(mapping_file: Path | None, clock: Clock | None) -> LogMapping:
    """Return how logs are asked to be read.

    Parameters
    ----------
    mapping_file : Path or None
        TOML.
    clock : {'utc', 'ship'} or None
        Whose time they keep; goes before the mapping.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    from planner.readers.log.mapping import read_mapping

    mapping = read_mapping(mapping_file) if mapping_file is not None else LogMapping()
    return mapping if clock is None else mapping.model_copy(update={"time_zone": clock})


def _reconciled(
    inputs: Inputs, logs: Sequence[Path], mapping: LogMapping | None, progress: Progress, recall: Recall
) -> tuple[Reconciliation, xr.Dataset]:
    """Return the reconciliation, and the readings as read."""
    from planner.readers.log.reader import read_logs
    from planner.simulation.ledger.simulate import bank_params
    from planner.simulation.ship_time import ship_offset_along
    from planner.studies.reconcile.bank.found import judge_bank
    from planner.studies.reconcile.clock_found import find_clock
    from planner.studies.reconcile.courses_found import courses_of
    from planner.studies.reconcile.loads.found import judge_loads
    from planner.studies.reconcile.panels.found import hold, judge_controllers
    from planner.studies.reconcile.read_steps import on_steps, shifted
    from planner.studies.reconcile.sky_found import find_sky
    from planner.studies.reconcile.sky_states import sky_states, substring_ratios

    passage, boat = inputs.passage, inputs.boat
    progress("sailing the track")
    forecast = laid_out(inputs, recall)
    whole = sailed(inputs, forecast, recall)
    ship_offset = ship_offset_along(passage, whole, inputs.ship_offset)

    progress("reading the log")
    readings = read_logs(
        logs,
        controllers=[controller.name for controller in boat.controller],
        ship_offset=ship_offset,
        mapping=mapping,
        nominal_v=boat.bank.nominal_v,
        span=_span_of(whole),
    )
    track = recall(_first_days, whole, _days_of(readings, whole))

    progress("casting shadows and collecting sunlight")
    harvest = collected(track, forecast, inputs, recall)
    demand = demanded(track, harvest, ship_offset, inputs, recall)
    absorption_v = bank_params(boat.bank).absorption_v
    states = recall(sky_states, track, harvest, boat=boat, bus_v=absorption_v, model=passage.model)
    ratios = recall(substring_ratios, track, harvest, boat=boat, bus_v=absorption_v, model=passage.model)

    progress("holding the readings against the model")
    clock = find_clock(readings, states, track, bank=boat.bank, absorption_v=absorption_v)
    true = shifted(readings, clock.fast_min.value) if clock.corrected else readings
    steps = on_steps(true, track)
    held = hold(steps, track, states, harvest, boat=boat)
    supplied_track = supplied(track, ship_offset, inputs, recall)
    moments = true["time"].values
    found = Reconciliation(
        boat_file=passage.boat,
        logs=tuple(path.name for path in logs),
        first=from_numpy(moments[0]),
        last=from_numpy(moments[-1]),
        clock=clock,
        sky=find_sky(held, states, harvest),
        controllers=judge_controllers(held, ratios, boat=boat),
        loads=judge_loads(
            steps, supplied_track, demand, ship_offset, loads=boat.load, secondary_banks=boat.secondary_bank
        ),
        bank=judge_bank(steps, boat.bank),
        warnings=tuple(readings.attrs["repairs"]),
        ship_offset=ship_offset,
        courses=courses_of(held, steps, supplied_track, states, demand, boat=boat),
    )
    return found, readings


def _span_of(track: xr.Dataset) -> tuple[datetime, datetime]:
    """Return departure and arrival, UTC."""
    times = track["time"].values
    return from_numpy(times[0]), from_numpy(times[-1]) + timedelta(seconds=float(track.attrs["step_s"]))


def _days_of(readings: xr.Dataset, track: xr.Dataset) -> int:
    """Return the passage day of the last reading, from 1."""
    last = from_numpy(readings["time"].values[-1]) - from_numpy(track["time"].values[0])
    return max(last // DAY + 1, 1)


def _first_days(track: xr.Dataset, days: int) -> xr.Dataset:
    """Return a track's first so many days: the rest is not needed."""
    count = round(days * DAY.total_seconds() / float(track.attrs["step_s"]))
    return track.isel(time=slice(0, count))


def _calibrate(found: Reconciliation, inputs: Inputs) -> tuple[tuple[Path, ...], str]:
    """Write the calibrated boat file, and return it and its changes in words."""
    from planner.app.verbs.calibrate import write_calibrated_boat
    from planner.presentation.files.boat_toml import changes_table
    from planner.presentation.words.content import Page
    from planner.presentation.words.text import as_text

    boat_file = inputs.passage_file.parent / inputs.passage.boat
    calibration = write_calibrated_boat(found, inputs.boat, boat_file, inputs.passage.boat)
    if calibration is None:
        return (), "The readings call for no change of the boat file.\n"
    page = Page(f"A boat file by the readings: {calibration.new.name}", (), (), (changes_table(calibration),))
    return (calibration.new,), as_text(page)
