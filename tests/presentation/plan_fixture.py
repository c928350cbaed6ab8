"""A plan of our own invention, built without the planner's own stages, for tests of what presents plans.

Seven days from Opua to Nuku'alofa at 10-minute steps, five members, six panels on five controllers, three
watchkeepers. Its ledger closes; its figures are plausible and nothing more.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from fan_fixture import heading_fan_found
from inputs_fixture import (
    CAPACITY_AH,
    CONTROLLERS,
    DEPARTURE,
    LOADS,
    PANELS,
    ROLES,
    ROUTE,
    SHED,
    make_boat,
    make_passage,
)

from planner.domain.glossary import DEMAND, HARVEST, LEDGER, LOSS_ITEMS, LOSSES, TRACK
from planner.domain.inputs.given import Inputs
from planner.domain.policy import METER_READINGS, Policy, StandingOrder
from planner.domain.results.bill import (
    Card,
    CardLine,
    Deferred,
    EngineDead,
    EngineWindow,
    Lasts,
    Rung,
    Stop,
    WatchRow,
    WithoutEngine,
)
from planner.domain.results.figures import ReserveKept, Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Day, LoadPrice, Plan
from planner.domain.results.sun_view import SunOnPanel, SunShape, SunView
from planner.domain.schema import to_dataset
from planner.domain.voyage import Voyage

SHIP_OFFSET = timedelta(hours=12)
STEP_MIN = 10
NIGHT = Note("night", {"night_wh": 640})
STEPS = 7 * 144
MEMBERS = 5
STEPS_A_WATCH = 24
OPEN_CIRCUIT_V = 12.9
RESISTANCE_OHM = 0.01


def _hours() -> np.ndarray:
    return np.arange(STEPS) * STEP_MIN / 60.0


def _times() -> np.ndarray:
    start = np.datetime64(DEPARTURE.replace(tzinfo=None), "ns")
    return start + np.arange(STEPS) * np.timedelta64(STEP_MIN, "m")


def make_track() -> xr.Dataset:
    """Return a track at 6.2 knots over the waypoints, with the wind backing once and six hours of calm."""
    hours = _hours()
    way = hours / (STEPS * STEP_MIN / 60.0)
    unwrapped = np.interp(way, [0.0, 0.78, 1.0], [174.12, 181.1, 184.8])
    lat = np.interp(way, [0.0, 0.78, 1.0], [-35.31, -24.4, -21.13])
    course = np.where(way < 0.78, 29.0, 46.0)
    motoring = (hours >= 100.0) & (hours < 106.0)
    wind_from = np.where(hours < 60.0, 240.0, 110.0)
    wind = np.where(motoring, 4.0, 15.0 + 4.0 * np.sin(hours / 9.0))
    angle = (wind_from - course + 180.0) % 360.0 - 180.0
    tack = np.where(angle >= 0.0, 1.0, -1.0)
    calm = np.where(motoring, 0.0, 1.0)
    zero = np.zeros(STEPS)
    distance = 6.2 * hours
    arrays = {
        "lat": lat,
        "lon": (unwrapped + 180.0) % 360.0 - 180.0,
        "leg": np.where(way < 0.78, 0, 1),
        "leg_bearing_deg": course,
        "course_deg": course,
        "heading_deg": course,
        "heading_magnetic_deg": (course - 16.0) % 360.0,
        "speed_over_ground_kn": zero + 6.2,
        "speed_through_water_kn": zero + 6.2,
        "distance_nm": distance,
        "distance_to_go_nm": 6.2 * STEPS * STEP_MIN / 60.0 - distance,
        "true_wind_speed_kn": wind,
        "true_wind_from_deg": wind_from,
        "apparent_wind_speed_kn": wind,
        "true_wind_angle_deg": angle,
        "apparent_wind_angle_deg": angle * 0.8,
        "tack": tack,
        "leeway_deg": zero,
        "heel_deg": -12.0 * tack * calm,
        "pitch_deg": zero,
        "roll_amplitude_deg": zero + 5.0,
        "boom_angle_deg": tack * np.clip(np.abs(angle) / 2.0, 8.0, 75.0),
        "mainsail_hoist_fraction": calm,
        "headsail_set_fraction": calm,
        "headsail_angle_deg": 12.0 * tack,
        "under_engine": motoring,
    }
    track = to_dataset(arrays, TRACK, coords={"time": _times()}, door="fixture track")
    return track.assign_attrs(step_s=STEP_MIN * 60.0)


def make_harvest(track: xr.Dataset) -> xr.Dataset:
    """Return sky and panels: a low winter sun, members parting with lead time, two overcast days in the middle."""
    hours = _hours()
    noon_angle = np.radians(15.0 * (hours + 8.0 - 12.0))  # ship's time is near enough local sun time
    lat, decl = np.radians(track["lat"].values), np.radians(18.0)
    sin_el = np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.cos(noon_angle)
    up = np.clip(sin_el, 0.0, None)
    front = np.where((hours > 62.0) & (hours < 106.0), 0.85, 0.35)
    spread = np.linspace(-1.0, 1.0, MEMBERS)[:, None] * (0.05 + 0.15 * hours / hours[-1])
    cloud = np.clip(front + spread, 0.0, 1.0)
    clear = 1000.0 * up
    ghi = clear * (1.0 - 0.75 * cloud)
    dhi = np.minimum(ghi, 90.0 * up + 0.45 * ghi * cloud)
    dni = np.where(up > 0.05, (ghi - dhi) / np.maximum(up, 0.05), 0.0)
    lit = np.array([0.97, 0.97, 0.8, 0.75, 0.8, 0.35])
    view = np.array([0.95, 0.95, 0.8, 0.78, 0.8, 0.5])
    rated = np.array([190.0, 190.0, 110.0, 110.0, 110.0, 110.0])
    poa = (ghi - dhi)[..., None] * lit + dhi[..., None] * view
    ambient = 17.0 + 8.0 * hours / hours[-1] + 0.0 * cloud
    cell = ambient[..., None] + 0.03 * poa
    panel = rated * poa / 1000.0 * (1.0 - 0.004 * (cell - 25.0)) * 0.93
    of_panel = [[PANELS.index(name) for name in string] for _, string in CONTROLLERS]
    controller = 0.96 * np.stack([panel[..., which].sum(axis=-1) for which in of_panel], axis=-1)
    per_panel = np.zeros_like(poa)
    arrays = {
        "sun_azimuth_deg": (360.0 - np.degrees(noon_angle)) % 360.0,
        "sun_elevation_deg": np.degrees(np.arcsin(sin_el)),
        "cloud_cover": cloud,
        "ghi_w_m2": ghi,
        "dni_w_m2": dni,
        "dhi_w_m2": dhi,
        "air_temp_c": ambient,
        "rain_mm_h": np.zeros_like(ghi),
        "beyond_forecast": np.zeros(STEPS),
        "poa_w_m2": poa,
        "beam_lit_fraction": per_panel + lit,
        "sky_view_fraction": per_panel + view,
        "beam_view_fraction": np.repeat(np.maximum(sin_el, 0.0)[:, None], len(PANELS), axis=1),
        "sea_view_fraction": np.zeros((STEPS, len(PANELS))),
        "soiled_fraction": per_panel + 0.03,
        "cell_light_w_m2": 0.9 * poa,
        "cell_temp_c": cell,
        "panel_power_w": panel,
        "controller_power_w": controller,
        "wire_loss_power_w": 0.01 * controller,
    }
    coords = {
        "time": _times(),
        "member": np.arange(MEMBERS),
        "panel": list(PANELS),
        "controller": [name for name, _ in CONTROLLERS],
    }
    return to_dataset(arrays, HARVEST, coords=coords, door="fixture harvest").assign_attrs(step_s=STEP_MIN * 60.0)


def make_demand() -> xr.Dataset:
    """Return the loads: constant but for radar and lights, which burn from dusk to dawn."""
    clock = (_hours() + 8.0) % 24.0
    night = (clock < 6.5) | (clock > 17.5)
    items = np.stack(
        [np.where(night, 2.0, 0.5) * w if name in {"radar", "navigation lights"} else w + 0.0 * clock
         for name, w in LOADS],
        axis=-1,
    )  # fmt: skip
    arrays = {
        "demand_power_w": np.tile(items.sum(axis=-1), (MEMBERS, 1)),
        "load_item_power_w": items,
    }
    coords = {"time": _times(), "member": np.arange(MEMBERS), "load": [name for name, _ in LOADS]}
    return to_dataset(arrays, DEMAND, coords=coords, door="fixture demand").assign_attrs(step_s=STEP_MIN * 60.0)


def make_policy(track: xr.Dataset) -> Policy:
    """Return ladders with steps at 55 and 65 %, forbidden in quiet hours."""
    first = np.arange(0, STEPS, STEPS_A_WATCH, dtype=np.int64)
    reading = np.arange(METER_READINGS)
    minutes = np.where(reading < 55, 120, np.where(reading < 65, 60, 0))
    clock = (_hours() + 8.0) % 24.0
    return Policy(
        first_step=first,
        end_step=first + STEPS_A_WATCH,
        minutes=np.tile(minutes, (first.size, 1)),
        stop_soc=np.full(first.size, 0.85),
        allowed=(clock >= 5.0) & (clock < 22.0),
    )


def _march(solar: np.ndarray, demand: np.ndarray, track: xr.Dataset, policy: Policy) -> dict[str, np.ndarray]:
    """Follow one member's bank with a constant open-circuit voltage; every loss on its own."""
    flows = {name: np.zeros(STEPS) for name, quantity in LEDGER.items() if "time" in quantity.dims}
    motoring = track["under_engine"].values.astype(bool)
    soc, left = 0.92, 0.0
    for step in range(STEPS):
        if step % STEPS_A_WATCH == 0:
            epoch = step // STEPS_A_WATCH
            left = float(policy.minutes[epoch, int(soc * 100.0)])
        runs = bool(motoring[step]) or (left > 0.0 and bool(policy.allowed[step]))
        left -= STEP_MIN if runs else 0.0
        room = np.clip((1.0 - soc) * 5.0, 0.0, 1.0) * 0.25 * CAPACITY_AH * OPEN_CIRCUIT_V
        offered = solar[step] + (900.0 if runs else 0.0)
        taken = min(offered, demand[step] + room)
        share = taken / offered if offered > 0.0 else 0.0
        net = taken - demand[step]
        current = net / OPEN_CIRCUIT_V
        resistive = current**2 * RESISTANCE_OHM
        coulombic = 0.05 * max(net, 0.0)
        stored = net - resistive - coulombic
        flows["solar_power_w"][step] = solar[step] * share
        flows["curtailed_power_w"][step] = solar[step] * (1.0 - share)
        flows["alternator_power_w"][step] = 900.0 * share if runs else 0.0
        flows["load_power_w"][step] = demand[step]
        flows["resistive_loss_power_w"][step] = resistive
        flows["coulombic_loss_power_w"][step] = coulombic
        flows["bank_loss_power_w"][step] = resistive + coulombic
        flows["stored_power_w"][step] = stored
        flows["bank_soc"][step] = soc
        flows["bank_voltage_v"][step] = OPEN_CIRCUIT_V + current * RESISTANCE_OHM
        flows["bank_current_a"][step] = current
        flows["engine_on"][step] = runs
        soc = float(np.clip(soc + stored * STEP_MIN / 60.0 / (CAPACITY_AH * OPEN_CIRCUIT_V), 0.0, 1.0))
    flows["bank_soc_end"] = np.array(soc)
    return flows


