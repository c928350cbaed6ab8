"""A member's own track when she cannot come as wanted, or at all; a wanted arrival that she can meet."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sailing_case import DEPARTURE, blow, boat, passage, route, sail, steady

from planner.domain.errors import InputError
from planner.simulation.clock import steps_by_clock
from planner.simulation.track.sail import sail_on

NORTH = route((-30.0, 178.0), (-28.0, 178.0))
START = datetime(2027, 5, 8, 22, 0, tzinfo=UTC)
ENGINELESS = boat(engine_below_kn=0.0, engine_below_wind_kn=0.0)


def arrival_h(track) -> float:
    return (datetime.fromisoformat(track.attrs["arrival"]) - START) / timedelta(hours=1)


def wanted(hours: float):
    return passage(arrival=(START + timedelta(hours=hours)).isoformat())


def test_where_all_is_well_it_is_the_track_itself() -> None:
    assert sail_on(passage(), boat(), NORTH, steady(15.0, 90.0)).identical(
        sail(passage(), boat(), NORTH, steady(15.0, 90.0))
    )


def test_a_slower_wind_comes_as_wanted_or_as_soon_after_as_she_can() -> None:
    own = [arrival_h(sail(passage(), boat(), NORTH, steady(wind, 90.0))) for wind in (18.0, 9.0)]
    between = 0.5 * sum(own)
    met, late = (sail_on(wanted(between), boat(), NORTH, steady(wind, 90.0)) for wind in (18.0, 9.0))
    assert arrival_h(met) == pytest.approx(between, abs=1 / 60)
    assert met.attrs["pace"] < 1.0
    assert arrival_h(late) == pytest.approx(own[1])
    assert late.attrs["pace"] == 1.0


def test_an_arrival_too_late_to_slow_down_for_is_come_before() -> None:
    early = sail_on(wanted(200.0), boat(), NORTH, steady(15.0, 90.0))
    assert early.attrs["pace"] == 0.5
    assert arrival_h(early) < 200.0


def test_a_calm_without_engine_never_ends_in_an_arrival() -> None:
    track = sail_on(passage(), ENGINELESS, NORTH, blow(lambda h: (12.0 if h < 6.0 else 0.0, 90.0)))
    assert track.attrs["arrival"] == ""
    assert track.sizes["time"] == 60 * 144
    assert float(track["distance_to_go_nm"][-1]) > 50.0


def test_a_current_that_beats_her_ends_the_track_where_it_does() -> None:
    against = passage(current={"set_deg": 180.0, "drift_kn": 3.0})
    track = sail_on(against, ENGINELESS, NORTH, blow(lambda h: (15.0 if h < 6.0 else 2.0, 90.0)))
    assert track.attrs["arrival"] == ""
    assert 30 < track.sizes["time"] < 48
    assert all(np.isfinite(values).all() for values in track.values())
    assert track["time"].values[0] == DEPARTURE
    with pytest.raises(InputError, match="beat the boat"):
        sail_on(against, ENGINELESS, NORTH, steady(2.0, 90.0))


@pytest.mark.parametrize(
    ("steps", "as_planned", "expected"),
    [
        (3, 5, [0, 1, 2]),
        (8, 6, [0, 1, 2, 3, 4, 5, 2, 3]),  # four steps a day: the last day over and over
        (11, 6, [0, 1, 2, 3, 4, 5, 2, 3, 4, 5, 2]),
        (5, 2, [0, 1, 1, 1, 0]),  # under a day planned: a time of day that it has not is its last step's
    ],
)
def test_steps_are_found_by_the_clock(steps: int, as_planned: int, expected: list[int]) -> None:
    assert steps_by_clock(steps, as_planned, step_s=6 * 3600.0).tolist() == expected
