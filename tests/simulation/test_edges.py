"""The rules of helm, clock and warnings at their edges: one table, a row a rule, and both sides of each edge."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from datetime import timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import xarray as xr
from sailing_case import DEPARTURE, boat, passage, route

from planner.domain.errors import InputError
from planner.physics.sailing.polar import boat_speed
from planner.physics.sailing.wind import held_tack
from planner.readers.route import LONGEST_LEG_NM, THINNED_NM, passage_route
from planner.readers.thinning import NM_PER_RAD, thinned
from planner.readers.waypoints import Mark
from planner.simulation.ship_time import WELL_PAST_DEG, ship_offset_along
from planner.simulation.track.helm import Air, Memory, choose
from planner.simulation.track.orders import vessel_of
from planner.simulation.track.warnings import compass_warnings, route_warnings, track_warnings

NO_LEEWAY = {"angle_deg": [0.0, 180.0], "value": [0.0, 0.0]}
HALF = {
    "true_wind_speed_kn": [0.0, 20.0],
    "true_wind_angle_deg": [40.0, 160.0],
    "speed_kn": [[0.0, 10.0], [0.0, 10.0]],
}
"""Half of the wind's speed from 40 degrees on, so that 40 is the best angle upwind and every figure is plain."""
PLAIN = {"polar": HALF, "comfort_factor": 1.0, "leeway_deg": NO_LEEWAY, "board_h": 2.0}
NO_ENGINE = {**PLAIN, "engine_below_kn": 0.0}
TO_WINDWARD = 10.0 * math.cos(math.radians(40.0)) / 2.0  # kn, made good in 10 kn of wind
START = Memory(side=0.0, board_h=0.0, board_from_deg=0.0, tack=1.0, driven_h=0.0)


def does(
    sailing: dict[str, Any] = PLAIN,
    *,
    wind_kn: float = 10.0,
    from_deg: float = 0.0,
    foul_kn: float = 0.0,
    off_nm: float = 0.0,
    fixed_kn: float = math.nan,
    **memory: float,
) -> str:
    """Say what the helm does with a mark in the north: sail straight, a board to a side, motor, or lie held."""
    motion = choose(
        vessel_of(boat(**sailing).sailing),
        Air(wind_kn, from_deg % 360.0, 180.0, foul_kn),
        START._replace(**memory),
        off_nm,
        0.0,
        fixed_kn,
    )
    if not motion.ground_kn >= 0.0:
        return "held"
    if motion.engine:
        return f"motors at {motion.through_kn:.2f}"
    return {-1.0: "left board", 0.0: "straight", 1.0: "right board"}[motion.side]


def lon_run(*lons: float, days: float = 8.0) -> xr.Dataset:
    """Run through longitudes at an even rate of change between them, which may pass 180."""
    steps = round(days * 144)
    lon = np.interp(np.linspace(0.0, len(lons) - 1.0, steps), np.arange(len(lons)), lons)
    time = DEPARTURE + np.arange(steps) * np.timedelta64(10, "m")
    return xr.Dataset({"lon": ("time", (lon + 180.0) % 360.0 - 180.0)}, {"time": time}, {"step_s": 600.0})


def clock_changes(past_deg: float) -> int:
    """Count how often the clock is put right when she is past an edge each afternoon, so far, and back by night."""
    nautical = passage(ship_time={"zone": "nautical"})
    past = 172.5 + past_deg
    there_and_back = lon_run(*[172.0, past, past, 172.0] * 8, 172.0)
    clock = ship_offset_along(nautical, there_and_back, timedelta(hours=11))
    return len(getattr(clock, "changes", ()))