def make_ledger(harvest: xr.Dataset, demand: xr.Dataset, track: xr.Dataset, policy: Policy) -> xr.Dataset:
    """Return the ledger of every member of the harvest."""
    solar = harvest["controller_power_w"].sum("controller").values
    loads = demand["demand_power_w"].values
    rows = [_march(solar[m], loads[m], track, policy) for m in range(solar.shape[0])]
    arrays = {name: np.stack([row[name] for row in rows]) for name in LEDGER}
    coords = {"time": _times(), "member": harvest["member"].values}
    return to_dataset(arrays, LEDGER, coords=coords, door="fixture ledger").assign_attrs(step_s=STEP_MIN * 60.0)


def _spread(planned: float, over_members: np.ndarray) -> Spread:
    p10, p50, p90 = np.percentile(over_members, [10, 50, 90])
    return Spread(planned=float(planned), p10=float(p10), p50=float(p50), p90=float(p90))


def _sum(ledger: xr.Dataset, planned: xr.Dataset, name: str, steps: slice) -> Spread:
    per_step = STEP_MIN / 60.0
    return _spread(
        planned[name].values[0, steps].sum() * per_step, ledger[name].values[:, steps].sum(axis=1) * per_step
    )


def _at(step: int) -> datetime:
    return DEPARTURE + timedelta(minutes=STEP_MIN * step)


