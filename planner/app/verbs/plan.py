"""The main job: route, departure, forecast and boat in; a plan out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from planner.app.inputs import Inputs, read_inputs
from planner.app.stages import PLANNING, Progress, Tell, along
from planner.app.told import Told
from planner.domain.arrays import Floats
from planner.domain.inputs.passage import Passage
from planner.domain.results.plan import Plan, Stress
from planner.domain.ship_clock import ShipOffset
from planner.flow.recall import Recall
from planner.readers.config import parse_override

if TYPE_CHECKING:
    import xarray as xr

    from planner.domain.ship_clock import ShipOffset


TABLE_COLUMNS = 100  # columns that the schedule is laid out for

FAN_STEP_DEG = 15.0  # degree, between the headings that the report shows

# parts of a passage that do not move the boat; of the model only the step does
NOT_SAILED = {
    "first_departure",
    "boat",
    "route",
    "forecast",
    "weather",
    "start",
    "watches",
    "watchkeepers",
    "wishes",
    "ship_time",
    "model",
}


@dataclass(frozen=True)
class WrittenPlan:
    """A plan written to a folder.

    Attributes
    ----------
    told : Told
        The charge schedule by watch for the terminal, and what plan.json holds.
    report : Path
        The page to open.
    files : tuple of Path
        All that was written.
    """

    told: Told
    report: Path
    files: tuple[Path, ...]


def write_plan(
    passage_file: Path,
    overrides: Sequence[str] = (),
    *,
    folder: Path,
    tell: Tell,
    columns: int = TABLE_COLUMNS,
) -> WrittenPlan:
    """Plan a passage and write the whole set of outputs.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line.
    folder : Path
        For the outputs; made when it does not exist.
    tell : callable
        Told each stage as it begins, and how much is done.
    columns : int
        Of the terminal that the table is for.

    Returns
    -------
    WrittenPlan

    Raises
    ------
    InputError
        When the input is wrong, or the folder cannot be written to; nothing is written then.
    OutputError
        When the outputs cannot be written.
    """
    from planner.presentation.files.file_set import claimed
    from planner.presentation.outputs import REPORT, write_plan_set
    from planner.presentation.words.terminal import render

    progress = along(tell, PLANNING)
    with claimed(folder) as place:
        plan = make_plan(passage_file, overrides, progress=progress)
        progress("writing")
        files = write_plan_set(plan, place)
        summary = files[-1].read_text(encoding="utf-8")
    report = folder / REPORT
    told = Told(text=f"{render(plan, width=columns)}\nReport: {report}\n", json=summary)
    return WrittenPlan(told=told, report=report, files=files)


def make_plan(passage_file: Path, overrides: Sequence[str] = (), *, progress: Progress) -> Plan:
    """Read a passage and plan it.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line.
    progress : callable
        Told each stage as it begins.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        When the input is wrong.
    """
    progress("reading")
    inputs = read_inputs(passage_file, [parse_override(text) for text in overrides])
    recall = Recall()
    return put_to_trial(plan_from(inputs, progress=progress, recall=recall), inputs, progress=progress, recall=recall)


def put_to_trial(plan: Plan, inputs: Inputs, *, progress: Progress, recall: Recall) -> Plan:
    """Return a plan with what its report says beyond it: the plan in trouble, and other headings in one watch.

    Parameters
    ----------
    plan : Plan
        As ``plan_from`` gives it.
    inputs : Inputs
        What it was made from.
    progress : callable
        Told each stage as it begins.
    recall : Recall
        Spares what the plan was made of.
    """
    from planner.app.own_tracks import with_own_tracks
    from planner.studies.headings.fan import headings_fan, sunniest_watch

    progress("trying it in trouble")
    plan = with_own_tracks(
        replace(plan, stresses=_stresses(plan, inputs, recall)), inputs, progress=progress, recall=recall
    )
    hours = sunniest_watch(plan)
    if hours is None:
        return plan
    progress("holding other headings")
    return replace(plan, fan=headings_fan(plan, first=hours[0], end=hours[1], step_deg=FAN_STEP_DEG))


def _stresses(plan: Plan, inputs: Inputs, recall: Recall) -> tuple[Stress, ...]:
    """Try a plan in trouble; the recall spares what the plan was made of."""
    from planner.decision.bill.stress import stresses
    from planner.simulation.track.other_tack import on_the_other_tack

    forecast = laid_out(inputs, recall)
    return stresses(plan, collected(on_the_other_tack(plan.track), forecast, inputs, recall))


def laid_out(inputs: Inputs, recall: Recall) -> xr.Dataset:
    """Return the forecast with what lies beyond it and with its doubt."""
    from planner.simulation.sky.forecast_calendar import extend

    model = inputs.passage.model
    return recall(
        extend, inputs.forecast, inputs.passage.departure, seed=model.seed, lone_outcomes=model.lone_outcomes
    )


def sailed(inputs: Inputs, forecast: xr.Dataset, recall: Recall) -> xr.Dataset:
    """Return the track of a passage under a forecast that is laid out."""
    from planner.simulation.sky.forecast_calendar import wind_of
    from planner.simulation.track.sail import sail

    passage, boat = inputs.passage, inputs.boat
    wind = recall(wind_of, forecast)
    orders = (sailing_orders(passage), boat.sailing_now, inputs.route, wind)
    return recall.of(orders, sail, passage, boat, inputs.route, wind)


def flow_along(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    *,
    ship_offset: ShipOffset,
    recall: Recall,
    outcomes: Sequence[int] | None = None,
    surplus_w: Floats | None = None,
) -> tuple[xr.Dataset, xr.Dataset, xr.Dataset]:
    """Return what comes in and goes out along a track: the track with its other sources, harvest and demand.

    Parameters
    ----------
    track, forecast : xarray.Dataset
        Sailed; laid out.
    inputs : Inputs
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    recall : Recall
    outcomes, surplus_w
        As ``collect`` and ``demand`` have them: all members, and their own surplus, when None.
    """
    harvest = collected(track, forecast, inputs, recall, outcomes)
    demand = demanded(track, harvest, ship_offset, inputs, recall, surplus_w=surplus_w)
    return supplied(track, ship_offset, inputs, recall), harvest, demand


def collected(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    recall: Recall,
    outcomes: Sequence[int] | None = None,
) -> xr.Dataset:
    """Return what the boat's controllers could deliver along a track."""
    from planner.simulation.harvest.collect import collect
    from planner.simulation.ledger.simulate import bank_params

    boat, model = inputs.boat, inputs.passage.model
    return recall(
        collect,
        track,
        forecast,
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=bank_params(boat.bank).absorption_v,
        points=model.points,
        roll_nodes=model.roll_nodes,
        outcomes=outcomes,
    )


