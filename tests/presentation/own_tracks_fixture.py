"""Own tracks of our own invention: three members of the invented plan, one a day longer at sea, one not there."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import xarray as xr
from plan_fixture import make_plan

from planner.domain.glossary import LEDGER, OWN_TRACKS, TRACK
from planner.domain.policy import StandingOrder
from planner.domain.results.bill import LaterWatch
from planner.domain.results.figures import Count, ReserveKept
from planner.domain.results.own_tracks import Arrivals, OwnTracks, Percentiles
from planner.domain.results.plan import Plan
from planner.domain.schema import to_dataset

ROW_SIZE = (900, 1152, 400)


def make_tracks(plan: Plan) -> xr.Dataset:
    """Return the plan's track and ledgers again, each member's cut or run on to its own length."""
    rows = [np.arange(size) % plan.track.sizes["time"] for size in ROW_SIZE]
    arrays = {name: np.concatenate([plan.track[name].values[row] for row in rows]) for name in TRACK}
    for name, quantity in LEDGER.items():
        of_member = [plan.ledger[name].values[member] for member in range(len(rows))]
        arrays[name] = (
            np.concatenate([values[row] for values, row in zip(of_member, rows, strict=True)])
            if "time" in quantity.dims
            else np.array(of_member)
        )
    begin, step = plan.track["time"].values[0], np.timedelta64(10, "m")
    times = [begin + np.arange(size) * step for size in ROW_SIZE]
    ends = [times[0][-1] + step, times[1][-1] + step, np.datetime64("NaT", "ns")]
    coords = {"trajectory": np.arange(3), "time": ("obs", np.concatenate(times))}
    tracks = to_dataset(arrays, OWN_TRACKS, coords=coords, door="fixture own tracks")
    return tracks.assign(
        row_size=("trajectory", np.array(ROW_SIZE)), arrival=("trajectory", np.array(ends, dtype="datetime64[ns]"))
    ).assign_attrs(step_s=600.0)


def make_own() -> OwnTracks:
    plan = make_plan()
    return OwnTracks(
        members=3,
        arrived=2,
        arrival=Arrivals(plan.arrival - timedelta(hours=18), plan.arrival + timedelta(hours=24), None),
        arrival_soc=Percentiles(0.412, 0.523, 0.634),
        as_wanted=Count(2, 3),
        min_soc=Percentiles(0.212, 0.283, 0.351),
        charging_hours=Percentiles(4.0, 6.5, 9.0),
        starts=Percentiles(3.0, 5.0, 6.0),
        engine_hours=Percentiles(9.0, 12.5, 15.0),
        fuel_l=Percentiles(18.2, 27.7, 41.4),
        quiet_broken=Count(1, 3),
        tracks=make_tracks(plan),
    )


def plan_with_own() -> Plan:
    """The invented plan for three members on their own tracks; in one the engine drives in the third watch."""
    plan, own = make_plan(), make_own()
    rows = tuple(replace(row, drives_in=Count(int(place == 2), 3)) for place, row in enumerate(plan.watches))
    later = LaterWatch(plan.arrival, plan.arrival + timedelta(hours=4), ladder=rows[-1].ladder, stop_percent=85)
    standing = StandingOrder(start_percent=53, stop_percent=60, allowed=np.ones(plan.voyage.steps, dtype=bool))
    return replace(
        plan,
        voyage=replace(plan.voyage, policy=replace(plan.policy, standing=standing)),
        own_tracks=own,
        watches=rows,
        later_watches=(later,),
        reserve_kept=ReserveKept(kept=2, members=3, low=0.25, high=0.92, confidence=0.9, wind="own"),
        min_soc=replace(plan.min_soc, p10=own.min_soc.p10, p50=own.min_soc.p50, p90=own.min_soc.p90),
        fuel_l=replace(plan.fuel_l, p10=own.fuel_l.p10, p50=own.fuel_l.p50, p90=own.fuel_l.p90),
    )
