"""What readings cannot be: full beyond full, watts below nothing, another bank, amps the wrong way, another date."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.utc import to_numpy

if TYPE_CHECKING:
    import xarray as xr


OVER_FULL: Final = 0.005  # 1: a display that rounds may show half a percent too much
ZERO_W: Final = 3.0  # W that a controller may show below nothing: its own draw and the meter's zero (common practice)
BANK_V: Final = (0.75, 1.35)  # 1, of the nominal voltage: from a flat bank to one being equalised (common practice)
NOMINAL_V: Final = (12, 24, 36, 48)  # V
LEAST_PAIRS: Final = 20  # readings of watts and amps together that show which way amps count
TELLING: Final = 0.5  # 1, correlation of amps with what the controllers give that leaves no doubt
CONSTANT_H: Final = 12.0  # h: a figure that never moves for so long is of no living instrument
CONSTANT_READINGS: Final = 12
Note = Callable[[str], None]


def check_readings(
    readings: xr.Dataset,
    *,
    mapping: LogMapping,
    nominal_v: float | None,
    span: tuple[datetime, datetime] | None,
    note: Note,
) -> xr.Dataset:
    """Return the readings with what is plain repaired, or raise with every fault.

    Parameters
    ----------
    readings : xarray.Dataset
        The glossary's READINGS.
    mapping : LogMapping
        Where it says which way amps count, that is not repaired.
    nominal_v : float or None
        Of the boat's bank [V]; None leaves the volts alone.
    span : (datetime, datetime) or None
        Departure and arrival, UTC; None leaves the dates alone.
    note : callable
        Takes a line on what was repaired or is odd.

    Raises
    ------
    InputError
        With every fault.
    """
    faults: list[Fault] = []
    where = str(readings.attrs["source"])
    for check in (_charge, _watts):
        faults += check(readings, where, note)
    if nominal_v is not None:
        faults += _volts(readings, nominal_v, where, note)
    if span is not None:
        faults += _dates(readings, span, where, note)
    faults += _amps(readings, mapping, where, note)
    if faults:
        raise InputError(faults)
    _constant(readings, note)
    return readings


def _charge(readings: xr.Dataset, where: str, note: Note) -> list[Fault]:
    soc = readings["read_meter_soc"].values
    over, under = soc > 1.0 + OVER_FULL, soc < 0.0
    faults = []
    if over.any():
        moment = _moment(readings, over)
        problem = f"{100 * np.nanmax(soc):.0f} % at {moment}; 100 % is full. So in {over.sum()} readings."
        remedy = "Are these amp-hours, or of another column? Say in a mapping file what the column is."
        faults.append(Fault(where, "state of charge", problem, remedy))
    if under.any():
        problem = f"{100 * np.nanmin(soc):.0f} % at {_moment(readings, under)}; 0 % is empty."
        remedy = "Are these amp-hours from full? Then the heading wants 'Ah'."
        faults.append(Fault(where, "state of charge", problem, remedy))
    readings["read_meter_soc"].values[:] = np.minimum(soc, 1.0)
    ah = readings["read_meter_ah"].values
    if np.nanmax(ah, initial=0.0) > 0.0 and np.nanmin(ah, initial=0.0) >= 0.0:
        readings["read_meter_ah"].values[:] = -ah
        note("The amp-hours are all above zero: read as taken out of a full bank.")
    return faults


def _watts(readings: xr.Dataset, where: str, note: Note) -> list[Fault]:
    faults = []
    watts = readings["read_controller_power_w"].values
    for place, name in enumerate(readings["controller"].values.tolist()):
        column = watts[:, place]
        low = column < -ZERO_W
        if low.any():
            problem = f"{np.nanmin(column):.0f} W at {_moment(readings, low)}; a controller gives, it does not take."
            remedy = "Are these watts of a load or of the bank? If their sign is turned, turn it in the log."
            faults.append(Fault(where, f"watts of '{name}'", f"{problem} So in {low.sum()} readings.", remedy))
        elif (column < 0.0).any():
            note(f"Watts of '{name}' a little below zero in {(column < 0.0).sum()} readings: taken as none.")
            watts[:, place] = np.where(column < 0.0, 0.0, column)
    return faults


def _volts(readings: xr.Dataset, nominal_v: float, where: str, note: Note) -> list[Fault]:
    volts = readings["read_bank_voltage_v"].values
    if not np.isfinite(volts).any():
        return []
    middle = float(np.nanmedian(volts))
    low, high = (part * nominal_v for part in BANK_V)
    if not low <= middle <= high:
        fits = [other for other in NOMINAL_V if BANK_V[0] * other <= middle <= BANK_V[1] * other]
        problem = f"{middle:.1f} V in the middle of the readings; the boat file's bank is of {nominal_v:g} V."
        remedy = (
            f"This is a bank of {fits[0]} V: is it the log of this boat?" if fits else "Is this the bank's column?"
        )
        return [Fault(where, "bank volts", problem, remedy)]
    odd = (volts < low) | (volts > high)
    if odd.any():
        note(f"Bank volts outside {low:.1f} to {high:.1f} V in {odd.sum()} readings left out.")
        readings["read_bank_voltage_v"].values[:] = np.where(odd, np.nan, volts)
    return []


def _dates(readings: xr.Dataset, span: tuple[datetime, datetime], where: str, note: Note) -> list[Fault]:
    time = readings["time"].values
    begins, ends = (to_numpy(moment) for moment in span)
    inside = (time >= begins) & (time <= ends)
    if not inside.any():
        logged, sailed = (f"from {_words(a)} to {_words(b)}" for a, b in ((time[0], time[-1]), (begins, ends)))
        problem = f"the log runs {logged}, the passage {sailed}."
        remedy = (
            "Is it the log of another passage? Else correct the passage's departure, or the order of day and month."
        )
        return [Fault(where, "time", problem, remedy)]
    if not inside.all():
        note(f"{(~inside).sum()} readings before departure or after arrival are not held against the model.")
    return []


def _amps(readings: xr.Dataset, mapping: LogMapping, where: str, note: Note) -> list[Fault]:
    amps = readings["read_bank_current_a"].values
    if mapping.amps_positive == "discharging":
        amps = -amps
        readings["read_bank_current_a"].values[:] = amps
    turned, evidence = _turned(readings, amps)
    if not turned:
        return []
    if mapping.amps_positive is None:
        readings["read_bank_current_a"].values[:] = -amps
        note(f"Bank amps counted the other way, positive when discharging, and were turned: {evidence}.")
        return []
    other = "discharging" if mapping.amps_positive == "charging" else "charging"
    problem = f"the mapping says that they are positive {mapping.amps_positive}, but {evidence}."
    return [Fault(where, "bank amps", problem, f'Write amps_positive = "{other}".')]


def _turned(readings: xr.Dataset, amps: Floats) -> tuple[bool, str]:
    """Return whether amps run against what charges the bank, and what shows it."""
    seconds = readings["time"].values.astype(np.int64) / 1e9
    read = np.isfinite(amps)
    if read.sum() < LEAST_PAIRS:
        return False, ""
    watts = readings["read_controller_power_w"].values
    columns = [column for column in watts.T if np.isfinite(column).any()]
    if columns:
        solar = np.sum([_at(seconds, column, seconds[read]) for column in columns], axis=0)
        idle = np.nan_to_num(_at(seconds, readings["read_engine_on"].values, seconds[read])) == 0.0
        tie = _correlation(solar[idle], amps[read][idle])
        if abs(tie) >= TELLING:
            return tie < 0.0, f"they fall as the controllers' watts rise (correlation {tie:.2f})"
    soc = readings["read_meter_soc"].values
    if not np.isfinite(soc).any():
        soc = readings["read_meter_ah"].values
    charge = _at(seconds, soc, seconds[read])
    middle = (amps[read][1:] + amps[read][:-1]) / 2.0
    tie = _correlation(np.diff(charge), middle * np.diff(seconds[read]))
    return tie <= -TELLING, f"they fall as the charge rises (correlation {tie:.2f})"


def _at(seconds: Floats, column: Floats, wanted: Floats) -> Floats:
    good = np.isfinite(column)
    if not good.any():
        return np.full(wanted.shape, np.nan)
    return np.interp(wanted, seconds[good], column[good])


def _correlation(first: Floats, second: Floats) -> float:
    both = np.isfinite(first) & np.isfinite(second)
    if both.sum() < LEAST_PAIRS or np.ptp(first[both]) == 0.0 or np.ptp(second[both]) == 0.0:
        return 0.0
    return float(np.corrcoef(first[both], second[both])[0, 1])


def _constant(readings: xr.Dataset, note: Note) -> None:
    """Note columns that never move; a controller's watts that stand at a figure day and night are left out."""
    hours = readings["time"].values.astype(np.int64) / 3.6e12
    watts = readings["read_controller_power_w"].values
    named = [
        (f"watts of '{name}'", "W", 1.0, watts[:, place]) for place, name in enumerate(readings["controller"].values)
    ]
    named += [
        ("bank volts", "V", 1.0, readings["read_bank_voltage_v"].values),
        ("bank amps", "A", 1.0, readings["read_bank_current_a"].values),
        ("the state of charge", "%", 100.0, readings["read_meter_soc"].values),
        ("the amp-hours", "Ah", 1.0, readings["read_meter_ah"].values),
    ]
    for what, unit, scale, column in named:
        read = np.isfinite(column)
        if read.sum() < CONSTANT_READINGS or np.ptp(hours[read]) < CONSTANT_H or np.ptp(column[read]) > 0.0:
            continue
        value = float(column[read][0])
        said = f"{what[0].upper()}{what[1:]} stood at {scale * value:g} {unit} throughout: a dead sensor?"
        if what.startswith("watts") and value != 0.0:
            column[:] = np.nan
            said += " They were left out."
        elif what.startswith("watts"):
            said = f"{what[0].upper()}{what[1:]} were 0 W throughout: controller off, fuse blown, or a dead sensor?"
        note(said)


def _moment(readings: xr.Dataset, where: npt.NDArray[np.bool_]) -> str:
    return _words(readings["time"].values[np.flatnonzero(where)[0]])


def _words(moment: np.datetime64) -> str:
    return f"{str(moment.astype('datetime64[m]')).replace('T', ' ')} UTC"
