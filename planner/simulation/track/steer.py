"""The same hours of a track on another heading: in the same wind, sea and place, sailed and trimmed anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.domain.arrays import Floats
from planner.domain.inputs.passage import Current
from planner.domain.inputs.route import Leg, Route
from planner.domain.inputs.sailing import Sailing
from planner.domain.units import SECONDS_PER_HOUR
from planner.physics.sailing.boards import course_made_good
from planner.physics.sailing.polar import read_table
from planner.physics.sailing.wind import apparent_wind, apparent_wind_in_step
from planner.simulation.clock import step_seconds
from planner.simulation.track.helm import (
    CONVERGED_DEG,
    ROUNDS,
    Vessel,
    driven_on,
    drives,
    in_irons,
    may_drive,
    sailing_speed,
)
from planner.simulation.track.orders import speeds_by_leg, vessel_of
from planner.simulation.track.trim import trim_of

if TYPE_CHECKING:
    import xarray as xr


def steer(
    track: xr.Dataset,
    heading_deg: Floats,
    tack: Floats,
    *,
    sailing: Sailing,
    current: Current,
    fixed_kn: Floats,
    driven_h: float | Floats = 0.0,
) -> xr.Dataset:
    """Return a track, or several end to end, with other headings held.

    Positions, leg and distances stay those of the track: the hours are set beside it, not after it. She sails at the
    polar's speed, or a leg's fixed one, with her leeway, and at the track's pace where that is slowed for a wanted
    arrival. Nearer the wind than her best angle, or where the helm's rule for speed and wind has the engine drive,
    with its margin and shortest run, she motors straight on with the sails down; where the engine may not drive, she
    has no way on nearer the wind. At anchor or hove-to she lies as she does.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it; of tracks end to end the attribute ``pace`` may be an array (time,) [1].
    heading_deg : array (time,)
        To be held, true [degree].
    tack : array (time,)
        +1 starboard, -1 port; may be the tack of a sail by the lee.
    sailing : Sailing
        From the boat file.
    current : Current
        From the passage file; what the track itself tells of the current stands before it.
    fixed_kn : array (time,)
        Speed through water where the leg fixes it; NaN: the polar's [kn].
    driven_h : float or array (time,)
        How long the engine has driven without a break as the hours begin, 0 where it does not; of tracks end to end
        in the first step of each, NaN in the others [h].

    Returns
    -------
    xarray.Dataset
        The glossary's TRACK.
    """
    heading = np.asarray(heading_deg, dtype=np.float64) % 360.0
    wind, from_deg = (track[name].values.astype(np.float64) for name in ("true_wind_speed_kn", "true_wind_from_deg"))
    angle = (from_deg - heading + 180.0) % 360.0 - 180.0
    moving = track["lying"].values == 0 if "lying" in track else np.ones(heading.size, dtype=np.bool_)
    begins_h = np.asarray(driven_h, dtype=np.float64)
    if not begins_h.ndim:
        begins_h = np.append(begins_h, np.full(heading.size - 1, np.nan))
    through, leeway, engine = _hold(
        vessel_of(sailing),
        np.broadcast_to(np.asarray(track.attrs.get("pace", 1.0), dtype=np.float64), heading.shape),
        wind,
        angle,
        np.asarray(tack, dtype=np.float64),
        fixed_kn,
        moving,
        step_seconds(track) / SECONDS_PER_HOUR,
        begins_h,
    )
    course, ground = course_made_good(heading + leeway, through, *_set_and_drift(track, current))
    felt_kn, felt_deg = apparent_wind(wind, angle, through, leeway)
    variation = track["heading_deg"].values - track["heading_magnetic_deg"].values
    sailed: dict[str, Floats] = {
        "heading_deg": heading,
        "course_deg": course,
        "speed_over_ground_kn": ground,
        "speed_through_water_kn": through,
        "true_wind_angle_deg": angle,
        "apparent_wind_speed_kn": felt_kn,
        "apparent_wind_angle_deg": felt_deg,
        "tack": np.asarray(tack, dtype=np.float64),
        "leeway_deg": leeway,
        "under_engine": engine,
    }
    arrays: dict[str, npt.NDArray[Any]] = {
        **sailed,
        **trim_of(sailing, sailed),
        "heading_magnetic_deg": (heading - variation) % 360.0,
    }
    return track.assign(
        {
            name: (
                track[name].dims,
                np.where(moving, values, track[name].values).astype(track[name].dtype),
                track[name].attrs,
            )
            for name, values in arrays.items()
        }
    )


def fixed_speeds(track: xr.Dataset, route: Route, legs: tuple[Leg, ...]) -> Floats:
    """Return the speed that each step's leg fixes, NaN where it does not, (time,) [kn]."""
    speeds: Floats = speeds_by_leg(route, legs)[track["leg"].values]
    return speeds


def _set_and_drift(track: xr.Dataset, current: Current) -> tuple[Floats, Floats]:
    """Return the current in each step, (time,): direction it sets toward [degree], drift [kn]."""
    if "current_set_deg" in track:
        return track["current_set_deg"].values, track["current_drift_kn"].values
    steps = track.sizes["time"]
    return np.full(steps, float(current.set_deg)), np.full(steps, float(current.drift_kn))


@njit(cache=True)
def _hold(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    vessel: Vessel,
    pace: Floats,
    wind_kn: Floats,
    angle_deg: Floats,
    tack: Floats,
    fixed_kn: Floats,
    moving: npt.NDArray[np.bool_],
    step_h: float,
    begins_h: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Return speed through water, leeway and whether the engine drives, (time,) each, by the helm's rules."""
    through, leeway, engine = np.zeros(wind_kn.size), np.zeros(wind_kn.size), np.zeros(wind_kn.size)
    driven_h = 0.0
    for step in range(wind_kn.size):
        if not np.isnan(begins_h[step]):
            driven_h = begins_h[step]
        angle, wind = angle_deg[step], wind_kn[step]
        sailed = sailing_speed(vessel, abs(angle), wind)
        pinched = in_irons(vessel, abs(angle), wind)
        free = np.isnan(fixed_kn[step])
        motors = moving[step] and may_drive(vessel) and (pinched or drives(vessel, wind, driven_h, sailed))
        engine[step] = 1.0 if motors else 0.0
        driven_h = driven_on(driven_h, engine[step], step_h)
        if motors:
            through[step] = pace[step] * (vessel.motoring_kn if free else min(fixed_kn[step], vessel.motoring_kn))
            continue
        if pinched:
            continue
        through[step] = pace[step] * (sailed if free else fixed_kn[step])
        for _ in range(ROUNDS):
            _, felt = apparent_wind_in_step(wind, angle, through[step], leeway[step])
            after = -tack[step] * read_table(vessel.leeway_angle_deg, vessel.leeway_size_deg, abs(felt))
            moved = abs(after - leeway[step])
            leeway[step] = after
            if moved < CONVERGED_DEG:
                break
    return through, leeway, engine