def noted(code: str, **changes: Any) -> bool:
    """Return whether six hours of reaching with changed figures have a note."""
    figures = {"true_wind_speed_kn": 12.0, "true_wind_angle_deg": 90.0, "gain_kn": 5.0, "fixed_kn": None, **changes}
    given = passage(
        legs=[] if figures["fixed_kn"] is None else [{"from_waypoint": 1, "speed_kn": figures["fixed_kn"]}]
    )
    hours = np.arange(36) / 6.0
    along = {
        "true_wind_speed_kn": np.full(36, figures["true_wind_speed_kn"]),
        "true_wind_angle_deg": np.full(36, figures["true_wind_angle_deg"]),
        "distance_to_go_nm": 100.0 - figures["gain_kn"] * hours,
        "under_engine": np.zeros(36),
        "leg": np.zeros(36, dtype=int),
    }
    time = DEPARTURE + np.arange(36) * np.timedelta64(10, "m")
    track = xr.Dataset({name: ("time", each) for name, each in along.items()}, {"time": time}, {"step_s": 600.0})
    vessel = boat(**PLAIN).sailing
    return code in [note.code for note in track_warnings(track, given, vessel, route((0.0, 0.0), (2.0, 0.0)))]


def compass_note(field_nt: float) -> tuple[str, ...]:
    notes = compass_warnings(np.array([2027.0]), np.full(6, field_nt), 1.0)
    return tuple("blind" if note.figures["blind_h"] else note.code for note in notes)


def reads(nm: float) -> str:
    """Return what is made of a leg of so many miles along the equator."""
    lon = nm * 1852.0 / 6378137.0 * 180.0 / math.pi
    points = [{"name": "a", "lat": 0.0, "lon": 0.0}, {"name": "b", "lat": 0.0, "lon": lon}]
    own = passage().model_copy(update={"route": None, "waypoints": ()})
    own = type(own).model_validate({**own.model_dump(exclude_none=True), "waypoints": points})
    try:
        read, _ = passage_route(own, Path("passage.toml"))
    except InputError:
        return "refused"
    return "asked about" if route_warnings(read, None) else "read"


def kept_of_three(off_nm: float) -> int:
    return len(
        thinned([Mark("", "", 0.0, 0.0), Mark("", "", off_nm / 60.0, 0.5), Mark("", "", 0.0, 1.0)], THINNED_NM)
    )


class Edge(NamedTuple):
    """A rule: where its edge lies, what is seen of it at a figure, and that below and above the edge."""

    rule: str
    at: float
    seen: Callable[[float], Hashable]
    below: Hashable
    above: Hashable
    apart: float = 0.02


def driving(hours: float, **case: float) -> str:
    return does({**PLAIN, "engine_least_min": 30.0}, driven_h=hours, **case)


