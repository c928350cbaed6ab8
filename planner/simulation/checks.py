"""What only shows when bank, engine, loads and passage are held together."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from planner.domain.boat import Boat
from planner.domain.errors import Fault, suggest
from planner.domain.passage import Passage
from planner.domain.power import Bank, Engine, Load
from planner.domain.watch_rules import MINUTES_PER_DAY, minute_of_day, span_minutes
from planner.simulation.demand import RESERVED_NAMES
from planner.simulation.ledger import bank_params

MINUTES_PER_HOUR = 60  # min/h, exact


def power_faults(boat: Boat, passage: Passage, boat_file: str, passage_file: str) -> list[Fault]:
    """Return what is wrong with bank, engine, loads, steering and wishes, each alone and with one another.

    Parameters
    ----------
    boat, passage
        As read.
    boat_file, passage_file : str
        Names of their files, for the messages.
    """
    roles = {watch.role for watch in passage.watches}
    faults = [
        *_bank_faults(boat.bank, boat_file),
        *_engine_faults(boat.engine, passage, boat_file),
        *_table_faults(boat, boat_file),
        *_wish_faults(boat, passage, passage_file),
    ]
    named: set[str] = set(RESERVED_NAMES)
    for index, load in enumerate(boat.load):
        key = f"load[{index}] '{load.name}'"
        if load.name in named:
            faults.append(Fault(boat_file, f"{key}.name", f"'{load.name}' is taken.", "Name each load once."))
        named.add(load.name)
        faults.extend(_load_faults(load, roles, passage.model.step_min, key, boat_file))
    return faults


def _bank_faults(bank: Bank, where: str) -> Iterator[Fault]:
    """Yield set points that cross, or stand where no bank of this voltage is charged."""
    params = bank_params(bank)
    rest_v = float(params.open_circuit_v[params.open_circuit_v.size // 2])
    highest_v = 1.3 * bank.nominal_v  # V; 15.6 of 12 V: above, even equalising ends (common practice)
    if bank.absorption_v is not None and not rest_v < bank.absorption_v <= highest_v:
        yield Fault(
            where,
            "bank.absorption_v",
            f"{bank.absorption_v:g} V, but a {bank.nominal_v} V {bank.chemistry} bank rests at {rest_v:.1f} V "
            f"half full and is charged at no more than {highest_v:.1f} V.",
            "Give the voltage of the whole bank, and check nominal_v.",
        )
    if params.tail_current_a >= params.charge_limit_a > 0.0:
        yield Fault(
            where,
            "bank.tail_current_c",
            f"{params.tail_current_a:.1f} A is not below the charging limit, {params.charge_limit_a:.1f} A.",
            "A bank counts as full at a few hundredths of its capacity; both figures are amperes over capacity.",
        )
    if params.empty_soc >= bank.reserve_soc > 0.0:
        yield Fault(
            where,
            "bank.temp_c",
            f"at {bank.temp_c:g} C the bank withholds {params.empty_soc:.0%} of its capacity, "
            f"as much as the reserve of {bank.reserve_soc:.0%}.",
            "Is the temperature in degrees Celsius?",
        )


def _engine_faults(engine: Engine, passage: Passage, where: str) -> Iterator[Fault]:
    """Yield runs and tanks that contradict themselves or the step."""
    step_min = passage.model.step_min
    if engine.min_run_min > engine.max_run_min:
        yield Fault(
            where,
            "engine.min_run_min",
            f"{engine.min_run_min} min is more than max_run_min, {engine.max_run_min} min.",
            "Swap the two?",
        )
    for key in ("min_run_min", "max_run_min"):
        minutes = getattr(engine, key)
        if minutes % step_min:
            yield Fault(
                where,
                f"engine.{key}",
                f"{minutes} min is no multiple of the step, {step_min} min.",
                f"Give {minutes + step_min - minutes % step_min}, or a finer model.step_min.",
            )
    if engine.landfall_l > engine.tank_l:
        yield Fault(
            where,
            "engine.landfall_l",
            f"{engine.landfall_l:g} L kept for landfall is more than the tank holds, {engine.tank_l:g} L.",
        )


def _table_faults(boat: Boat, where: str) -> Iterator[Fault]:
    """Yield what is wrong with the autopilot's table of watts."""
    table = boat.autopilot.watts
    if len(table.angle_deg) != len(table.value):
        yield Fault(
            where,
            "autopilot.watts",
            f"{len(table.angle_deg)} angles but {len(table.value)} values; there must be as many of each.",
        )
    if any(later <= earlier for earlier, later in pairwise(table.angle_deg)):
        yield Fault(where, "autopilot.watts.angle_deg", "angles must rise from row to row.", "Sort the rows.")
    if min(table.value) < 0.0:
        yield Fault(
            where, "autopilot.watts.value", f"{min(table.value):g} W is negative.", "Steering draws power, as +W."
        )


