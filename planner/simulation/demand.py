"""What the loads ask for along the track, and where deferrable loads fall in the sun's surplus."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.boat import Autopilot
from planner.domain.glossary import DEMAND
from planner.domain.passage import Watch
from planner.domain.power import Controller, Load
from planner.domain.schema import to_dataset
from planner.domain.units import SECONDS_PER_HOUR
from planner.simulation.clock import in_spans, step_seconds, watch_of_step

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

STEERING: Final = "steering"
IDLE: Final = "controllers"
RESERVED_NAMES: Final = (STEERING, IDLE)
"""Coordinates along ``load`` that are no load of the boat file."""

RATED_AIR_C: Final = 25.0  # degree Celsius; a fridge's draw is stated at
LEAST_FRIDGE_DRAW: Final = 0.2  # 1; of the stated draw, however cold: what its fan and board take (common practice)
SEAWAY_FROM_KN: Final = 15.0  # kn; above, each knot adds to the autopilot's work
DAY_S: Final = 86400.0  # s, exact
SURPLUS_DECIMALS: Final = 6  # of a watt: finer differences are rounding, not sun


def demand(
    track: xr.Dataset,
    harvest: xr.Dataset,
    *,
    loads: Sequence[Load],
    autopilot: Autopilot,
    controllers: Sequence[Controller],
    nominal_v: float,
    watches: Sequence[Watch],
    ship_offset: timedelta,
) -> xr.Dataset:
    """Return what all loads ask for, member by member, and what each asks for on average.

    Deferrable loads are placed last, in the order of the boat file, each in what surplus those before it leave.

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
    ship_offset : timedelta
        Ship's time less UTC.

    Returns
    -------
    xarray.Dataset
        ``glossary.DEMAND``; ``load`` holds the loads' names, then "steering" and "controllers".
    """
    members = harvest.sizes["member"]
    steps = track.sizes["time"]
    air_c = harvest["air_temp_c"].values
    items = np.zeros((steps, len(loads) + len(RESERVED_NAMES)))
    items[:, -2] = steering_w(track, autopilot)
    items[:, -1] = sum(controller.idle_w for controller in controllers)
    total = np.tile(items[:, -2] + items[:, -1], (members, 1))
    on = [_on(load, track, harvest, watches, ship_offset) for load in loads]
    for index, load in enumerate(loads):
        if load.wh_per_day is None:
            asked = _draw_w(load, nominal_v) * on[index] * _warmth(load, air_c)
            items[:, index] = asked.mean(axis=0)
            total += asked
    offered = harvest["controller_power_w"].sum("controller").values
    surplus = (offered - total).mean(axis=0)
    for index, load in enumerate(loads):
        if load.wh_per_day is not None:
            placed = place_in_surplus(
                surplus,
                on[index],
                draw_w=_draw_w(load, nominal_v),
                wh_per_day=load.wh_per_day,
                step_s=step_seconds(track),
            )
            items[:, index] = placed
            total += placed
            surplus = surplus - placed
    return to_dataset(
        {"demand_power_w": total, "load_item_power_w": items},
        DEMAND,
        coords={
            "member": harvest["member"].values,
            "time": track["time"].values,
            "load": [*(load.name for load in loads), *RESERVED_NAMES],
        },
        door="demand",
    )


def steering_w(track: xr.Dataset, autopilot: Autopilot) -> Floats:
    """Return what steering draws: the autopilot by true wind angle and wind, or under engine.

    A wind vane hands over to the autopilot under engine; by hand nothing is drawn.

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
    return drawn


def place_in_surplus(surplus_w: Floats, may_run: Bools, *, draw_w: float, wh_per_day: float, step_s: float) -> Floats:
    """Return a deferrable load placed, each passage day, in the steps of largest surplus; earlier ones on a tie.

    The day's energy is met exactly, the last step taking what is left over, unless too few steps allow it. Runs need
    not be in one piece. A last day that is not whole takes its part.

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
        allowed = first + np.flatnonzero(may_run[day])
        best = allowed[np.argsort(-np.round(surplus_w[allowed], SURPLUS_DECIMALS), kind="stable")]
        placed[best] = draw_w * np.clip(steps_needed - np.arange(best.size), 0.0, 1.0)
    return placed


def _draw_w(load: Load, nominal_v: float) -> float:
    """Return the mean draw of a load while it is on [W]."""
    watts = load.watts if load.watts is not None else (load.amps or 0.0) * nominal_v
    return watts * load.duty


def _warmth(load: Load, air_c: Floats) -> Floats:
    """Return the factor by which warm or cold air changes the draw, (member, time) [1]."""
    if load.per_c == 0.0:
        return np.ones_like(air_c)
    return np.maximum(1.0 + load.per_c * (air_c - RATED_AIR_C), LEAST_FRIDGE_DRAW)


def _on(
    load: Load, track: xr.Dataset, harvest: xr.Dataset, watches: Sequence[Watch], ship_offset: timedelta
) -> Bools:
    """Return the steps in which a load is on, or a deferrable one may run, (time,)."""
    time = track["time"].values
    motoring = track["under_engine"].values > 0
    on: Bools = track["true_wind_speed_kn"].values >= load.above_wind_kn
    if load.when == "night":
        on = on & (harvest["sun_elevation_deg"].values <= 0.0)
    elif load.when == "sailing":
        on = on & ~motoring
    elif load.when == "engine":
        on = on & motoring
    elif load.when == "watch":
        stands = np.array([watch.role in load.roles for watch in watches])
        on = on & stands[watch_of_step(time, watches, ship_offset)]
    if load.hours:
        on = on & in_spans(time, load.hours, ship_offset)
    return on
