"""What the loads ask for along the track, and where deferrable loads fall in the sun's surplus."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.arrays import Bools, Floats
from planner.domain.glossary import DEMAND
from planner.domain.inputs.passage import Watch
from planner.domain.inputs.power import Controller, Inverter, Load, SecondaryBank
from planner.domain.inputs.sailing import Autopilot
from planner.domain.schema import to_dataset
from planner.domain.ship_clock import ShipOffset
from planner.domain.units import SECONDS_PER_HOUR
from planner.simulation.clock import changes_of_watch, in_spans, roles_of_watches, step_seconds

STEERING: Final = "steering"
IDLE: Final = "controllers"
INVERTER: Final = "inverter"
RESERVED_NAMES: Final = (STEERING, IDLE, INVERTER)
"""Coordinates along ``load`` that are no load of the boat file."""

RATED_AIR_C: Final = 25.0  # degree Celsius; a fridge's draw is stated at
LEAST_FRIDGE_DRAW: Final = 0.2  # 1; of the stated draw, however cold: what its fan and board take (common practice)
SEAWAY_FROM_KN: Final = 15.0  # kn; above, each knot adds to the autopilot's work
DAY_S: Final = 86400.0  # s, exact
SURPLUS_DECIMALS: Final = 6  # of a watt: finer differences are rounding, not sun
SECONDS_PER_MINUTE: Final = 60.0  # s/min, exact
RUN_SLACK: Final = 1e-9  # of a step or a run: rounding must not cost or add one


def demand(
    track: xr.Dataset,
    harvest: xr.Dataset,
    *,
    loads: Sequence[Load],
    autopilot: Autopilot,
    controllers: Sequence[Controller],
    nominal_v: float,
    watches: Sequence[Watch],
    ship_offset: ShipOffset,
    watchkeepers: Sequence[str] = (),
    inverter: Inverter | None = None,
    secondary_banks: Sequence[SecondaryBank] = (),
    surplus_w: Floats | None = None,
) -> xr.Dataset:
    """Return what all loads ask for, member by member, and what each asks for on average.

    Deferrable loads are placed last, in the order of the boat file and the chargers of secondary banks after them,
    each in what surplus those before it leave. The inverter idles while any of its loads draws.

    Parameters
    ----------
    track, harvest : xarray.Dataset
        As the glossary has them.
    loads, autopilot, controllers
        From the boat file.
    nominal_v : float
        Of the bank, for loads in amperes [V].
    watches : sequence of Watch
        For loads by watch.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    watchkeepers : sequence of str
        They stand the watches in turn, if any.
    inverter : Inverter, optional
        For loads marked ``ac``.
    secondary_banks : sequence of SecondaryBank
        Charged from the house bank.
    surplus_w : array (time,), optional
        Sun less the loads that cannot wait, by which deferrable ones are placed; the members' mean when None [W].

    Returns
    -------
    xarray.Dataset
        ``glossary.DEMAND``; ``load`` holds the loads' names, those of the secondary banks, then "steering",
        "controllers" and, where there is one, "inverter".
    """
    loads = (*loads, *(_charging(bank) for bank in secondary_banks))
    own = (STEERING, IDLE, INVERTER) if inverter else (STEERING, IDLE)
    members = harvest.sizes["member"]
    steps = track.sizes["time"]
    air_c = harvest["air_temp_c"].values
    items = np.zeros((steps, len(loads) + len(own)))
    items[:, len(loads)] = steering_w(track, autopilot)
    items[:, len(loads) + 1] = sum(controller.idle_w for controller in controllers)
    total = np.tile(items.sum(axis=1), (members, 1))
    first, end, watch_index = changes_of_watch(track["time"].values, watches, ship_offset)
    roles = np.repeat(roles_of_watches(watch_index, watches, watchkeepers), end - first)
    on = [_on(load, track, harvest, roles, ship_offset) for load in loads]
    for index, load in enumerate(loads):
        if load.wh_per_day is None:
            asked = _draw_w(load, nominal_v, inverter) * on[index] * _warmth(load, air_c)
            items[:, index] = asked.mean(axis=0)
            total += asked
    offered = harvest["controller_power_w"].sum("controller").values
    surplus = (offered - total).mean(axis=0) if surplus_w is None else surplus_w
    for index, load in enumerate(loads):
        if load.wh_per_day is not None:
            placed = place_in_surplus(
                surplus,
                on[index],
                draw_w=_draw_w(load, nominal_v, inverter),
                wh_per_day=load.wh_per_day / _passed_on(load, inverter),
                min_run_min=load.min_run_min,
                step_s=step_seconds(track),
            )
            items[:, index] = placed
            total += placed
            surplus = surplus - placed
    if inverter:
        fed = [index for index, load in enumerate(loads) if load.ac]
        items[:, -1] = inverter.idle_w * (items[:, fed] > 0.0).any(axis=1)
        total += items[:, -1]
    return to_dataset(
        {"demand_power_w": total, "load_item_power_w": items},
        DEMAND,
        coords={
            "member": harvest["member"].values,
            "time": track["time"].values,
            "load": [*(load.name for load in loads), *own],
        },
        door="demand",
    )


def expected_surplus_w(harvest: xr.Dataset, asked: xr.Dataset, loads: Sequence[Load]) -> Floats:
    """Return the sun less the loads that cannot wait, mean over members, by which ``demand`` placed the others.

    Parameters
    ----------
    harvest, asked : xarray.Dataset
        What the sun brings, and what ``demand`` returned for it.
    loads : sequence of Load
        From the boat file.

    Returns
    -------
    array (time,)
        [W].
    """
    cannot_wait = [load.name for load in loads if load.wh_per_day is None]
    items = asked["load_item_power_w"].sel(load=[*cannot_wait, STEERING, IDLE])
    offered = harvest["controller_power_w"].sum("controller").mean("member")
    surplus: Floats = offered.values - items.sum("load").values
    return surplus


def steering_w(track: xr.Dataset, autopilot: Autopilot) -> Floats:
    """Return what steering draws: the autopilot by true wind angle and wind, or under engine.

    A wind vane hands over to the autopilot under engine; by hand nothing is drawn, nor at anchor and hove-to.

    Parameters
    ----------
    track : xarray.Dataset
        For the true wind and ``under_engine``.
    autopilot : Autopilot
        From the boat file.

    Returns
    -------
    array (time,)
        [W].
    """
    motoring = track["under_engine"].values > 0
    table = autopilot.watts
    under_sail = np.interp(np.abs(track["true_wind_angle_deg"].values), table.angle_deg, table.value)
    under_sail += autopilot.watts_per_kn * np.maximum(track["true_wind_speed_kn"].values - SEAWAY_FROM_KN, 0.0)
    steered_sailing = 1.0 if autopilot.steering == "autopilot" else 0.0
    steered_motoring = 0.0 if autopilot.steering == "hand" else 1.0
    drawn: Floats = np.where(
        motoring, steered_motoring * autopilot.watts_under_engine, steered_sailing * np.maximum(under_sail, 0.0)
    )
    return drawn * _under_way(track)


def _under_way(track: xr.Dataset) -> Bools:
    """Return the steps in which the boat neither lies at anchor nor hove-to, (time,)."""
    if "lying" not in track:
        return np.ones(track.sizes["time"], dtype=np.bool_)
    under_way: Bools = track["lying"].values == 0
    return under_way


def place_in_surplus(
    surplus_w: Floats, may_run: Bools, *, draw_w: float, wh_per_day: float, step_s: float, min_run_min: int = 0
) -> Floats:
    """Return a deferrable load placed, each passage day, where the surplus is largest; earlier on a tie.

    The day's energy is met exactly, a last step taking what is left over, unless too few steps allow it. Without a
    shortest run it goes into the best steps, wherever they lie. With one it is cut into as many equal runs as it has
    shortest runs in it, one at least, each placed in turn where an unbroken run has most surplus; a run that finds no
    room is dropped. A last day that is not whole takes its part.

    Parameters
    ----------
    surplus_w : array (time,)
        Sun less the other loads [W].
    may_run : bool array (time,)
        Steps in which the load may run.
    draw_w : float
        While it runs [W].
    wh_per_day : float
        Energy needed in 24 hours [Wh].
    step_s : float
        Step [s].
    min_run_min : int
        Shortest run [min]; 0 for none.

    Returns
    -------
    array (time,)
        [W].
    """
    step_h = step_s / SECONDS_PER_HOUR
    day_steps = round(DAY_S / step_s)
    placed = np.zeros(surplus_w.size)
    for first in range(0, surplus_w.size, day_steps):
        day = slice(first, min(first + day_steps, surplus_w.size))
        steps_needed = wh_per_day * (day.stop - day.start) / day_steps / (draw_w * step_h)
        ranked = np.round(surplus_w[day], SURPLUS_DECIMALS)
        if min_run_min:
            shortest = min_run_min * SECONDS_PER_MINUTE / step_s
            runs = max(int(steps_needed / shortest + RUN_SLACK), 1)
            placed[day] = draw_w * _runs(ranked, may_run[day], runs=runs, length=steps_needed / runs)
        else:
            allowed = np.flatnonzero(may_run[day])
            best = first + allowed[np.argsort(-ranked[allowed], kind="stable")]
            placed[best] = draw_w * np.clip(steps_needed - np.arange(best.size), 0.0, 1.0)
    return placed


def _runs(surplus_w: Floats, may_run: Bools, *, runs: int, length: float) -> Floats:
    """Return the part of each step that a load runs, in unbroken runs of a length in steps, (time,) [0..1]."""
    free = may_run.copy()
    part = np.zeros(surplus_w.size)
    shape = np.clip(length - np.arange(math.ceil(length - RUN_SLACK)), 0.0, 1.0)  # the last step may be a part
    if shape.size > free.size:
        return part
    for _ in range(runs):
        fits = np.lib.stride_tricks.sliding_window_view(free, shape.size).all(axis=1)
        if not fits.any():
            break
        gain_w = np.convolve(surplus_w, shape[::-1], mode="valid")
        start = int(np.argmax(np.where(fits, np.round(gain_w, SURPLUS_DECIMALS), -np.inf)))
        part[start : start + shape.size] = shape
        free[start : start + shape.size] = False
    return part


def _charging(bank: SecondaryBank) -> Load:
    """Return the charger of a secondary bank as a deferrable load with its bank's need and its own loss."""
    return Load(
        name=bank.name,
        watts=bank.charger_w,
        when=bank.when,
        wh_per_day=bank.need_wh_per_day / bank.charger_efficiency,
    )


