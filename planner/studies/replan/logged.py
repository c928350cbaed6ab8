"""What a log of readings up to a fix tells of the bank, of its meter and of the sky."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import SeenSky
from planner.domain.inputs.power import Bank
from planner.domain.results.note import Note
from planner.domain.results.replan import ObservedBank
from planner.domain.ship_clock import ShipOffset, moment_in_full
from planner.domain.utc import from_numpy, to_numpy
from planner.physics.bank.meter import FULL_SOC, meter_drift, meter_error
from planner.physics.sky.doubt import MEMORY_H
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.bank import bank_params
from planner.studies.reconcile.bank.count import ONE_FULL_H, full_charges, log_of
from planner.studies.reconcile.courses_found import ledger_of_record
from planner.studies.reconcile.loads_found import LIST_DOUBT
from planner.studies.reconcile.sky_found import Seen
from planner.studies.replan.observed import observed_bank

if TYPE_CHECKING:
    import xarray as xr

REACH: Final = timedelta(minutes=90)  # by which the last reading may be older than the fix: a watch's log is hourly


@dataclass(frozen=True)
class LoggedBank:
    """The bank at a fix by a log.

    Attributes
    ----------
    soc : float
        State of charge [0..1].
    error : float
        Its standard deviation [0..1].
    source : Note
        Whether the monitor was read, or engine and yields were counted, and since when.
    why : Note
        What the error rests on.
    """

    soc: float
    error: float
    source: Note
    why: Note

    def observed(self, bank: Bank, error: float) -> ObservedBank:
        """Return the bank as observed by it, with another error of the meter where one is given [0..1]."""
        return replace(observed_bank(bank, soc=self.soc, meter_error=error, volts=None), source=self.source)


@dataclass(frozen=True)
class Told:
    """What a log tells at a fix.

    Attributes
    ----------
    bank : LoggedBank
    sky : Seen or None
        None where it shows nothing of the forecast's light.
    typed_sky : bool
        Whether cloud is typed by hand at the fix: that goes before it.
    """

    bank: LoggedBank
    sky: Seen | None
    typed_sky: bool = False

    @property
    def seen_sky(self) -> SeenSky | None:
        """What of the sky it sets."""
        return None if self.sky is None or self.typed_sky else self.sky.sky

    def notes(self, typed: Sequence[str]) -> tuple[Note, ...]:
        """Return what it sets, and which keys were typed and go before it."""
        bank, sky = self.bank, self.sky
        set_bank = Note("log_bank", {"soc": bank.soc, "source": bank.source, "error": bank.error, "why": bank.why})
        set_sky = Note("log_no_sky")
        if self.typed_sky:
            set_sky = Note("log_overruled", {"key": "[[weather]]"})
        elif sky is not None:
            figures = {"found": sky.of_forecast, "expected": sky.expected, "memory_h": MEMORY_H, "days": sky.days}
            set_sky = Note("log_sky", figures)
        return (set_bank, set_sky, *(Note("log_overruled", {"key": key}) for key in typed))


def log_faults(read: Times, now: datetime, log: str, ship_offset: ShipOffset) -> list[Fault]:
    """Return what is wrong where the readings of a log, (reading,) in UTC, do not reach a fix."""
    before = read[read <= to_numpy(now)]
    if before.size and now - from_numpy(before[-1]) <= REACH:
        return []
    last, fix = (
        moment_in_full(each, ship_offset) for each in (from_numpy(before[-1] if before.size else read[0]), now)
    )
    problem = f"its first reading is of {last}, after the fix of {fix}."
    if before.size:
        problem = f"its last reading before the fix is of {last}, and the fix of {fix}: it does not reach it."
    return [Fault(log, "time", problem, "Give the log up to the fix; or leave it out, and give --soc or --volts.")]


def bank_by_log(
    steps: xr.Dataset,
    delivered: Floats,
    track: xr.Dataset,
    demand: xr.Dataset,
    *,
    boat: Boat,
    start: tuple[float, float],
    now: datetime,
    ship_offset: ShipOffset,
) -> LoggedBank:
    """Return the bank at a fix: by the log's monitor, else by its engine and yields since the last full charge.

    From the monitor's last reading on, or since the bank was full (else departure), the ledger runs the logged engine
    and yields against the listed loads.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on the track's steps.
    delivered : array (time, controller)
        Of the controllers, as ``delivered_w`` has it [W].
    track, demand : xarray.Dataset
        As the glossary has them, over the same steps.
    boat : Boat
    start : tuple of float
        State of charge at departure and its standard deviation [0..1].
    now : datetime
        Of the fix.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    """
    step_h, bank, time = step_seconds(steps) / 3600.0, boat.bank, steps["time"].values
    at = int(np.searchsorted(time, to_numpy(now), side="right")) - 1
    log, shown = log_of(steps, bank), steps["read_meter_soc"].values
    capacity_ah = bank_params(bank).capacity_ah
    put_in = log.amps if log.amps_read.any() else delivered.sum(axis=1) / bank.nominal_v
    charged = np.cumsum(np.maximum(np.nan_to_num(put_in), 0.0)) * step_h / capacity_ah
    drift = meter_drift(bank.chemistry, capacity_ah, at_start=start[1], full_soc=1.0)

    def error(first: int, end: int, at_first: float) -> float:
        return float(meter_error(charged[end] - charged[first], (end - first) * step_h / 24.0, drift, at_first))

    def shown_at(step: int) -> datetime:
        return from_numpy(time[step]) + ship_offset

    fulls = full_charges(log.full, 0, at + 1, round(ONE_FULL_H / step_h))
    since = min(fulls[-1][1] + 1, at) if fulls else 0
    standing = error(since, at, FULL_SOC[bank.chemistry] if fulls else start[1])
    read = np.flatnonzero(np.isfinite(shown[: at + 1]))
    if read.size and (at - read[-1]) * step_h * timedelta(hours=1) <= REACH:
        first, soc = int(read[-1]), float(shown[read[-1]])
        source, why = Note("by_log_monitor", {"at": shown_at(first)}), Note("meter_since_departure")
        if fulls:
            why = Note("meter_since_full", {"at": shown_at(since)})
            before = fulls[-2][1] + 1 if len(fulls) > 1 else 0
            full = fulls[-1][0]
            if np.isfinite(shown[full]):
                usual = error(before, full, FULL_SOC[bank.chemistry] if before else start[1])
                worse = max(abs(float(shown[full]) - 1.0) / usual, 1.0)
                standing *= worse
                why = Note("meter_drifted", {"at": shown_at(full), "shown": float(shown[full]), "times": worse})
    else:
        first, soc = since, 1.0 if fulls else start[0]
        drawn = float(demand["demand_power_w"].values.mean(axis=0)[first:at].sum()) * step_h
        standing = float(np.hypot(standing, LIST_DOUBT * drawn / (bank.nominal_v * capacity_ah)))
        source = Note("by_log_count", {"since": shown_at(first), "from": soc})
        why = Note("count_doubt", {"loads": LIST_DOUBT})
    course, _ = ledger_of_record(delivered, first, soc, steps=steps, track=track, demand=demand, boat=boat)
    return LoggedBank(float(course[at]), standing, source, why)