def _watch_row(watch: int, track: xr.Dataset, ledger: xr.Dataset, planned: xr.Dataset, policy: Policy) -> WatchRow:
    first = watch * STEPS_A_WATCH
    steps = slice(first, first + STEPS_A_WATCH)
    open_steps = np.flatnonzero(policy.allowed[steps])
    charging = planned["engine_on"].values[0, steps].astype(bool) & ~track["under_engine"].values[steps]
    soc = ledger["bank_soc"].values
    runs = bool(charging.any())
    return WatchRow(
        day=1 + first // 144,
        start=_at(first),
        end=_at(first + STEPS_A_WATCH),
        role=ROLES[watch % 3],
        heading_magnetic_deg=float(track["heading_magnetic_deg"].values[first]),
        wind_from_deg=float(track["true_wind_from_deg"].values[first]),
        wind_kn=float(track["true_wind_speed_kn"].values[steps].mean()),
        tack=int(track["tack"].values[first]),
        under_engine_min=int(track["under_engine"].values[steps].sum()) * STEP_MIN,
        drives_in=None,
        parted_nm=None,
        soc=_spread(planned["bank_soc"].values[0, first], soc[:, first]),
        solar_wh=_sum(ledger, planned, "solar_power_w", steps),
        load_wh=_sum(ledger, planned, "load_power_w", steps),
        engine_min=int(charging.sum()) * STEP_MIN,
        earliest=_at(first + int(open_steps[0])) if open_steps.size else None,
        ladder=(Rung(65, 0), Rung(55, 60), Rung(0, 120)) if open_steps.size else (Rung(0, 0),),
        stop=Stop(soc_percent=85, amp_hours=62, tail_a=8),
        charge_current_a=58.3 if open_steps.size else None,
        deferrable=(Deferred("watermaker", _at(first), 80, 60),) if watch % 6 == 0 else (),
        wake_soc_percent=53,
        wake_v=12.1,
        wake_a=12.0,
        wake_min=10,
        dead=EngineDead(hours_left=31.6, find_out_by=_at(first) + timedelta(hours=14, minutes=20))
        if watch < 36
        else EngineDead(hours_left=None, find_out_by=None),
        skip_cost_min=70 if runs else 0,
        reason=NIGHT if runs else Note("bank_holds", {"ends": 61}),
    )