EDGES = (
    Edge(
        "nearer than the best angle she beats", 40.0, lambda a: does(NO_ENGINE, from_deg=a), "left board", "straight"
    ),
    Edge(
        "where boards lose ground she is held",
        TO_WINDWARD,
        lambda c: does(NO_ENGINE, foul_kn=c),
        "left board",
        "held",
    ),
    Edge(
        "below the first row speed falls to none",
        40.0,
        lambda a: boat_speed(vessel_of(boat(**PLAIN).sailing).polar, a, 10.0) < 5.0,
        True,
        False,
    ),
    Edge(
        "above the last row it is the last",
        160.0,
        lambda a: boat_speed(vessel_of(boat(**PLAIN).sailing).polar, a, 10.0),
        5.0,
        5.0,
    ),
    Edge(
        "too slow through the water: engine",
        6.0,
        lambda w: does(wind_kn=w, from_deg=90.0),
        "motors at 5.50",
        "straight",
    ),
    Edge(
        "driving, it stops a margin above that",
        6.5,
        lambda w: does(wind_kn=w, from_deg=90.0, driven_h=2.0),
        "motors at 5.50",
        "straight",
    ),
    Edge("once started it drives its least", 0.5, lambda h: driving(h, from_deg=90.0), "motors at 5.50", "straight"),
    Edge(
        "too little wind: engine",
        9.0,
        lambda w: does({**PLAIN, "engine_below_wind_kn": 9.0}, wind_kn=w, from_deg=90.0),
        "motors at 5.50",
        "straight",
    ),
    Edge(
        "too little made good over ground: engine",
        TO_WINDWARD - 1.0,
        lambda c: does(foul_kn=c),
        "left board",
        "motors at 5.50",
    ),
    Edge(
        "driving, it stops a margin above that, too",
        TO_WINDWARD - 1.25,
        lambda c: does(foul_kn=c, driven_h=2.0),
        "left board",
        "motors at 5.50",
    ),
    Edge(
        "an engine that gains no more is not started for ground",
        7.0,
        lambda motoring: does({**PLAIN, "motoring_speed_kn": motoring}, wind_kn=14.0, from_deg=90.0, foul_kn=6.5),
        "straight",
        "motors at 7.02",
    ),
    Edge(
        "an engine that the current beats is left for sails that gain",
        5.5,
        lambda c: driving(0.1, wind_kn=16.0, from_deg=90.0, foul_kn=c),
        "motors at 5.50",
        "straight",
    ),
    Edge(
        "a fixed speed is the engine's up to motoring",
        5.5,
        lambda v: does(fixed_kn=v),
        "motors at 5.48",
        "motors at 5.50",
    ),
    Edge(
        "a fixed speed under sail beats, too",
        40.0,
        lambda a: does(NO_ENGINE, from_deg=a, fixed_kn=6.0),
        "left board",
        "straight",
    ),
    Edge(
        "a board ends at its width",
        5.0,
        lambda off: does({**PLAIN, "board_nm": 5.0}, off_nm=off, side=1.0),
        "right board",
        "left board",
    ),
    Edge("a board ends at its time", 2.0, lambda h: does(side=1.0, board_h=h), "right board", "left board"),
    Edge(
        "a board ends on a header of 15 degrees",
        15.0,
        lambda shift: does(from_deg=-shift, side=-1.0, board_h=1.0),
        "left board",
        "right board",
    ),
    Edge("a tack is held past dead astern", 5.0, lambda past: held_tack(1.0, -180.0 + past, 5.0), 1.0, -1.0),
    Edge("clocks change well past an edge of a zone", WELL_PAST_DEG, clock_changes, 0, 1, 0.3),
    Edge("wind beyond the polar is told", 20.0, lambda w: noted("beyond_polar", true_wind_speed_kn=w), False, True),
    Edge(
        "a fixed speed over twice the polar's is told",
        12.0,
        lambda v: noted("fixed_over_polar", fixed_kn=v),
        False,
        True,
    ),
    Edge("under a knot of gain for a watch is told", 1.0, lambda kn: noted("slow_progress", gain_kn=kn), True, False),
    Edge("a field too weak to trust is told", 6000.0, compass_note, ("compass_weak",), ()),
    Edge("a field too weak to use is told so", 2000.0, compass_note, ("blind",), ("compass_weak",)),
    Edge("a leg over a quarter of the world is asked about", 5400.0, reads, "read", "asked about"),
    Edge("a leg near the opposite of its start is refused", LONGEST_LEG_NM, reads, "asked about", "refused"),
    Edge("a point near the line of its neighbours is left out", THINNED_NM, kept_of_three, 2, 3, 0.001),
)


@pytest.mark.parametrize("edge", EDGES, ids=lambda edge: edge.rule)
def test_either_side_of_the_edge(edge: Edge) -> None:
    assert (edge.seen(edge.at - edge.apart), edge.seen(edge.at + edge.apart)) == (edge.below, edge.above)


def test_a_mile_is_a_minute_of_arc() -> None:
    assert NM_PER_RAD * math.radians(1.0 / 60.0) == pytest.approx(1.0)


def test_an_engine_out_of_service_drives_nothing_whatever_the_boat_file_asks() -> None:
    out = boat().model_dump(mode="json")
    out["engine"]["available"] = False
    sailing = type(boat()).model_validate(out).sailing
    assert (sailing.engine_below_kn, sailing.engine_below_wind_kn) == (0.0, 0.0)
    assert boat().sailing.engine_below_kn == 3.0
