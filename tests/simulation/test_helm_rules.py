"""When the engine drives, when a board ends, what stands under engine, the seaway, and a current from a grid."""

from __future__ import annotations

import math

import numpy as np
import pytest
import xarray as xr
from sailing_case import blow, boat, passage, route, sail, steady

from planner.domain.errors import InputError

NORTH = route((-30.0, 178.0), (-28.0, 178.0))
KN = 1852.0 / 3600.0


def runs(flag) -> list[int]:
    """Lengths of the unbroken runs of a flag, in steps; one that the arrival cuts off is left out."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(flag) > 0, [0]]).astype(int)))
    return [int(end - start) for start, end in zip(edges[::2], edges[1::2], strict=True) if end < len(flag)]


def fitful(hours: float) -> tuple[float, float]:
    """A wind that passes the engine's threshold up and down every ten minutes."""
    return (6.5 if int(hours * 6.0) % 2 else 8.5, 120.0)


def test_the_engine_is_never_started_for_ten_minutes() -> None:
    wind = blow(fitful, every_h=1.0 / 6.0, days=3.0)
    free = boat(engine_least_min=0.0, engine_margin_kn=0.0, engine_below_kn=4.2)
    assert min(runs(sail(passage(), free, NORTH, wind)["under_engine"])) < 3  # it would chatter
    held = boat(engine_least_min=60.0, engine_margin_kn=0.0, engine_below_kn=4.2)
    assert min(runs(sail(passage(), held, NORTH, wind)["under_engine"])) >= 6


def test_the_margin_keeps_the_engine_from_starting_again_at_once() -> None:
    wind = blow(fitful, every_h=1.0 / 6.0, days=3.0)
    wide = sail(passage(), boat(engine_margin_kn=2.0, engine_below_kn=4.2), NORTH, wind)["under_engine"].values
    assert np.count_nonzero(np.diff(wide.astype(int)) == 1) <= 1


def test_a_light_wind_starts_the_engine_by_itself() -> None:
    motoring = sail(passage(), boat(engine_below_kn=0.0, engine_below_wind_kn=9.0), NORTH, steady(8.0, 90.0))
    sailing = sail(passage(), boat(engine_below_kn=0.0, engine_below_wind_kn=9.0), NORTH, steady(9.5, 90.0))
    assert (motoring["under_engine"] == 1).all()
    assert (sailing["under_engine"] == 0).all()


def test_motorsailing_leaves_the_mainsail_up_and_the_boom_amidships() -> None:
    down = sail(passage(), boat(), NORTH, steady(5.0, 40.0))
    up = sail(passage(), boat(motorsailing="mainsail_amid"), NORTH, steady(5.0, 40.0))
    assert (up["under_engine"] == 1).all()
    assert (down["mainsail_hoist_fraction"] == 0.0).all()
    assert (up["mainsail_hoist_fraction"] == 1.0).all()
    for name in ("boom_angle_deg", "headsail_set_fraction"):
        assert (up[name] == 0.0).all()
    assert (np.sign(up["heel_deg"][:-1]) == -np.sign(up["tack"][:-1])).all()
    assert (down["heel_deg"] == 0.0).all()


def test_a_board_ends_by_its_time() -> None:
    track = sail(passage(), boat(board_nm=50.0, board_h=2.0), NORTH, steady(12.0, 0.0))
    turns = np.flatnonzero(np.diff(track["tack"].values))
    assert (np.diff(turns)[:-1] == 12).all()  # two hours of ten-minute steps, until the layline comes first


def test_a_board_ends_on_a_header_but_not_on_a_lift() -> None:
    # She goes off on port tack, to the right; after three hours the wind veers or backs by 25 degrees.
    def after(shift: float):
        return blow(lambda h: (12.0, 350.0) if h < 3.0 else (12.0, 350.0 + shift))

    own, deaf = boat(board_nm=60.0), boat(board_nm=60.0, tack_on_shift_deg=180.0)
    first = int(sail(passage(), own, NORTH, after(0.0))["tack"][0])
    headed = -25.0 * first if first < 0 else 25.0
    header, ignored = (sail(passage(), each, NORTH, after(headed)) for each in (own, deaf))
    turned = [int(track["tack"][24]) != first for track in (header, ignored)]
    assert turned == [True, False]
    lift = sail(passage(), own, NORTH, after(-headed))
    assert int(lift["tack"][24]) == first


def test_tacking_on_headers_gains_in_a_swinging_wind() -> None:
    swings = blow(lambda h: (12.0, 20.0 * math.sin(2.0 * math.pi * h / 8.0)), every_h=0.5)
    alert, deaf = (
        sail(passage(), boat(board_nm=60.0, tack_on_shift_deg=shift), NORTH, swings) for shift in (15.0, 180.0)
    )
    assert alert.sizes["time"] < deaf.sizes["time"]


def test_a_seaway_slows_her() -> None:
    calm, rough = (
        sail(passage(), boat(seaway_factor=factor), NORTH, steady(20.0, 90.0))
        for factor in (None, {"wind_kn": [10.0, 30.0], "value": [1.0, 0.8]})
    )
    ratio = rough["speed_through_water_kn"][3] / calm["speed_through_water_kn"][3]
    assert float(ratio) == pytest.approx(0.9, abs=0.02)  # half way; leeway moves the wind's angle a little


def with_current(forecast: xr.Dataset, east_kn: float, north_kn: float) -> xr.Dataset:
    like = forecast["wind_east_m_s"]
    parts = {"current_east_m_s": east_kn * KN, "current_north_m_s": north_kn * KN}
    return forecast.assign({name: xr.full_like(like, value) for name, value in parts.items()})


def test_a_current_from_the_forecast_sails_like_the_same_constant() -> None:
    wind = steady(15.0, 100.0)
    constant = sail(passage(current={"set_deg": 90.0, "drift_kn": 1.5}), boat(), NORTH, wind)
    grid = sail(passage(current={"source": "forecast"}), boat(), NORTH, with_current(wind, 1.5, 0.0))
    for name in ("heading_deg", "speed_over_ground_kn", "true_wind_speed_kn", "current_set_deg", "current_drift_kn"):
        np.testing.assert_allclose(grid[name], constant[name], rtol=1e-9)
    np.testing.assert_allclose(grid["current_set_deg"], 90.0)


def test_a_grid_of_currents_is_read_where_she_is() -> None:
    wind = steady(15.0, 100.0)
    sheared = with_current(wind, 0.0, 0.0)
    sheared["current_east_m_s"] = sheared["current_east_m_s"] + sheared["lat"] / -90.0 * 3.0 * KN
    track = sail(passage(current={"source": "forecast"}), boat(), NORTH, sheared)
    np.testing.assert_allclose(track["current_drift_kn"], track["lat"] / -90.0 * 3.0, rtol=1e-9)


def test_where_a_grid_has_no_current_the_water_stands() -> None:
    holes = with_current(steady(15.0, 100.0), np.nan, np.nan)
    track = sail(passage(current={"source": "forecast"}), boat(), NORTH, holes)
    assert "current_drift_kn" not in track


def test_a_forecast_without_currents_is_told() -> None:
    with pytest.raises(InputError, match="no forecast file holds currents"):
        sail(passage(current={"source": "forecast"}), boat(), NORTH, steady(15.0, 100.0))
