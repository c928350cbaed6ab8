"""The morning's plan: from a fix, a time and what the bank shows, over the rest of the route."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.app.moments import Said, ShipMoment, moment_of, read_moment
from planner.app.stages import REPLANNING, Tell, along
from planner.app.told import Told
from planner.app.verbs.plan import completed
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.route import Waypoint
from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.replan import Change, FixMoment, LastPlan, Replan
from planner.domain.ship_clock import ShipOffset, offset_at
from planner.flow.plan import plan_from
from planner.flow.progress import Progress
from planner.flow.recall import Recall
from planner.readers.config import parse_override
from planner.readers.last_plan import read_last_plan
from planner.readers.log.engine import read_engine_log
from planner.readers.positions import read_angle

HOW_FIX = 'Write latitude and longitude in one, such as "-30.52 177.25" or "30-31.2S 177-15.0E".'


def replan_from(
    inputs: Inputs,
    *,
    fix: tuple[float, float],
    time: Said,
    soc: float | None = None,
    volts: float | None = None,
    meter_error: float | None = None,
    following: str | None = None,
    last: Path | None = None,
    engine_log: Path | None = None,
    progress: Progress,
    recall: Recall | None = None,
) -> Replan:
    """Plan the rest of the route.

    Parameters
    ----------
    inputs : Inputs
        The passage as filed; it is read again for the time of the fix, with the forecast that it names now.
    fix : tuple of float
        Latitude and longitude [degree].
    time : datetime or ShipMoment
        Of the fix, with its offset or by the ship's clock there; a ship's time without a day is the first such time
        after the last plan's start, or after departure without a last plan.
    soc : float, optional
        What the battery monitor shows [0..1].
    volts : float, optional
        Of the bank after hours of rest [V].
    meter_error : float, optional
        Standard deviation of the monitor [0..1]; the passage's wish when None.
    following : str, optional
        The next waypoint; found from the fix when None.
    last : Path, optional
        Folder of the last plan, which may itself be one from a fix.
    engine_log : Path, optional
        CSV of the engine's runs so far; without it the last plan's runs up to now stand in.
    progress : callable
        Told each stage as it begins.
    recall : Recall, optional
        Spares stages that have been run.

    Raises
    ------
    InputError
        When the input is wrong, or the fix cannot follow on the last one or on departure.
    """
    from planner.studies.replan.changes import changes_since, engine_by_plan, foreseen_soc, fuel_warnings
    from planner.studies.replan.fix_checks import fix_faults
    from planner.studies.replan.observed import observed_bank
    from planner.studies.replan.rest_of_route import FIX, clock_to_fix, keepers_from, rest_of_passage, rest_of_route

    recall = recall or Recall()
    faults = _faults(soc, meter_error, time)
    if faults:
        raise InputError(faults)
    here = Waypoint(name=FIX, lat=fix[0], lon=fix[1])
    route, index = rest_of_route(inputs.route, here, following)
    meter = meter_error if meter_error is not None else inputs.passage.wishes.meter_error
    bank = observed_bank(inputs.boat.bank, soc=soc, meter_error=meter, volts=volts)
    earlier = read_last_plan(last) if last is not None else None
    first = inputs.ship_offset
    about = _understood(time, inputs, earlier, first).time
    clock = clock_to_fix(inputs.passage, (*inputs.route[:index], here), about, first, earlier)
    moment = _understood(time, inputs, earlier, clock)
    now, offset = moment.time, offset_at(clock, moment.time)
    faults = fix_faults(
        now,
        here,
        passage=inputs.passage,
        boat=inputs.boat,
        begin=inputs.route[0],
        forecast=inputs.forecast,
        last=earlier,
        ship_offset=clock,
    )
    if faults:
        raise InputError(faults)
    so_far = engine_by_plan(earlier, now) if earlier is not None else None
    if engine_log is not None:
        so_far = _logged(engine_log, inputs, now)

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
    keepers = keepers_from(inputs.passage, now, clock)
    wishes = passage.wishes.model_copy(update={"meter_error": max(meter, (bank.high - bank.low) / 4.0)})

    def rest(charge: float) -> Inputs:
        start = passage.start.model_copy(update={"state_of_charge": charge})
        return replace(
            filed,
            passage=passage.model_copy(update={"start": start, "wishes": wishes, "watchkeepers": keepers}),
            boat=_fuelled(filed.boat, so_far),
            route=route,
            ship_offset=offset,
        )

    from_here = rest(bank.state_of_charge)
    plan = replace(plan_from(from_here, progress=progress, recall=recall), engine_so_far=so_far)
    changes: tuple[Change, ...] = ()
    if earlier is not None:
        foreseen = None
        if earlier.time[0] <= now <= earlier.arrival:
            progress("planning with the bank that the last plan foresaw")
            charge = foreseen_soc(earlier, now)
            foreseen = plan_from(rest(charge), progress=lambda _: None, recall=recall)
        changes = changes_since(earlier, plan, foreseen, bank)
        plan = replace(plan, warnings=(*plan.warnings, *fuel_warnings(earlier, plan.boat.engine.tank_l)))
    plan = completed(plan, progress=progress, recall=recall)
    return Replan(fix=moment, plan=plan, bank=bank, engine_so_far=so_far, changes=changes)


def replan_files(
    passage_file: Path,
    overrides: Sequence[str] = (),
    *,
    fix: str,
    time: str,
    soc: str | None,
    volts: float | None,
    meter_error: float | None,
    following: str | None,
    last: Path | None,
    engine_log: Path | None,
    folder: Path | None,
    tell: Tell,
) -> Told:
    """Plan the rest as the command line asks, and write the set of outputs where a folder is given.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line, such as a fresh ``forecast``.
    fix, time, soc : str
        As typed.
    volts, meter_error, following, last, engine_log
        As for ``replan_from``.
    folder : Path or None
        For the outputs; as ``plan`` writes them.
    tell : callable
        Told each stage as it begins, and how much is done.

    Raises
    ------
    InputError
        When the input is wrong, or the folder cannot be written to; nothing is written then.
    OutputError
        When the outputs cannot be written.
    """
    from planner.presentation.files.file_set import claimed
    from planner.presentation.files.results_json import to_json
    from planner.presentation.outputs import REPORT, write_plan_set
    from planner.presentation.pages.replan import tables_of

    progress = along(tell, REPLANNING)
    progress("reading")
    faults: list[Fault] = []
    charge = read_soc(soc, faults) if soc is not None else None
    position = read_fix(fix, faults)
    if faults:
        raise InputError(faults)
    with claimed(folder) if folder is not None else nullcontext() as place:
        inputs = read_inputs(passage_file, [parse_override(text) for text in overrides])
        result = replan_from(
            inputs,
            fix=position,
            time=read_moment(time, option="--time"),
            soc=charge,
            volts=volts,
            meter_error=meter_error,
            following=following,
            last=last,
            engine_log=engine_log,
            progress=progress,
        )
        words = tables_of(result)
        if place is not None:
            progress("writing")
            write_plan_set(result.plan, place)
            words += f"Report: {place.path / REPORT}\n"
    return Told(words, to_json(result))


def _faults(soc: float | None, meter_error: float | None, time: Said) -> list[Fault]:
    faults = []
    if soc is not None and not 0.0 <= soc <= 1.0:
        faults.append(Fault("--soc", "", f"{soc:g} is not 0 to 1.", "Write 0.72 or 72%."))
    if meter_error is not None and not 0.0 <= meter_error <= 0.5:
        faults.append(Fault("--meter-error", "", f"{meter_error:g} is not 0 to 0.5.", "Write 0.03 for 3 %."))
    if isinstance(time, datetime) and time.tzinfo is None:
        faults.append(Fault("--time", "", f"the time '{time.isoformat()}' says no offset from UTC.", "Add it."))
    return faults


def read_soc(text: str, faults: list[Fault]) -> float:
    """Return a charge written as a fraction or in percent [0..1]."""
    bare = text.strip()
    try:
        value = float(bare.rstrip("% ")) / 100.0 if bare.endswith("%") else float(bare)
    except ValueError:
        faults.append(Fault("--soc", "", f"'{text}' is no charge.", "Write 0.72 or 72%."))
        return 0.0
    if not 0.0 <= value <= 1.0:
        mend = f"Did you mean {value:g}%?" if 1.0 < value <= 100.0 else "Write 0.72 or 72%."
        faults.append(Fault("--soc", "", f"'{text}' is not 0 to 1.", mend))
    return value


def read_fix(text: str, faults: list[Fault]) -> tuple[float, float]:
    """Return latitude and longitude of a fix in one text, parted by a comma, a hemisphere letter or a blank."""
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2:
        match = re.match(r"^\s*(.*?[NSns]|[^\s]+)\s+(.+?)\s*$", text)
        parts = [match[1], match[2]] if match else []
    if len(parts) != 2:
        faults.append(Fault("--fix", "", f"'{text}' is no latitude and longitude.", HOW_FIX))
        return 0.0, 0.0
    try:
        return read_angle(parts[0], "lat"), read_angle(parts[1], "lon")
    except ValueError as error:
        faults.append(Fault("--fix", "", str(error), HOW_FIX))
        return 0.0, 0.0


def _understood(time: Said, inputs: Inputs, last: LastPlan | None, ship_offset: ShipOffset) -> FixMoment:
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
        mend = "Correct the log, or set boat.engine.tank_l to what was aboard at departure."
        raise InputError([Fault("replan", "boat.engine.tank_l", problem, mend)])
    return boat.model_copy(update={"engine": boat.engine.model_copy(update={"tank_l": left})})
