"""What charges beside the sun: the alternator by engine speed and warmth, generators by speed, chargers by clock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.glossary import OTHER_SOURCES
from planner.domain.inputs.power import Charger, Engine, Generator
from planner.domain.schema import attributes
from planner.domain.ship_clock import ShipOffset
from planner.physics.alternator import mean_output_a
from planner.simulation.clock import in_spans

OTHER: Final = "other_offered_power_w"
USUAL_RUN_MIN: Final = 120.0  # min; a run to charge, over which warming is averaged (common practice)
WARM: Final = 5.0  # 1, time constants after which a machine counts as hot: within 1 % (closed form)


def output_over_run_a(engine: Engine, *, step_min: float) -> Floats:
    """Return the alternator's current in each step of a run begun cold; it is the same at any volts that are held.

    Parameters
    ----------
    engine : Engine
        From the boat file.
    step_min : float
        Length of a step [min].

    Returns
    -------
    array (2, step since the start)
        Charging out of gear, driving the boat; the last holds from there on. 0 when not available [A].
    """
    steps = math.ceil(WARM * engine.warm_up_min / step_min)
    edges = [*(step_min * step for step in range(steps + 1)), math.inf]
    return np.array([[_mean_a(engine, rpm, *part) for part in pairwise(edges)] for rpm in _speeds(engine)])


def output_at_a(engine: Engine, minute: float) -> float:
    """Return the alternator's current out of gear at a minute of a run begun cold [A]."""
    return _mean_a(engine, engine.charging_rpm, minute - 0.5, minute + 0.5)


def alternator_a(under_engine: npt.NDArray[np.bool_], engine: Engine) -> Floats:
    """Return the alternator's current while the engine runs.

    A run to charge is taken at its mean over two hours begun cold, at charging speed; driving the boat, which takes
    long, at the hot output at motoring speed. So the current does not depend on how long the run has lasted: it is
    what a run is decided by.

    Parameters
    ----------
    under_engine : bool array (time,)
        Steps in which the engine drives the boat.
    engine : Engine
        From the boat file.

    Returns
    -------
    array (time,)
        0 when the engine is not available [A].
    """
    charging, motoring = _speeds(engine)
    return np.where(
        under_engine, _mean_a(engine, motoring, 0.0, np.inf), _mean_a(engine, charging, 0.0, USUAL_RUN_MIN)
    )


def _speeds(engine: Engine) -> tuple[float, float]:
    return engine.charging_rpm, engine.motoring_rpm


def _mean_a(engine: Engine, rpm: float, from_min: float, until_min: float) -> float:
    """Return the mean current at an engine speed between two minutes of a run begun cold [A]."""
    if not engine.available:
        return 0.0
    table = engine.output_by_rpm
    part = float(np.interp(rpm, table.rpm, table.value)) if table else 1.0
    cold_a = engine.alternator_a * part
    return mean_output_a(
        cold_a=cold_a,
        hot_a=cold_a * engine.hot_fraction,
        limit_a=engine.regulator_limit_a if engine.regulator_limit_a is not None else np.inf,
        warm_up_min=engine.warm_up_min,
        from_min=from_min,
        until_min=until_min,
    )


def with_other_sources(
    track: xr.Dataset,
    *,
    generators: Sequence[Generator],
    chargers: Sequence[Charger],
    ship_offset: ShipOffset,
) -> xr.Dataset:
    """Return the track with what generators and chargers offer along it.

    Parameters
    ----------
    track : xarray.Dataset
        For speed, apparent wind and ``under_engine``.
    generators, chargers
        From the boat file.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.

    Returns
    -------
    xarray.Dataset
        With ``glossary.OTHER_SOURCES`` added; the track itself where there is nothing to add.
    """
    if not generators and not chargers:
        return track
    offered = np.zeros(track.sizes["time"])
    sailing = track["under_engine"].values <= 0
    for generator in generators:
        towed = generator.driven_by == "boat_speed"
        speed_kn = track["speed_through_water_kn" if towed else "apparent_wind_speed_kn"].values
        output = generator.output
        turned = np.interp(speed_kn, output.speed_kn, output.watts, left=0.0)
        offered += turned * sailing if towed else turned
    for charger in chargers:
        offered += charger.output_w * in_spans(track["time"].values, charger.hours, ship_offset)
    quantity = OTHER_SOURCES[OTHER]
    return track.assign({OTHER: xr.Variable(quantity.dims, offered, attributes(quantity))})


def other_offered_w(track: xr.Dataset) -> Floats:
    """Return what generators and chargers offer in each step, (time,); none where the track does not say [W]."""
    return track[OTHER].values if OTHER in track else np.zeros(track.sizes["time"])