def _wish_faults(boat: Boat, passage: Passage, where: str) -> Iterator[Fault]:
    """Yield wishes that no engine and no bank can meet."""
    reserve = boat.bank.reserve_soc
    start = passage.start.state_of_charge
    if start <= reserve:
        yield Fault(
            where,
            "start.state_of_charge",
            f"{start:g} is not above the bank's reserve_soc, {reserve:g}.",
            "Depart with more charge, or lower bank.reserve_soc.",
        )
    quiet = [False] * MINUTES_PER_DAY
    for begin, end in passage.wishes.quiet_hours:
        first = minute_of_day(begin)
        for minute in range(first, first + span_minutes(begin, end)):
            quiet[minute % MINUTES_PER_DAY] = True
    loud_min = MINUTES_PER_DAY - sum(quiet)
    if boat.engine.available and loud_min < boat.engine.min_run_min:
        yield Fault(
            where,
            "wishes.quiet_hours",
            f"they leave {loud_min} min a day in which the engine may charge; its shortest run is "
            f"{boat.engine.min_run_min} min.",
            "Shorten the quiet hours, or set engine.available = false.",
        )


def _load_faults(load: Load, roles: set[str], step_min: int, key: str, where: str) -> Iterator[Fault]:
    """Yield what is wrong with one load."""
    if load.watts is None and load.amps is None:
        yield Fault(where, key, "has neither watts nor amps.", "Give one of them.")
    if load.watts is not None and load.amps is not None:
        yield Fault(where, key, "has both watts and amps.", "Keep one of them.")
    if load.when == "hours" and not load.hours:
        yield Fault(where, f"{key}.hours", "when = 'hours' needs hours.", 'For example hours = [["08:00", "09:00"]].')
    if load.when == "watch" and not load.roles:
        yield Fault(where, f"{key}.roles", "when = 'watch' needs roles.", suggest("", roles))
    for role in load.roles:
        if role not in roles:
            yield Fault(where, f"{key}.roles", f"no watch is stood by '{role}'.", suggest(role, roles))
    for begin, end in load.hours:
        if span_minutes(begin, end) < step_min:
            yield Fault(
                where,
                f"{key}.hours",
                f"{begin}-{end} is shorter than the step, {step_min} min.",
                "Widen the span and lower the duty, or take a finer model.step_min.",
            )
    yield from _deferrable_faults(load, key, where)


def _deferrable_faults(load: Load, key: str, where: str) -> Iterator[Fault]:
    """Yield energies a day that the load cannot draw in its hours."""
    if load.wh_per_day is None:
        return
    watts = load.watts if load.watts is not None else load.amps
    if not watts or not load.duty:
        yield Fault(where, f"{key}.wh_per_day", "a deferrable load must draw something: watts and duty above 0.")
    elif load.watts is not None:
        minutes = sum(span_minutes(*span) for span in load.hours) or MINUTES_PER_DAY
        most_wh = load.watts * load.duty * minutes / MINUTES_PER_HOUR
        if load.wh_per_day > most_wh:
            yield Fault(
                where,
                f"{key}.wh_per_day",
                f"{load.wh_per_day:g} Wh, but {load.watts:g} W at duty {load.duty:g} draws at most {most_wh:g} Wh in "
                "its hours.",
                "Widen hours, or ask for less.",
            )
    if load.per_c:
        yield Fault(where, f"{key}.per_c", "a deferrable load's energy is fixed; per_c cannot change it.", "Drop it.")
