"""The rows of the watch bill, one a watch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from planner.decision.bill.dead.engine_dead import engine_dead
from planner.decision.bill.ladders.watch import ChargingRuns, rungs
from planner.decision.bill.skip import Skipped
from planner.decision.bill.summary import day_numbers, energy_wh, soc_at
from planner.decision.policy.standing import waking_percent
from planner.domain.arrays import Floats
from planner.domain.results.bill import Deferred, EngineDead, WatchRow
from planner.domain.results.note import Note
from planner.domain.voyage import Voyage
from planner.simulation.ledger.readings import USUAL, low_volts

OVER_RESERVE = 0.1  # 1, what a load that can wait leaves over the reserve (common practice)
FIVE_PERCENT = 5  # %, fineness of readings that a crew is asked to look for
ROUNDING = 1e-9  # 1


def watch_rows(voyage: Voyage, skipped: Mapping[int, Skipped], reasons: Sequence[Note]) -> tuple[WatchRow, ...]:
    """Return the bill's rows.

    Parameters
    ----------
    voyage : Voyage
    skipped : mapping of int to Skipped
        What skipping each planned run costs, by epoch.
    reasons : sequence of Note
        One a watch.

    Returns
    -------
    tuple of WatchRow
        One an epoch, in order.
    """
    runs = ChargingRuns(voyage)
    dead = engine_dead(voyage)
    days = day_numbers(voyage)
    return tuple(
        _row(
            voyage,
            epoch,
            day=int(days[voyage.epoch_steps(epoch).start]),
            runs=runs,
            dead=dead[epoch],
            skipped=skipped.get(epoch),
            reason=reasons[epoch],
        )
        for epoch in range(voyage.epochs)
    )


def wake_soc_percent(voyage: Voyage) -> int:
    """Return the reading at which to wake the skipper: where the reserve may be reached."""
    return waking_percent(voyage.boat.bank.reserve_soc, voyage.passage.wishes.meter_error)


def _row(
    voyage: Voyage,
    epoch: int,
    *,
    day: int,
    runs: ChargingRuns,
    dead: EngineDead,
    skipped: Skipped | None,
    reason: Note,
) -> WatchRow:
    steps = voyage.epoch_steps(epoch)
    open_steps = np.flatnonzero(voyage.policy.allowed[steps])
    earliest = steps.start + int(open_steps[0]) if open_steps.size and voyage.boat.engine.available else None
    minutes = voyage.step_h * 60.0
    track = voyage.track
    low = low_volts(voyage.boat.bank, demand_w=float(np.quantile(voyage.planned_demand_w[steps], USUAL)))
    return WatchRow(
        day=day,
        start=voyage.at(steps.start),
        end=voyage.at(steps.stop),
        role=voyage.roles[epoch],
        heading_magnetic_deg=mean_bearing_deg(track["heading_magnetic_deg"].values[steps]),
        wind_from_deg=mean_bearing_deg(track["true_wind_from_deg"].values[steps]),
        wind_kn=float(track["true_wind_speed_kn"].values[steps].mean()),
        tack=1 if track["tack"].values[steps].sum() >= 0 else -1,
        under_engine_min=round(int(voyage.under_engine[steps].sum()) * minutes),
        drives_in=None,
        parted_nm=None,
        soc=soc_at(voyage, steps.start),
        solar_wh=energy_wh(voyage, "solar_power_w", steps),
        load_wh=energy_wh(voyage, "load_power_w", steps),
        engine_min=round(int(voyage.planned_charging[steps].sum()) * minutes),
        earliest=None if earliest is None else voyage.at(earliest),
        ladder=rungs(voyage.policy.minutes[epoch]),
        stop=runs.stop(epoch),
        charge_current_a=None if earliest is None else runs.current_after_start_a(epoch, earliest),
        deferrable=_deferrable(voyage, steps),
        wake_soc_percent=wake_soc_percent(voyage),
        wake_v=low.volts,
        wake_a=low.amps,
        wake_min=low.minutes,
        dead=dead,
        skip_cost_min=0 if skipped is None else max(skipped.later_min, 0),
        reason=reason,
    )


def mean_bearing_deg(bearings_deg: Floats) -> float:
    """Return the circular mean of bearings, that of their unit vectors' sum.

    Parameters
    ----------
    bearings_deg : float array (time,)
        Clockwise from north [degree].

    Returns
    -------
    float
        In [0, 360) [degree].
    """
    angle = np.radians(bearings_deg)
    return float(np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())) % 360.0)


def _deferrable(voyage: Voyage, steps: slice) -> tuple[Deferred, ...]:
    """Return the deferrable loads that draw in a watch: when, how long, and from which reading on."""
    bank = voyage.boat.bank
    waits = {load.name for load in voyage.boat.load if load.wh_per_day is not None}
    drawn_w = voyage.demand["load_item_power_w"][steps].transpose("load", "time").values
    placed = []
    for name, watts in zip(voyage.demand["load"].values, drawn_w, strict=True):
        draws = np.flatnonzero(watts > 0.0)
        if str(name) not in waits or not draws.size:
            continue
        takes = float(watts.sum()) * voyage.step_h / (bank.capacity_ah * bank.nominal_v)
        needed = 100.0 * (bank.reserve_soc + OVER_RESERVE + takes)
        placed.append(
            Deferred(
                load=str(name),
                start=voyage.at(steps.start + int(draws[0])),
                minutes=round(draws.size * voyage.step_h * 60.0),
                from_percent=min(FIVE_PERCENT * math.ceil(needed / FIVE_PERCENT - ROUNDING), 100),
            )
        )
    return tuple(placed)
