"""The morning's plan: from a fix, a time and what the bank shows, over the rest of the route."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from planner.app.inputs import read_inputs
from planner.app.stages import REPLANNING, OnStage, along, unreported
from planner.app.typed_values import GivenMoment, ShipMoment, moment_of, read_observed
from planner.app.verbs.plan import completed
from planner.app.verbs.reconcile import Clock, compared
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override, SeenSky
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.inputs.route import Waypoint
from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.plan import Plan
from planner.domain.results.replan import Change, FixMoment, LastPlan, ObservedBank, Replan
from planner.domain.ship_clock import ShipOffset, offset_at
from planner.flow.failures import failing
from planner.flow.plan import plan_from
from planner.flow.progress import Progress, silent
from planner.flow.recall import Recall
from planner.readers.last_plan import read_last_plan
from planner.readers.log.engine import read_engine_log
from planner.simulation.sky.forecast_calendar import cloud_is_typed, issue_of
from planner.studies.figures import difference_of, outcome_of
from planner.studies.reconcile.courses_found import delivered_w
from planner.studies.reconcile.sky_found import seen_sky
from planner.studies.replan.changes import BySky, changes_since, engine_by_plan, foreseen_soc, fuel_warnings
from planner.studies.replan.fix_checks import Known, day_faults, fix_faults
from planner.studies.replan.last_card import try_last_card
from planner.studies.replan.logged import Told, bank_by_log, log_faults
from planner.studies.replan.observed import observed_bank
from planner.studies.replan.rest_of_route import FIX, clock_to_fix, keepers_from, rest_of_passage, rest_of_route


def replan(
    inputs: Inputs,
    *,
    fix: str | tuple[float, float],
    time: str | GivenMoment,
    soc: str | float | None = None,
    volts: float | None = None,
    meter_error: float | None = None,
    following: str | None = None,
    last: str | Path | None = None,
    engine_log: str | Path | None = None,
    readings: str | Path | Sequence[str | Path] = (),
    mapping: LogMapping | Mapping[str, Any] | Path | None = None,
    clock: Clock | None = None,
    fix_is_right: bool = False,
    failed: Sequence[str] = (),
    on_stage: OnStage = unreported,
    recall: Recall | None = None,
) -> Replan:
    """Plan the rest of the route.

    Parameters
    ----------
    inputs : Inputs
        The passage as filed; it is read again for the time of the fix, with the forecast that it names now.
    fix : str or tuple of float
        Latitude and longitude [degree].
    time : str, datetime or ShipMoment
        Of the fix, with its offset or by the ship's clock there, such as 'day 3 09:00'; a ship's time without a day
        is the first such time after the last plan's start, or after departure without a last plan, where the fix
        fits no other day.
    soc : str or float, optional
        What the battery monitor shows [0..1]; or as '72%'.
    volts : float, optional
        Of the bank after hours of rest [V].
    meter_error : float, optional
        Standard deviation of the monitor [0..1]; the passage's wish when None.
    following : str, optional
        The next waypoint; found from the fix when None.
    last : str or Path, optional
        Folder of the last plan, which may itself be one from a fix.
    engine_log : str or Path, optional
        CSV of the engine's runs so far; without it the last plan's runs up to now stand in.
    readings : str, Path or sequence of them, optional
        Logs as ``reconcile`` takes them, up to the fix: they set bank, meter and sky where these are not given.
    mapping, clock
        How they are read, as for ``reconcile``.
    fix_is_right : bool
        Believe the fix whatever speed it needs.
    failed : sequence of str
        What has failed at the fix, as for ``plan``.
    on_stage : callable
        Told each stage as it begins, and how much is done.
    recall : Recall, optional
        Spares stages that have been run.

    Raises
    ------
    InputError
        When the input is wrong, the day of the fix is open, the fix cannot follow on the last one or on departure, or
        the readings do not reach it.
    """
    progress, recall = along(on_stage, REPLANNING), recall or Recall()
    (lat, lon), said, charge = read_observed(fix=fix, time=time, soc=soc)
    if meter_error is not None and not 0.0 <= meter_error <= 0.5:
        problem = f"{meter_error:g} is not 0 to 0.5."
        raise InputError([Fault("--meter-error", "", problem, "Write 0.03 for 3 %.")])
    here = Waypoint(name=FIX, lat=lat, lon=lon)
    route, index = rest_of_route(inputs.route, here, following)
    earlier = read_last_plan(Path(last)) if last is not None else None
    first = inputs.ship_offset
    about = _understood(said, inputs, earlier, first).time
    ships = clock_to_fix(inputs.passage, (*inputs.route[:index], here), about, first, earlier)
    moment = _understood(said, inputs, earlier, ships)
    now, offset = moment.time, offset_at(ships, moment.time)
    known = Known(inputs.passage, inputs.boat, inputs.route[0], inputs.forecast, earlier, ships)
    faults = (day_faults(now, here, known) if moment.without_day_after else []) or fix_faults(
        now, here, known, believed=fix_is_right
    )
    if faults:
        raise InputError(faults)
    told = None
    if readings:
        progress("reading the log")
        told = _told(inputs, readings, mapping, clock, now)
    usual = inputs.passage.wishes.meter_error if told is None else told.bank.error
    meter = usual if meter_error is None else meter_error
    if told is not None and charge is None and volts is None:
        bank = told.bank.observed(inputs.boat.bank, meter)
    else:
        bank = observed_bank(inputs.boat.bank, soc=charge, meter_error=meter, volts=volts)
    so_far = engine_by_plan(earlier, now) if earlier is not None else None
    if engine_log is not None:
        so_far = _logged(Path(engine_log), inputs, now)

    departure = now.astimezone(timezone(offset))
    filed = read_inputs(
        inputs.passage_file,
        (
            *inputs.overrides,
            Override("departure", departure),
            Override("first_departure", inputs.passage.days_from),
        ),
        recall=recall,
    )
    passage = rest_of_passage(filed.passage, filed.route, index)
    keepers = keepers_from(inputs.passage, now, ships)
    wishes = passage.wishes.model_copy(update={"meter_error": max(meter, (bank.high - bank.low) / 4.0)})

    def rest(charge: float, sky: SeenSky | None) -> Inputs:
        start = passage.start.model_copy(update={"state_of_charge": charge})
        from_fix = replace(
            filed,
            passage=passage.model_copy(update={"start": start, "wishes": wishes, "watchkeepers": keepers}),
            boat=_fuelled(filed.boat, so_far),
            route=route,
            ship_offset=offset,
            seen_sky=sky,
        )
        return failing(from_fix, failed, recall)

    from_here = rest(bank.state_of_charge, told.seen_sky if told is not None else None)
    plan = replace(plan_from(from_here, progress=progress, recall=recall), engine_so_far=so_far)
    changes: tuple[Change, ...] = ()
    last_card = None
    if earlier is not None:
        last_card = try_last_card(earlier, from_here, recall)
        changes = _changes(earlier, plan, bank, rest, progress=progress, recall=recall)
        plan = replace(plan, warnings=(*plan.warnings, *fuel_warnings(earlier, plan.boat.engine.tank_l)))
    plan = completed(plan, progress=progress, recall=recall)
    typed = {"--soc": charge, "--volts": volts, "--meter-error": meter_error}
    by_log = () if told is None else told.notes([key for key, value in typed.items() if value is not None])
    return Replan(
        fix=moment,
        plan=plan,
        bank=bank,
        engine_so_far=so_far,
        changes=changes,
        last_card=last_card,
        by_log=by_log,
    )


def _changes(
    last: LastPlan,
    plan: Plan,
    bank: ObservedBank,
    rest: Callable[[float, SeenSky | None], Inputs],
    *,
    progress: Progress,
    recall: Recall,
) -> tuple[Change, ...]:
    """Return what is not as foreseen, with what of it bank and sky make: the same plan without what they showed."""
    sky, by_bank_h, by_sky = plan.voyage.inputs.seen_sky, None, None
    now = plan.passage.departure
    if last.time[0] <= now <= last.arrival:
        outcome = outcome_of(plan)
        progress("planning with the bank that the last plan foresaw")
        foreseen = plan_from(rest(foreseen_soc(last, now), sky), progress=silent, recall=recall)
        by_bank_h = difference_of(outcome, outcome_of(foreseen), "charging_h")
        if sky is not None:
            progress("planning with the sky as forecast")
            as_forecast = plan_from(rest(bank.state_of_charge, None), progress=silent)
            by_sky = BySky.of(outcome, outcome_of(as_forecast))
    return changes_since(last, plan, by_bank_h, bank, by_sky)


def _told(
    inputs: Inputs,
    readings: str | Path | Sequence[str | Path],
    mapping: LogMapping | Mapping[str, Any] | Path | None,
    clock: Clock | None,
    now: datetime,
) -> Told:
    """Return what readings up to a fix tell of the bank and the sky there."""
    found = compared(inputs, readings, mapping=mapping, clock=clock, progress=silent, recall=Recall())
    faults = log_faults(found.readings["time"].values, now, ", ".join(found.logs), found.ship_offset)
    if faults:
        raise InputError(faults)
    passage = inputs.passage
    return Told(
        bank_by_log(
            found.steps,
            delivered_w(found.held, found.steps),
            found.track,
            found.demand,
            boat=inputs.boat,
            start=(passage.start.state_of_charge, passage.wishes.meter_error),
            now=now,
            ship_offset=found.ship_offset,
        ),
        seen_sky(found.held, found.states, found.harvest, issued=issue_of(inputs.forecast), until=now),
        typed_sky=cloud_is_typed(inputs.forecast, now),
    )


def _understood(time: GivenMoment, inputs: Inputs, last: LastPlan | None, ship_offset: ShipOffset) -> FixMoment:
    """Return when a fix is, by the ship's clock where it is said by that."""
    passage = inputs.passage
    after = last.time[0] if last is not None else passage.departure
    now = moment_of(time, departure=passage.days_from, ship_offset=ship_offset, earliest=after + timedelta.resolution)
    no_day = isinstance(time, ShipMoment) and time.day is None
    return FixMoment(
        time=now,
        day=1 + (now - passage.days_from) // timedelta(days=1),
        first_departure=passage.days_from,
        without_day_after="" if not no_day else "the last fix" if after > passage.departure else "departure",
        ship_offset=ship_offset,
    )


def _logged(path: Path, inputs: Inputs, until: datetime) -> EngineSoFar:
    """Return the engine's hours and fuel by its log; where fuel is not logged, at the charging rate."""
    hours = fuel = 0.0
    for start, stop, litres in read_engine_log(path):
        if start >= until:
            continue
        run = (min(stop, until) - start) / timedelta(hours=1)
        hours += run
        fuel += litres if litres is not None else run * inputs.boat.engine.charging_l_per_h
    return EngineSoFar(hours=hours, fuel_l=fuel, source="log")


def _fuelled(boat: Boat, so_far: EngineSoFar | None) -> Boat:
    """Return the boat with the fuel that is left."""
    if so_far is None:
        return boat
    left = boat.engine.tank_l - so_far.fuel_l
    if left <= 0.0:
        problem = f"{so_far.fuel_l:.0f} L burnt so far by {so_far.source}, of {boat.engine.tank_l:g} L."
        remedy = "Correct the log, or set boat.engine.tank_l to what was aboard at departure."
        raise InputError([Fault("replan", "boat.engine.tank_l", problem, remedy)])
    return boat.model_copy(update={"engine": boat.engine.model_copy(update={"tank_l": left})})