def demanded(
    track: xr.Dataset,
    harvest: xr.Dataset,
    ship_offset: ShipOffset,
    inputs: Inputs,
    recall: Recall,
    *,
    surplus_w: Floats | None = None,
) -> xr.Dataset:
    """Return what the loads ask for along a track, placed by its own surplus where none is given."""
    from planner.simulation.ledger.demand import demand

    passage, boat = inputs.passage, inputs.boat
    return recall(
        demand,
        track,
        harvest,
        loads=boat.load,
        autopilot=boat.autopilot,
        controllers=boat.controller,
        nominal_v=boat.bank.nominal_v,
        watches=passage.watches,
        watchkeepers=passage.watchkeepers,
        ship_offset=ship_offset,
        inverter=boat.inverter,
        secondary_banks=boat.secondary_bank,
        surplus_w=surplus_w,
    )


def supplied(track: xr.Dataset, ship_offset: ShipOffset, inputs: Inputs, recall: Recall) -> xr.Dataset:
    """Return a track with what generators and chargers offer along it."""
    from planner.simulation.ledger.sources import with_other_sources

    boat = inputs.boat
    return recall(
        with_other_sources, track, generators=boat.generator, chargers=boat.charger, ship_offset=ship_offset
    )


def plan_from(inputs: Inputs, *, progress: Progress, recall: Recall | None = None) -> Plan:
    """Sail, collect, decide, simulate: the one flow, all members along the control's track.

    Parameters
    ----------
    inputs : Inputs
    progress : callable
        Told each stage as it begins.
    recall : Recall, optional
        Handed on from plan to plan, it spares the stages whose reading has not changed.

    Returns
    -------
    Plan
    """
    from planner.decision.bill.assemble import assemble
    from planner.decision.policy.calibrate import reserve_kept
    from planner.decision.policy.decide import Scorer, decide, tried
    from planner.simulation.harvest.array import array_warnings
    from planner.simulation.ledger.simulate import members_mean, simulate
    from planner.simulation.ship_time import clock_warnings, ship_offset_along
    from planner.simulation.sky.forecast_calendar import has_one_wind
    from planner.simulation.sky.warnings import sky_warnings
    from planner.simulation.track.sail import track_warnings
    from planner.simulation.track.under_sail import under_sail

    recall = recall or Recall()
    passage, boat = inputs.passage, inputs.boat
    start_soc = passage.start.state_of_charge

    progress("sailing the track")
    forecast = laid_out(inputs, recall)
    track = sailed(inputs, forecast, recall)
    ship_offset = ship_offset_along(passage, track, inputs.ship_offset)

    progress("casting shadows and collecting sunlight")
    track, harvest, demand = flow_along(track, forecast, inputs, ship_offset=ship_offset, recall=recall)

    progress("deciding when the engine runs")
    # which calms the engine drives through is the wind's doubt: a plan for every member's own wind counts on none
    counted_on = recall(under_sail, track) if passage.model.tracks == "own" else track
    decision = recall(
        decide,
        harvest,
        demand,
        counted_on,
        bank=boat.bank,
        engine=boat.engine,
        watches=passage.watches,
        wishes=passage.wishes,
        start_soc=start_soc,
        ship_offset=ship_offset,
        seed=passage.model.seed,
    )

    progress("running the ledger")
    kept, _ = tried(Scorer(harvest, demand, track, boat.bank, boat.engine, start_soc), decision.trials)
    under_policy = partial(
        simulate,
        track=track,
        bank=boat.bank,
        engine=boat.engine,
        policy=decision.policy,
        start_soc=start_soc,
    )
    return assemble(
        passage=passage,
        boat=boat,
        route=inputs.route,
        input_files=inputs.files,
        ship_offset=ship_offset,
        track=track,
        harvest=harvest,
        demand=demand,
        ledger=under_policy(harvest, demand),
        planned=under_policy(*members_mean(harvest, demand)),
        policy=decision.policy,
        watch_index=decision.watch_index,
        reserve_kept=reserve_kept(
            int(kept.sum()),
            kept.size,
            confidence=passage.wishes.confidence,
            wind="forecast" if has_one_wind(forecast) else "control",
        ),
        trials=decision.trials,
        warnings=(
            *array_warnings(boat.panel, boat.controller),
            *track_warnings(track),
            *clock_warnings(ship_offset),
            *sky_warnings(harvest, forecast),
        ),
    )


def sailing_orders(passage: Passage) -> tuple[object, ...]:
    """Return the parts of a passage that may decide where the boat is when: all but those that never do."""
    parts = tuple((name, getattr(passage, name)) for name in type(passage).model_fields if name not in NOT_SAILED)
    return parts, passage.model.step_min