def _day(day: int, track: xr.Dataset, ledger: xr.Dataset, planned: xr.Dataset) -> Day:
    steps = slice((day - 1) * 144, day * 144)
    engine = _sum(ledger, planned, "engine_on", steps)
    return Day(
        day=day,
        start=_at(steps.start),
        distance_nm=6.2 * 24.0,
        solar_wh=_sum(ledger, planned, "solar_power_w", steps),
        curtailed_wh=_sum(ledger, planned, "curtailed_power_w", steps),
        load_wh=_sum(ledger, planned, "load_power_w", steps),
        engine_h=engine,
        fuel_l=Spread(engine.planned * 1.6, engine.p10 * 1.6, engine.p50 * 1.6, engine.p90 * 1.6),
        soc_start=_spread(planned["bank_soc"].values[0, steps.start], ledger["bank_soc"].values[:, steps.start]),
        soc_min=_spread(planned["bank_soc"].values[0, steps].min(), ledger["bank_soc"].values[:, steps].min(axis=1)),
        float_h=1.5 if day == 2 else 0.0,
        since_full_d=float(day - 1),
    )


def _windows(track: xr.Dataset, planned: xr.Dataset) -> tuple[EngineWindow, ...]:
    state = planned["engine_on"].values[0].astype(int) * (1 + track["under_engine"].values.astype(int))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], state, [0]])))
    current = planned["bank_current_a"].values[0]
    windows = []
    for first, end in pairwise(edges):
        if state[first] == 0:
            continue
        propels = bool(state[first] == 2)
        hours = float(end - first) * STEP_MIN / 60.0
        windows.append(
            EngineWindow(
                start=_at(int(first)),
                stop=_at(int(end)),
                role=ROLES[int(first) // STEPS_A_WATCH % 3],
                propels=propels,
                expected_ah=float(np.clip(current[first:end], 0.0, None).sum() * STEP_MIN / 60.0),
                fuel_l=hours * (3.2 if propels else 1.6),
                reason=Note("drives", {"wind_kn": 4.0}) if propels else NIGHT,
            )
        )
    return tuple(windows)


def make_losses(harvest: xr.Dataset) -> xr.Dataset:
    """Return an account in which each item takes the same part of what the one before it left."""
    per_day = STEPS_A_WATCH * 6
    left = harvest["panel_power_w"].mean("member").values.reshape(-1, per_day, len(PANELS)).sum(axis=1).T
    bank = left * STEP_MIN / 60.0
    levels = np.stack([bank / 0.95 ** (len(LOSS_ITEMS) - k) for k in range(len(LOSS_ITEMS) + 1)], axis=-1)
    arrays = {"rating_wh": levels[..., 0], "loss_wh": -np.diff(levels, axis=-1), "bank_wh": bank}
    coords = {"panel": list(PANELS), "day": np.arange(1, bank.shape[1] + 1), "item": list(LOSS_ITEMS)}
    return to_dataset(arrays, LOSSES, coords=coords, door="fixture losses")


def make_sun_views() -> tuple[SunView, ...]:
    """Return two moments: sun on the bow with one panel half in a sail's shadow, then astern with the rest clear."""
    square = ((-1.0, -0.5), (1.0, -0.5), (1.0, 0.5), (-1.0, 0.5))
    views = []
    for hours, off_bow, lit in ((1.5, -35.0, 0.55), (6.0, 178.0, 1.0)):
        shapes = [SunShape("hull", (((-7.0, -2.0), (5.0, -2.0), (5.0, 1.0), (-7.0, 1.0)),))]
        shapes.append(SunShape("sail", (((-5.0, 0.0), (0.0, 0.0), (0.0, 12.0)),), 0.1))
        panels = []
        for number, name in enumerate(PANELS):
            x = -1.2 * number
            shapes.append(SunShape("panel", (tuple((x + 0.5 * a, b) for a, b in square),)))
            if number == 0 and lit < 1.0:
                dark, half = (((x - a, -0.5), (x, -0.5), (x, 0.5), (x - a, 0.5)) for a in (0.5, 0.25))
                clear = ((x, -0.5), (x + 0.5, -0.5), (x + 0.5, 0.5), (x, 0.5))
                shapes += [SunShape("cell", (clear,), 1.0), SunShape("cell", (dark,), 0.1)]
                shapes += [SunShape("substring", (dark,)), SunShape("substring", (clear,))]
                shapes.append(SunShape("shadow", (half,), 0.1))
            facing = 0.0 if number == 5 and lit == 1.0 else 0.8
            lit_here, dim = (lit, 18) if number == 0 and lit < 1.0 else (1.0, 0)
            panels.append(SunOnPanel(name, (x, 0.0), lit_here, facing, 36, dim))
        views.append(
            SunView(
                time=DEPARTURE + timedelta(hours=hours),
                sun_azimuth_deg=(20.0 + off_bow) % 360.0,
                sun_elevation_deg=32.4,
                off_bow_deg=off_bow,
                heading_deg=20.0,
                heel_deg=-12.3,
                shapes=tuple(shapes),
                panels=tuple(panels),
            )
        )
    return tuple(views)


@cache
def make_plan() -> Plan:
    """Return the whole plan; datasets inside it must not be changed."""
    track, demand = make_track(), make_demand()
    harvest = make_harvest(track)
    policy = make_policy(track)
    ledger = make_ledger(harvest, demand, track, policy)
    mean = harvest.mean("member", keep_attrs=True).expand_dims(member=[0])
    mean = mean.assign({name: mean[name].transpose(*quantity.dims) for name, quantity in HARVEST.items()
                        if "member" in quantity.dims})  # fmt: skip
    planned = make_ledger(mean, demand.isel(member=[0]), track, policy)
    rows = tuple(_watch_row(w, track, ledger, planned, policy) for w in range(STEPS // STEPS_A_WATCH))
    whole = slice(0, STEPS)
    engine = _sum(ledger, planned, "engine_on", whole)
    return Plan(
        voyage=Voyage(
            inputs=Inputs(
                passage=make_passage(),
                boat=make_boat(),
                route=ROUTE,
                forecast=xr.Dataset(),
                files={"passage.toml": "a" * 64, "boat.toml": "b" * 64, "route.gpx": "c" * 64},
                ship_offset=SHIP_OFFSET,
                passage_file=Path("passage.toml"),
                overrides=(),
            ),
            ship_offset=SHIP_OFFSET,
            track=track,
            harvest=harvest,
            demand=demand,
            ledger=ledger,
            planned=planned,
            policy=policy,
            roles=tuple(row.role for row in rows),
        ),
        losses=make_losses(harvest),
        watches=rows,
        windows=_windows(track, planned),
        days=tuple(_day(day, track, ledger, planned) for day in range(1, 8)),
        without_engine=tuple(
            WithoutEngine(row.start, Lasts(row.dead.hours_left, None), Lasts(None, None), None)
            for row in rows[:: 144 // STEPS_A_WATCH]
        ),
        prices=tuple(
            LoadPrice(
                name=n,
                wh_per_day=w * 24.0,
                engine_min_per_hour=w / 800.0 * 60.0,
                engine_min_per_day=w * 24.0 / 800.0 * 60.0,
                shed_order=SHED.get(n),
            )
            for n, w in LOADS
        ),
        engine_hours=engine,
        charging_hours=Spread(engine.planned - 6.0, engine.p10 - 6.0, engine.p50 - 6.0, engine.p90 - 6.0),
        fuel_l=Spread(30.1, 26.2, 29.8, 34.9),
        min_soc=_spread(planned["bank_soc"].values.min(), ledger["bank_soc"].values.min(axis=1)),
        reserve_kept=ReserveKept(kept=5, members=5, low=0.65, high=1.0, confidence=0.9),
        warnings=(Note("lone_run", {"outcomes": 21}),),
        cautions=(Note("lithium"),),
        sun_views=make_sun_views(),
        fan=heading_fan_found(),
    )


def with_voyage(plan: Plan, **changes: Any) -> Plan:
    """Return the plan with parts of its voyage exchanged."""
    return replace(plan, voyage=replace(plan.voyage, **changes))


def with_inputs(plan: Plan, **changes: Any) -> Plan:
    """Return the plan with parts of its inputs exchanged."""
    return with_voyage(plan, inputs=replace(plan.voyage.inputs, **changes))


def with_card(plan: Plan) -> Plan:
    """Return a plan whose watches follow a card, but for the second of day 3, with a standing order."""
    apart = 13
    usual = (Rung(65, 0), Rung(55, 60), Rung(0, 120))
    lines = tuple(
        CardLine(
            start=watch.start,
            end=watch.end,
            loud=() if watch.start == "00:00" else (("05:00" if watch.start == "04:00" else watch.start, watch.end),),
            ladder=(Rung(0, 0),) if watch.start == "00:00" else usual,
            stop_percent=85,
            charge_current_a=58.3,
        )
        for watch in sorted(plan.passage.watches, key=lambda watch: watch.start)
    )
    rows = list(plan.watches)
    rows[apart] = replace(rows[apart], ladder=(Rung(80, 0), Rung(0, 90)))
    policy = replace(plan.policy, standing=StandingOrder(53, 60, np.ones(STEPS, dtype=np.bool_)))
    carded = with_voyage(replace(plan, watches=tuple(rows)), policy=policy)
    return replace(carded, card=Card(lines=lines, apart=(apart,), tail_a=8, dearer=0.023))
