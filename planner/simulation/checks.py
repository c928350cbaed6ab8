"""What only shows when bank, engine, loads and passage are held together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from planner.domain.errors import Fault, suggest
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.power import Bank, Engine, Load, SecondaryBank
from planner.domain.inputs.watch_rules import MINUTES_PER_DAY, minute_of_day, span_minutes
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.demand import RESERVED_NAMES

MINUTES_PER_HOUR = 60  # min/h, exact
NOTED_OFF_V = 0.5 / 12.0  # V over nominal; published curves lie up to 0.28 V off ours, and resistance adds to it
MANAGEMENT_OPENS_V = 14.6 / 12.0  # V over nominal; 3.65 V a cell (common practice)


def power_faults(boat: Boat, passage: Passage, boat_file: str, passage_file: str) -> list[Fault]:
    """Return what is wrong with bank, engine, loads, steering and wishes, each alone and with one another.

    Parameters
    ----------
    boat, passage
        As read.
    boat_file, passage_file : str
        Names of their files, for the messages.
    """
    roles = set(passage.roles)
    faults = [
        *_bank_faults(boat.bank, boat_file),
        *_engine_faults(boat.engine, passage, boat_file),
        *_table_faults(boat, boat_file),
        *_source_faults(boat, passage, boat_file),
        *_wish_faults(boat, passage, passage_file),
    ]
    named: set[str] = set(RESERVED_NAMES)
    keyed: list[tuple[str, Load | SecondaryBank]] = [
        *((f"load[{index}] '{load.name}'", load) for index, load in enumerate(boat.load)),
        *((f"secondary_bank[{index}] '{bank.name}'", bank) for index, bank in enumerate(boat.secondary_bank)),
    ]
    for key, draws in keyed:
        if draws.name in named:
            faults.append(Fault(boat_file, f"{key}.name", f"'{draws.name}' is taken.", "Name each load once."))
        named.add(draws.name)
        if isinstance(draws, Load):
            faults.extend(_load_faults(draws, roles, passage.model.step_min, key, boat_file))
            if draws.ac and boat.inverter is None:
                faults.append(
                    Fault(boat_file, f"{key}.ac", "needs an inverter, and the boat has none.", "Add [inverter].")
                )
        else:
            faults.extend(_secondary_faults(draws, key, boat_file))
    return faults


def _bank_faults(bank: Bank, where: str) -> Iterator[Fault]:
    """Yield set points that cross, or stand where no bank of this voltage is charged."""
    params = bank_params(bank)
    rest_v = float(params.open_circuit_v[params.open_circuit_v.size // 2])
    highest_v = 1.3 * bank.nominal_v  # V; 15.6 of 12 V: above, even equalising ends (common practice)
    for key in ("absorption_v", "alternator_v", "float_v"):
        given_v = getattr(bank, key)
        if given_v is None or rest_v < given_v <= highest_v:
            continue
        yield Fault(
            where,
            f"bank.{key}",
            f"{given_v:g} V, but a {bank.nominal_v} V {bank.chemistry} bank rests at {rest_v:.1f} V "
            f"half full and is charged at no more than {highest_v:.1f} V.",
            "Give the voltage of the whole bank, and check nominal_v.",
        )
    opens_v = MANAGEMENT_OPENS_V * bank.nominal_v
    for key in ("absorption_v", "alternator_v"):
        if bank.chemistry == "lifepo4" and (getattr(bank, key) or 0.0) >= opens_v:
            yield Fault(
                where,
                f"bank.{key}",
                f"at {opens_v:.1f} V a lithium bank's management system disconnects, and under charge that can spike "
                "the alternator.",
                "Charge to no more than 14.2 to 14.4 V on 12 V, as the bank's maker says.",
            )
    if bank.noted is not None:
        unmoved = bank_params(bank.model_copy(update={"noted": None}))
        off_v = float(params.open_circuit_v[0] - unmoved.open_circuit_v[0])
        if abs(off_v) > NOTED_OFF_V * bank.nominal_v:
            yield Fault(
                where,
                "bank.noted.volts",
                f"{bank.noted.volts:g} V at {bank.noted.state_of_charge:.0%} stands {abs(off_v):.2f} V "
                f"{'over' if off_v > 0.0 else 'under'} what such a bank shows with {bank.noted.amps:g} A drawn.",
                "Read the volts at the bank, an hour after charging ended, and the amps from the shunt.",
            )
    lowest_v = min(params.absorption_v, params.alternator_v)
    if params.float_v > lowest_v > rest_v:
        key = "float_v" if bank.float_v is not None else "alternator_v" if bank.alternator_v else "absorption_v"
        yield Fault(
            where,
            f"bank.{key}",
            f"set points cross: float at {params.float_v:.1f} V stands above charging at {lowest_v:.1f} V.",
            "Float holds a full bank: set it under every charging voltage.",
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
    if engine.started_by == "house_bank":
        yield Fault(
            where,
            "engine.started_by",
            "'house_bank': a house bank run down to its reserve may not crank the engine that is to charge it.",
            "Keep a start bank apart, give it as [[secondary_bank]] if the house charges it, and say 'start_bank'.",
        )
    if engine.min_run_min > engine.max_run_min:
        yield Fault(
            where,
            "engine.min_run_min",
            f"{engine.min_run_min} min is more than max_run_min, {engine.max_run_min} min.",
            "Swap the two?",
        )
    elif -(-engine.min_run_min // step_min) > engine.max_run_min // step_min:
        yield Fault(
            where,
            "engine.min_run_min",
            f"no run of whole steps of {step_min} min is {engine.min_run_min} to {engine.max_run_min} min long.",
            "Widen the two, or take a finer model.step_min.",
        )
    if engine.landfall_l > engine.tank_l:
        yield Fault(
            where,
            "engine.landfall_l",
            f"{engine.landfall_l:g} L kept for landfall is more than the tank holds, {engine.tank_l:g} L.",
        )


def _table_faults(boat: Boat, where: str) -> Iterator[Fault]:
    """Yield what is wrong with the tables of autopilot and alternator."""
    by_rpm = boat.engine.output_by_rpm
    if by_rpm is not None:
        yield from _column_faults("engine.output_by_rpm", ("rpm", by_rpm.rpm), ("value", by_rpm.value), where)
    table = boat.autopilot.watts
    if len(table.angle_deg) != len(table.value):
        yield Fault(
            where,
            "autopilot.watts",
            f"{len(table.angle_deg)} angles but {len(table.value)} values; there must be as many of each.",
        )
    if any(later <= earlier for earlier, later in pairwise(table.angle_deg)):
        yield Fault(where, "autopilot.watts.angle_deg", "angles must rise from row to row.", "Sort the rows.")


def _column_faults(
    key: str, rising: tuple[str, Sequence[float]], figures: tuple[str, Sequence[float]], where: str
) -> Iterator[Fault]:
    """Yield what is wrong with the shape of a table of one figure by another, each with its column's name."""
    (by, rows), (of, values) = rising, figures
    if len(rows) != len(values):
        yield Fault(where, key, f"{len(rows)} {by} but {len(values)} {of}; there must be as many of each.")
    if any(later <= earlier for earlier, later in pairwise(rows)):
        yield Fault(where, f"{key}.{by}", f"{by} must rise from row to row.", "Sort the rows.")