def _passed_on(load: Load, inverter: Inverter | None) -> float:
    """Return the part of what a load draws at the bus that reaches it [0..1]."""
    return inverter.efficiency if load.ac and inverter else 1.0


def rated_draw_w(load: Load, nominal_v: float, inverter: Inverter | None) -> float:
    """Return what a load draws at the bus while it runs [W].

    Parameters
    ----------
    load, inverter
        From the boat file.
    nominal_v : float
        Of the bank, for loads in amperes [V].
    """
    watts = load.watts if load.watts is not None else (load.amps or 0.0) * nominal_v
    return watts / _passed_on(load, inverter)


def _draw_w(load: Load, nominal_v: float, inverter: Inverter | None) -> float:
    """Return the mean draw of a load at the bus while it is on [W]."""
    return rated_draw_w(load, nominal_v, inverter) * load.duty


def _warmth(load: Load, air_c: Floats) -> Floats:
    """Return the factor by which warm or cold air changes the draw, (member, time) [1]."""
    if load.per_c == 0.0:
        return np.ones_like(air_c)
    return np.maximum(1.0 + load.per_c * (air_c - RATED_AIR_C), LEAST_FRIDGE_DRAW)


def _on(
    load: Load, track: xr.Dataset, harvest: xr.Dataset, roles: npt.NDArray[np.str_], ship_offset: ShipOffset
) -> Bools:
    """Return the steps in which a load is on, or a deferrable one may run, (time,), by the ``roles`` on watch."""
    time = track["time"].values
    motoring = track["under_engine"].values > 0
    on: Bools = track["true_wind_speed_kn"].values >= load.above_wind_kn
    if load.when == "night":
        on = on & (harvest["sun_elevation_deg"].values <= 0.0)
    elif load.when == "sailing":
        on = on & ~motoring & _under_way(track)
    elif load.when == "engine":
        on = on & motoring
    elif load.when == "watch":
        on = on & np.isin(roles, load.roles)
    if load.hours:
        on = on & in_spans(time, load.hours, ship_offset)
    return on
