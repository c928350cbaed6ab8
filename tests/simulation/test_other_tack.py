"""The track mirrored at the bow."""

from __future__ import annotations

import numpy as np
import xarray as xr
from numpy.testing import assert_allclose
from sailing_case import boat, passage, route, sail, steady

from planner.domain.glossary import TRACK
from planner.simulation.track.other_tack import SIDED, on_the_other_tack


def make_track() -> xr.Dataset:
    """Return three steps: close-hauled to starboard, a reach to port, a run nearly dead."""
    values = {name: np.full(3, 7.0) for name in TRACK}
    values |= {
        "heading_deg": np.array([350.0, 90.0, 180.0]),
        "true_wind_angle_deg": np.array([45.0, -90.0, 175.0]),
        "true_wind_from_deg": np.array([35.0, 0.0, 355.0]),
        "tack": np.array([1, -1, 1]),
        "heel_deg": np.array([-15.0, 12.0, -2.0]),
    }
    return xr.Dataset({name: ("time", value, {"units": "x"}) for name, value in values.items()})


def test_wind_comes_over_the_other_side_at_the_same_heading() -> None:
    turned = on_the_other_tack(make_track())
    assert_allclose(turned["heading_deg"], [350.0, 90.0, 180.0])
    assert_allclose(turned["true_wind_from_deg"], [305.0, 180.0, 5.0])
    assert_allclose(turned["heel_deg"], [15.0, -12.0, 2.0])


def test_it_is_the_track_that_is_sailed_in_the_mirrored_wind() -> None:
    due_north = route((-30.0, 178.0), (-29.5, 178.0))
    upright = boat(leeway_deg={"angle_deg": [0.0, 180.0], "value": [0.0, 0.0]})  # else headings would differ
    starboard, port = (sail(passage(), upright, due_north, steady(15.0, from_deg)) for from_deg in (90.0, 270.0))
    turned = on_the_other_tack(starboard)
    for name in TRACK:
        assert_allclose(turned[name], port[name], atol=1e-6, err_msg=name)


def test_twice_is_the_track_itself() -> None:
    track = make_track()
    again = on_the_other_tack(on_the_other_tack(track))
    xr.testing.assert_allclose(again, track)
    assert again["tack"].attrs == track["tack"].attrs


def test_what_has_a_side_is_of_the_glossary() -> None:
    assert set(SIDED) < set(TRACK)