def _source_faults(boat: Boat, passage: Passage, where: str) -> Iterator[Fault]:
    """Yield generators whose tables make no sense and chargers that never have power."""
    for index, generator in enumerate(boat.generator):
        key = f"generator[{index}] '{generator.name}'.output"
        table = generator.output
        yield from _column_faults(key, ("speed_kn", table.speed_kn), ("watts", table.watts), where)
    for index, charger in enumerate(boat.charger):
        for begin, end in charger.hours:
            if span_minutes(begin, end) < passage.model.step_min:
                yield Fault(
                    where,
                    f"charger[{index}] '{charger.name}'.hours",
                    f"{begin}-{end} is shorter than the step, {passage.model.step_min} min.",
                    "Widen the span, or take a finer model.step_min.",
                )


def _secondary_faults(bank: SecondaryBank, key: str, where: str) -> Iterator[Fault]:
    """Yield a need that its charger cannot meet in a day."""
    most_wh = bank.charger_w * bank.charger_efficiency * 24.0
    if bank.need_wh_per_day > most_wh:
        yield Fault(
            where,
            f"{key}.need_wh_per_day",
            f"{bank.need_wh_per_day:g} Wh, but its charger passes on at most {most_wh:g} Wh a day.",
            "Is the need in watt-hours, and charger_w in watts?",
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
    if load.is_vital and load.shed_order is not None:
        yield Fault(
            where,
            f"{key}.shed_order",
            f"'{load.name}' is vital: it is never shed.",
            "Drop shed_order; where the name misleads, set vital = false.",
        )
    yield from _deferrable_faults(load, key, where)


def _deferrable_faults(load: Load, key: str, where: str) -> Iterator[Fault]:
    """Yield energies a day that the load cannot draw in its hours, or not in a shortest run."""
    if load.wh_per_day is None:
        if load.min_run_min:
            yield Fault(
                where,
                f"{key}.min_run_min",
                f"{load.min_run_min} min, but only a deferrable load is placed in runs.",
                "Give wh_per_day too, or drop it.",
            )
        return
    longest = max((span_minutes(*span) for span in load.hours), default=MINUTES_PER_DAY)
    if load.min_run_min > longest:
        yield Fault(
            where,
            f"{key}.min_run_min",
            f"{load.min_run_min} min does not fit into its hours, at most {longest} min together.",
            "Widen hours, or shorten the run.",
        )
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
