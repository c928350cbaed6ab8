"""A crew's readings held against the model: what became of panels, loads, bank, sky and clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from planner.app.stages import RECONCILING, OnStage, along, unreported
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.results.reconcile.findings import ClockFinding, Reconciliation
from planner.domain.ship_clock import ShipOffset
from planner.domain.utc import from_numpy
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.flow.stages import collected, demanded, extended, sailed, supplied
from planner.readers.log.mapping import read_mapping
from planner.readers.log.reader import read_logs
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ship_time import ship_offset_along
from planner.studies.reconcile.bank.found import judge_bank
from planner.studies.reconcile.clock_found import find_clock
from planner.studies.reconcile.courses_found import courses_of
from planner.studies.reconcile.loads_found import judge_loads
from planner.studies.reconcile.panels_found import Held, hold, judge_controllers
from planner.studies.reconcile.read_steps import on_steps, shifted
from planner.studies.reconcile.sky.sky_states import dark_ratios, sky_states
from planner.studies.reconcile.sky_found import find_sky

if TYPE_CHECKING:
    import xarray as xr

DAY: Final = timedelta(days=1)

Clock = Literal["utc", "ship"]
"""Whose time a log keeps that does not say."""


def reconcile(
    inputs: Inputs,
    logs: str | Path | Sequence[str | Path],
    *,
    mapping: LogMapping | Mapping[str, Any] | Path | None = None,
    clock: Clock | None = None,
    on_stage: OnStage = unreported,
    recall: Recall | None = None,
) -> Reconciliation:
    """Compare logs with the model on the same track, under the sky that all panels show and the log's own engine.

    Parameters
    ----------
    inputs : Inputs
        The passage with its best-known forecast, from ``read_passage``.
    logs : str, Path or sequence of them
        CSV.
    mapping : LogMapping, mapping or Path, optional
        What the logs do not say of themselves, or the TOML file of it.
    clock : {'utc', 'ship'}, optional
        Whose time they keep where they do not say; goes before the mapping.
    on_stage : callable
        Told each stage as it begins, and how much is done.
    recall : Recall, optional
        Handed on from log to log of one passage, it spares sailing it and casting its shadows again.

    Raises
    ------
    InputError
        When the input is wrong, or the logs hold nothing of this passage.
    """
    progress = along(on_stage, RECONCILING)
    found = compared(inputs, logs, mapping=mapping, clock=clock, progress=progress, recall=recall or Recall())
    boat, held, steps, track = inputs.boat, found.held, found.steps, found.track
    moments = found.readings["time"].values
    return Reconciliation(
        boat_file=inputs.passage.boat,
        logs=found.logs,
        first=from_numpy(moments[0]),
        last=from_numpy(moments[-1]),
        clock=found.clock,
        sky=find_sky(held, found.states, found.harvest),
        controllers=judge_controllers(held, boat=boat),
        loads=judge_loads(
            steps, track, found.demand, found.ship_offset, loads=boat.load, secondary_banks=boat.secondary_bank
        ),
        bank=judge_bank(steps, boat.bank),
        warnings=tuple(found.readings.attrs["repairs"]),
        ship_offset=found.ship_offset,
        courses=courses_of(held, steps, track, found.demand, boat=boat),
        mapping=str(found.readings.attrs["mapping"]),
    )


@dataclass(frozen=True, eq=False)
class Compared:
    """Logs laid beside the model.

    Attributes
    ----------
    logs : tuple of str
        Names of the files read.
    readings, steps : xarray.Dataset
        ``glossary.READINGS`` as read and on the track's steps, the clock put right.
    clock : ClockFinding
    track, harvest, demand : xarray.Dataset
        As the glossary has them, to the end of the last day that was read; the track with its other sources.
    states : xarray.Dataset
        Of ``sky_states``.
    held : Held
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, along the track.
    """

    logs: tuple[str, ...]
    readings: xr.Dataset
    steps: xr.Dataset
    clock: ClockFinding
    track: xr.Dataset
    harvest: xr.Dataset
    demand: xr.Dataset
    states: xr.Dataset
    held: Held
    ship_offset: ShipOffset


def compared(
    inputs: Inputs,
    logs: str | Path | Sequence[str | Path],
    *,
    mapping: LogMapping | Mapping[str, Any] | Path | None,
    clock: Clock | None,
    progress: Progress,
    recall: Recall,
) -> Compared:
    """Read logs and lay them beside the model; parameters and errors as for ``reconcile``."""
    paths = [Path(log) for log in ([logs] if isinstance(logs, str | Path) else logs)]
    known = _mapping_of(mapping, clock)
    passage, boat = inputs.passage, inputs.boat
    progress("sailing the track")
    forecast = extended(inputs, recall)
    whole = sailed(inputs, forecast, recall)
    ship_offset = ship_offset_along(passage, whole, inputs.ship_offset)

    progress("reading the log")
    readings = read_logs(
        paths,
        controllers=[controller.name for controller in boat.controller],
        ship_offset=ship_offset,
        mapping=known,
        nominal_v=boat.bank.nominal_v,
        span=_span_of(whole),
    )
    track = recall(_first_days, whole, _days_of(readings, whole))

    progress("casting shadows and collecting sunlight")
    harvest = collected(track, forecast, inputs, recall)
    demand = demanded(track, harvest, ship_offset, inputs, recall)
    absorption_v = bank_params(boat.bank).absorption_v
    states = recall(sky_states, track, harvest, boat=boat, bus_v=absorption_v, model=passage.model)
    darks = recall(dark_ratios, track, harvest, boat=boat, bus_v=absorption_v, model=passage.model)

    progress("comparing the readings with the model")
    shift = find_clock(readings, states, track, bank=boat.bank)
    true = shifted(readings, shift.fast_min.value) if shift.corrected else readings
    steps = on_steps(true, track)
    return Compared(
        logs=tuple(path.name for path in paths),
        readings=true,
        steps=steps,
        clock=shift,
        track=supplied(track, ship_offset, inputs, recall),
        harvest=harvest,
        demand=demand,
        states=states,
        held=hold(steps, track, states, harvest, darks, boat=boat),
        ship_offset=ship_offset,
    )


def _mapping_of(mapping: LogMapping | Mapping[str, Any] | Path | None, clock: Clock | None) -> LogMapping:
    """Return how logs are asked to be read."""
    if isinstance(mapping, Path):
        mapping = read_mapping(mapping)
    known = mapping if isinstance(mapping, LogMapping) else LogMapping.model_validate(mapping or {})
    return known if clock is None else known.model_copy(update={"time_zone": clock})


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
