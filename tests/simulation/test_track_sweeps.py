"""Sweeps of the track: by current, by the polar's first angle, by waypoints: smooth but where a rule has its edge."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sailing_case import boat, passage, route, sail, steady

from planner.domain.errors import InputError
from planner.domain.inputs.route import Route, Waypoint

NORTH = route((-30.0, 178.0), (-29.5, 178.0))
START = datetime(2027, 5, 8, 22, 0, tzinfo=UTC)
FULL = boat().sailing.polar


def from_angle(first_deg: float) -> dict[str, object]:
    """The demo's polar without what lies below an angle, where it begins with what it reads."""
    rows = [(a, row) for a, row in zip(FULL.true_wind_angle_deg, FULL.speed_kn, strict=True) if a > first_deg]
    begin = [
        float(np.interp(first_deg, FULL.true_wind_angle_deg, column)) for column in zip(*FULL.speed_kn, strict=True)
    ]
    return {
        "true_wind_speed_kn": FULL.true_wind_speed_kn,
        "true_wind_angle_deg": [first_deg, *(angle for angle, _ in rows)],
        "speed_kn": [begin, *(row for _, row in rows)],
    }


def hours(track) -> float:
    return (datetime.fromisoformat(track.attrs["arrival"]) - START) / timedelta(hours=1)


def foul(drift_kn: float):
    return passage(current={"set_deg": 180.0, "drift_kn": drift_kn})


def test_a_foul_current_costs_hours_smoothly_up_to_the_engine_and_from_it_on() -> None:
    """Dead to windward 0 to 5 kn foul: a jump once, where the engine starts, to what it makes over ground."""
    drifts = np.arange(0.0, 5.01, 0.1)
    tracks = [sail(foul(drift), boat(), NORTH, steady(16.0, 0.0)) for drift in drifts]
    ground = np.array([30.0 / hours(track) for track in tracks])
    drives = np.array([bool(track["under_engine"].any()) for track in tracks])
    assert np.count_nonzero(np.diff(drives)) == 1
    sailing, motoring = ground[~drives], ground[drives]
    assert sailing.min() > 0.9  # never the crawl that takes weeks: the threshold is a knot
    np.testing.assert_allclose(motoring, 5.5 - drifts[drives], rtol=5e-3)
    assert (np.diff(sailing) < 0.0).all()
    assert np.abs(np.diff(sailing, 2)).max() < 0.05  # kn: no kink that a tenth of a knot of current would not make


def test_without_an_engine_a_foul_current_slows_her_until_it_holds_her() -> None:
    """Made good runs evenly down to nothing; there she is refused, and at no greater drift sails again."""
    engineless = boat(engine_below_kn=0.0)
    ground = []
    for drift in np.arange(0.0, 5.01, 0.1):
        try:
            ground.append(30.0 / hours(sail(foul(drift), engineless, NORTH, steady(16.0, 0.0))))
        except InputError as refusal:
            assert "beat the boat" in str(refusal)  # noqa: PT017
            ground.append(0.0)
    made_good = np.array(ground)
    held = int(np.argmax(made_good == 0.0))
    assert (made_good[held:] == 0.0).all()
    assert made_good[held - 1] < 0.25
    assert (np.diff(made_good[: held + 1]) < 0.0).all()


@pytest.mark.parametrize("drift_kn", [0.0, 1.5])
def test_the_first_angle_of_the_polar_moves_a_beat_smoothly(drift_kn: float) -> None:
    """From 20 degrees to her best angle nothing moves; beyond it the beat grows longer, degree by degree."""
    firsts = np.arange(20.0, 61.0)
    engineless = [boat(polar=from_angle(first), engine_below_kn=0.0) for first in firsts]
    taken = np.array([hours(sail(foul(drift_kn), each, NORTH, steady(16.0, 0.0))) for each in engineless])
    best = 45.0
    np.testing.assert_allclose(taken[firsts <= best], taken[0], rtol=1e-9)
    rise = np.diff(taken[firsts >= best]) / taken[firsts >= best][:-1]
    assert (rise > 0.0).all()
    assert rise.max() < 0.1
    assert np.abs(np.diff(rise)).max() < 0.02


def wavy(points: int) -> Route:
    """A thousand miles in legs of one length, each turned a little from the next."""
    share = np.linspace(0.0, 1.0, points)
    lats, lons = -35.0 + 12.0 * share + 0.0005 * (np.arange(points) % 2), 174.0 + 5.0 * share
    return tuple(
        Waypoint(name=f"p{n}", lat=lat, lon=lon) for n, (lat, lon) in enumerate(zip(lats, lons, strict=True))
    )


def test_waypoints_cost_little_and_evenly() -> None:
    """By processor time: thirty thousand legs more cost some three times what ten thousand more do."""
    wind, taken = steady(14.0, 130.0), {}
    sail(passage(), boat(), wavy(3), wind)
    for points in (100, 10_000, 30_000):
        way = wavy(points)
        spent = []
        for _ in range(3):
            begin = time.process_time()
            track = sail(passage(), boat(), way, wind)
            spent.append(time.process_time() - begin)
        taken[points] = min(spent)
        assert int(track["leg"][-1]) > 0.97 * points
    assert taken[30_000] - taken[100] < 2.0 * 3.0 * (taken[10_000] - taken[100])


def test_ten_thousand_legs_end_though_times_do_not_add_up_exactly() -> None:
    """A waypoint come upon by a rounding after the step's clock once held her there for good."""
    track = sail(passage(), boat(), wavy(10_000), steady(14.0, 130.0))
    assert track.attrs["arrival"]
