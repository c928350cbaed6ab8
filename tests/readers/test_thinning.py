"""A long track with fewer points: what is left out lies near the line, whatever the line does."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from planner.readers import thinning
from planner.readers.route import MOST_POINTS, THINNED_NM, passage_route, read_route
from planner.readers.thinning import thinned
from planner.readers.waypoints import Mark

WGS84 = Geod(ellps="WGS84")


def marks(places: np.ndarray, *, named: int | None = None) -> list[Mark]:
    return [
        Mark("", "here" if number == named else "", lat, lon) for number, (lat, lon) in enumerate(places.tolist())
    ]


def wandering(points: int) -> np.ndarray:
    """A track across 180 that wanders, on which points lie some cables apart."""
    share = np.linspace(0.0, 1.0, points)
    lon = 174.0 + 12.0 * share + 0.5 * np.sin(20.0 * share)
    return np.stack([-35.0 + 14.0 * share + 0.02 * np.sin(300.0 * share), (lon + 180.0) % 360.0 - 180.0], axis=1)


@pytest.mark.external(source="pyproj (PROJ) geodesics", kind="library")
def test_points_left_out_lie_within_the_tolerance_of_the_line() -> None:
    """Each against the nearest of a hundred places on the geodesic between the points kept either side of it."""
    places = wandering(3000)
    given = marks(places)
    kept = [given.index(mark) for mark in thinned(given, 0.1)]
    assert 20 < len(kept) < 600
    worst = 0.0
    for first, last in pairwise(kept):
        (lat1, lon1), (lat2, lon2) = places[first], places[last]
        line = np.array([(lon1, lat1), *WGS84.npts(lon1, lat1, lon2, lat2, 100), (lon2, lat2)])
        for lat, lon in places[first + 1 : last]:
            _, _, off = WGS84.inv(*line.T, np.full(len(line), lon), np.full(len(line), lat))
            worst = max(worst, float(off.min()) / 1852.0)
    assert 0.05 < worst < 0.11  # a sphere's miles err by half a percent; between the hundred places lies a little


def test_ends_and_named_points_stay() -> None:
    straight = np.stack([np.linspace(-30.0, -29.0, 50), np.full(50, 178.0)], axis=1)
    assert [given.lat for given in thinned(marks(straight), 0.1)] == [-30.0, -29.0]
    assert thinned(marks(straight, named=20), 0.1)[1].name == "here"


def test_a_track_that_doubles_back_keeps_its_turn() -> None:
    out_and_back = np.stack([np.concatenate([np.linspace(0, 1, 30), np.linspace(1, 0.5, 20)]), np.zeros(50)], axis=1)
    assert [round(mark.lat, 6) for mark in thinned(marks(out_and_back), 0.1)] == [0.0, 1.0, 0.5]
    loop = np.stack([np.concatenate([np.linspace(0, 1, 30), np.linspace(1, 0, 30)]), np.zeros(60)], axis=1)
    assert [round(mark.lat, 6) for mark in thinned(marks(loop), 0.1)] == [0.0, 1.0, 0.0]


def test_a_hundred_thousand_points_are_thinned_and_ten_thousand_are_not(tmp_path: Path) -> None:
    from planner.domain.inputs.passage import Passage

    for points, many in ((MOST_POINTS, False), (100_000, True)):
        path = tmp_path / f"{points}.csv"
        rows = "\n".join(f"{lat:.7f},{lon:.7f}" for lat, lon in wandering(points))
        path.write_text(f"lat,lon\n{rows}\n", encoding="utf-8")
        passage = Passage(
            departure="2027-05-09T10:00:00+12:00",
            boat="boat.toml",
            route=path.name,
            forecast="forecast.nc",
            start={"state_of_charge": 0.9},
            watches=[{"start": "00:00", "end": "00:00", "role": "all"}],
        )
        route, left_out = passage_route(passage, tmp_path / "passage.toml")
        assert (left_out is not None) == many
        assert len(route) == (points if not many else len(read_route(path)))
        if left_out is not None:
            assert left_out == (100_000, THINNED_NM)
            assert len(route) < 1000
            assert route[10].name == "waypoint 11"


def test_a_zigzag_that_closes_in_takes_no_square_of_its_points(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its farthest point is always its next, so that each look would leave out one point."""
    count, looks = 3000, []
    size = 30.0 * (1.0 - 4.0 / count) ** np.arange(count) * np.where(np.arange(count) % 2, 1.0, -1.0)
    zigzag = [Mark(str(n), "", float(lat), -60.0 + 120.0 * n / count) for n, lat in enumerate(size)]
    real = thinning._off_line_nm

    def counted(place: np.ndarray, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        looks.append(len(place))
        return real(place, begin, end)

    monkeypatch.setattr(thinning, "_off_line_nm", counted)
    kept = thinned(zigzag, 0.1)
    assert sum(looks) < (thinning.MOST_LOOKS + 20) * count  # unbound, a thousand a point
    assert len(kept) > 0.9 * count  # legs of degrees: next to none may go
