"""What the skipper must know of a track: where it reaches beyond what is known, and where she gains too little."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.route import Route, Thinned, places_of
from planner.domain.inputs.sailing import Sailing
from planner.domain.results.note import Note
from planner.domain.units import M_PER_NM
from planner.domain.utc import from_numpy
from planner.physics.sailing.magnetism import BLIND_NT, FIRST_MODEL, LAST_MODEL, MODEL_YEARS, STEADY_NT
from planner.physics.sailing.sailings import great_circle
from planner.simulation.clock import step_seconds
from planner.simulation.track.helm import sailing_speed
from planner.simulation.track.orders import speeds_by_leg, vessel_of

if TYPE_CHECKING:
    import xarray as xr

LONG_LEG_NM: Final = 5400.0  # nm, a quarter of the way round the world
WATCH_H: Final = 4.0  # h, the usual watch (common practice)
LEAST_GAIN_KN: Final = 1.0  # kn, as ``engine_below_made_good_kn`` unless told otherwise
FAR_OFF: Final = 2.0  # 1: a fixed speed more than twice the polar's is the skipper's word against the table's


def track_warnings(track: xr.Dataset, passage: Passage, sailing: Sailing, route: Route) -> list[Note]:
    """Return notes on waits that are missed, wind beyond the polar, fixed speeds far from it, and slow progress.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it.
    passage, sailing, route
        What was sailed.
    """
    step_h = step_seconds(track) / 3600.0
    lies = track["lying"].values > 0 if "lying" in track else np.zeros(track.sizes["time"], dtype=np.bool_)
    sails = (track["under_engine"].values == 0) & ~lies
    wind = track["true_wind_speed_kn"].values
    end_kn = sailing.polar.true_wind_speed_kn[-1]
    notes = _missed(track, passage, route, lies)
    beyond = sails & (wind > end_kn)
    if beyond.any():
        figures = {"hours": float(beyond.sum()) * step_h, "end_kn": end_kn, "most_kn": float(wind[beyond].max())}
        notes.append(Note("beyond_polar", figures))
    notes += _fixed_far_off(track, passage, sailing, route, sails)
    return notes + _slow(track, lies, step_h)


def route_warnings(route: Route, thinned: Thinned | None) -> list[Note]:
    """Return notes on legs so long that a sign may be wrong, and on a route that was thinned.

    Parameters
    ----------
    route : Route
        As it is sailed.
    thinned : Thinned or None
        What it had before.
    """
    lats, lons = (np.array([getattr(waypoint, axis) for waypoint in route]) for axis in ("lat", "lon"))
    lengths_nm = great_circle(lats[:-1], lons[:-1], lats[1:], lons[1:])[0] / M_PER_NM
    notes = [
        Note("leg_long", {"leg_nm": lengths_nm[leg], "begin": route[leg].name, "end": route[leg + 1].name})
        for leg in np.flatnonzero(lengths_nm > LONG_LEG_NM).tolist()
    ]
    if thinned is not None:
        notes.append(Note("route_thinned", {"points": thinned.points, "kept": len(route), "off_nm": thinned.off_nm}))
    return notes


def compass_warnings(years: Floats, horizontal_nt: Floats, step_h: float) -> list[Note]:
    """Return notes on a magnetic model run on beyond its years, and on a field too weak to steer by.

    Parameters
    ----------
    years : array (n,)
        Rising, of the passage [a].
    horizontal_nt : array (time,)
        The field's horizontal part [nT].
    step_h : float
        Step [h].
    """
    notes = []
    first, end = FIRST_MODEL, LAST_MODEL + MODEL_YEARS
    if years[0] < first or years[-1] >= end:
        notes.append(Note("variation", {"first": first, "end": end, "year": int(years[0])}))
    if horizontal_nt.min() < STEADY_NT:
        figures = {
            "weak_h": float((horizontal_nt < STEADY_NT).sum()) * step_h,
            "blind_h": float((horizontal_nt < BLIND_NT).sum()) * step_h,
            "least_nt": float(horizontal_nt.min()),
        }
        notes.append(Note("compass_weak", figures))
    return notes


def _missed(track: xr.Dataset, passage: Passage, route: Route, lies: Bools) -> list[Note]:
    """Return a note for every wait that is over before the boat comes."""
    waited = set(track["leg"].values[lies].tolist())
    timed = [(wait, places_of(route, wait.at_waypoint)[0]) for wait in passage.waits if wait.until is not None]
    return [
        Note("wait_missed", {"waypoint": route[at].name, "until": wait.until})
        for wait, at in timed
        if at not in waited
    ]


def _fixed_far_off(track: xr.Dataset, passage: Passage, sailing: Sailing, route: Route, sails: Bools) -> list[Note]:
    """Return a note where a leg's fixed speed is sailed that the polar is far from giving."""
    fixed = speeds_by_leg(route, passage.legs)[track["leg"].values]
    rows = np.flatnonzero(sails & np.isfinite(fixed))
    vessel = vessel_of(sailing)
    angle, wind = np.abs(track["true_wind_angle_deg"].values), track["true_wind_speed_kn"].values
    given = np.array([sailing_speed(vessel, angle[row], wind[row]) for row in rows])
    far = fixed[rows] > FAR_OFF * given
    if not far.any():
        return []
    figures: dict[str, Any] = {
        "hours": float(far.sum()) * step_seconds(track) / 3600.0,
        "fixed_kn": float(fixed[rows][far].max()),
        "polar_kn": float(given[far].min()),
    }
    return [Note("fixed_over_polar", figures)]


def _slow(track: xr.Dataset, lies: Bools, step_h: float) -> list[Note]:
    """Return a note where she gains under a knot toward the destination for a watch on end, under way throughout."""
    watch = round(WATCH_H / step_h)
    to_go = track["distance_to_go_nm"].values
    if to_go.size <= watch:
        return []
    still = np.convolve(lies, np.ones(watch), mode="valid")[: to_go.size - watch] > 0
    gained_kn = (to_go[:-watch] - to_go[watch:]) / WATCH_H
    slow = (gained_kn < LEAST_GAIN_KN) & ~still
    if not slow.any():
        return []
    held = np.convolve(slow, np.ones(watch))[: to_go.size] > 0
    least = int(np.argmin(np.where(slow, gained_kn, np.inf)))
    figures = {
        "first": from_numpy(track["time"].values[int(np.argmax(slow))]),
        "hours": float(held.sum()) * step_h,
        "least_kn": float(gained_kn[least]),
    }
    return [Note("slow_progress", figures)]
