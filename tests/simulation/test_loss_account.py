"""The way from each panel's rating to the bank."""

from __future__ import annotations

from datetime import UTC
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from shade_case import RIG as WHOLE_RIG
from sky_case import forecast_of, track_of

from planner.domain.glossary import HARVEST, LOSS_ITEMS, LOSSES, SKY
from planner.domain.inputs.power import Controller, Panel, Soiling
from planner.domain.schema import check_dataset, to_dataset
from planner.simulation.harvest.array import build_array
from planner.simulation.harvest.collect import panel_harvest
from planner.simulation.harvest.loss_account import loss_account
from planner.simulation.sky.weather import sky_along

BARE = WHOLE_RIG.model_copy(update={"sprayhood": None})

TRACK = track_of(hours=36.0, step_min=10).assign(
    true_wind_speed_kn=("time", np.full(216, 12.0)),
    true_wind_angle_deg=("time", np.zeros(216)),
    apparent_wind_angle_deg=("time", np.zeros(216)),
    speed_through_water_kn=("time", np.zeros(216)),
    leeway_deg=("time", np.zeros(216)),
)
BEGINS = TRACK["time"].values[0].astype("datetime64[s]").item().replace(tzinfo=UTC)
DIRT = Soiling()
FORECAST = forecast_of(hours=72, members=2)


def panel(name: str, **changes: object) -> Panel:
    figures = {
        "name": name,
        "centre_m": (0.0, 0.0, 2.0),
        "length_m": 1.05,
        "width_m": 0.54,
        "mounting": "on_canvas",
        "max_power_w": 100.0,
        "max_power_v": 18.6,
        "max_power_a": 5.38,
        "open_circuit_v": 22.2,
        "short_circuit_a": 5.75,
        "cells": 36,
        "substrings": 2,
        "age_years": 3.0,
    }
    return Panel.model_validate(figures | changes)


PAIR = (panel("a"), panel("b"))
SERIES = (Controller(name="one", strings=(("a", "b"),), max_output_a=20.0),)
APART = tuple(Controller(name=name, strings=((name,),), max_output_a=10.0) for name in "ab")


def account(
    panels: tuple[Panel, ...] = PAIR,
    controllers: tuple[Controller, ...] = SERIES,
    *,
    lit: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0),
    sky_view: float = 1.0,
    soiling: Soiling = DIRT,
    curtailed: float = 0.0,
) -> tuple[xr.Dataset, xr.Dataset]:
    """Return the account of level panels under a sky of two members, and the harvest that it is drawn from."""
    sky = sky_along(TRACK, FORECAST)
    steps, count = TRACK.sizes["time"], len(panels)
    sine = np.sin(np.radians(sky["sun_elevation_deg"].to_numpy()))
    shading = SimpleNamespace(
        node_weight=np.ones(1),
        cell_first=36 * np.arange(count + 1),
        cell_lit=np.broadcast_to(np.repeat(lit, 18), (steps, 1, 36 * count)).copy(),
        string_share=np.ones((steps, 2 * count)),
        cos_incidence=np.repeat(sine[:, None, None], count, axis=2),
        sky_view=np.full((steps, count), sky_view),
        overcast_view=np.full((steps, count), sky_view),
        sea_view=np.zeros((steps, count)),
    )
    array = build_array(panels, controllers, bus_v=14.2, soiling=soiling, rig=BARE)
    arrays = {name: sky[name].to_numpy() for name in SKY} | panel_harvest(TRACK, sky, shading, array)
    coords = {
        "member": sky["member"],
        "time": TRACK["time"],
        "panel": [p.name for p in panels],
        "controller": [c.name for c in controllers],
    }
    harvest = to_dataset(arrays, HARVEST, coords=coords, door="test harvest")
    offered = harvest["controller_power_w"].mean("member").sum("controller").to_numpy()[None]
    planned = xr.Dataset(
        {
            "solar_power_w": (("member", "time"), offered * (1.0 - curtailed)),
            "curtailed_power_w": (("member", "time"), offered * curtailed),
        }
    )
    return loss_account(TRACK, harvest, planned, panels=panels, controllers=controllers, days_from=BEGINS), harvest


def whole(losses: xr.Dataset, item: str) -> float:
    return float(losses["loss_wh"].sel(item=item).sum())


@pytest.mark.parametrize("lit", [(1.0, 1.0, 1.0, 1.0), (1.0, 0.3, 0.05, 0.0)])
def test_each_panel_and_day_adds_up_and_ends_at_what_the_bank_took(lit: tuple[float, ...]):
    losses, harvest = account(lit=lit, curtailed=0.25)
    check_dataset(losses, LOSSES, door="test")
    assert tuple(losses["item"].values) == LOSS_ITEMS
    assert losses.sizes["day"] == 2
    left = losses["rating_wh"] - losses["loss_wh"].sum("item") - losses["bank_wh"]
    assert float(np.abs(left).max()) < 1e-9
    delivered = float(harvest["controller_power_w"].mean("member").sum()) / 6.0
    assert float(losses["bank_wh"].sum()) == pytest.approx(0.75 * delivered, rel=1e-9)


def test_in_the_clear_nothing_is_lost_to_shade():
    losses, _ = account()
    assert whole(losses, "beam shade") == pytest.approx(0.0, abs=1e-9)
    assert whole(losses, "diffuse shade") == pytest.approx(0.0, abs=1e-9)


def test_shade_shows_where_it_falls():
    losses, _ = account(lit=(1.0, 1.0, 0.2, 0.2))
    shade = losses["loss_wh"].sel(item="beam shade").sum("day")
    assert float(shade[0]) == pytest.approx(0.0, abs=1e-9)
    assert float(shade[1]) > 50.0
    less_sky, _ = account(sky_view=0.8)
    assert whole(less_sky, "diffuse shade") > 20.0
    assert whole(less_sky, "beam shade") == pytest.approx(0.0, abs=1e-9)


def test_apart_a_shaded_panel_costs_no_mismatch_in_series_it_does():
    lit = (1.0, 1.0, 0.2, 0.2)
    series, apart = account(lit=lit)[0], account(controllers=APART, lit=lit)[0]
    assert whole(apart, "beam shade") == pytest.approx(whole(series, "beam shade"))
    assert abs(whole(apart, "mismatch")) < 0.02 * float(apart["bank_wh"].sum())
    assert whole(series, "mismatch") > 0.05 * float(series["bank_wh"].sum())


def test_what_readings_showed_of_a_panel_is_counted_with_its_age():
    losses, _ = account((panel("a", age_years=0.0, measured_fraction=0.8), panel("b", age_years=0.0)))
    age = losses["loss_wh"].sel(item="age").sum("day")
    before = losses["loss_wh"].sel(item=list(LOSS_ITEMS[: LOSS_ITEMS.index("age")])).sum(["day", "item"])
    passed = losses["rating_wh"].sum("day") - before
    assert float(age[0]) == pytest.approx(0.2 * float(passed[0]), rel=1e-9)
    assert float(age[1]) == pytest.approx(0.0, abs=1e-9)


def test_age_and_dirt_take_their_own_part_of_the_light():
    losses, _ = account((panel("a", age_years=10.0, ageing_per_year=0.02), panel("b", age_years=0.0)))
    age = losses["loss_wh"].sel(item="age").sum("day")
    assert float(age[0]) > 50.0
    assert float(age[1]) == pytest.approx(0.0, abs=1e-9)
    dirty, _ = account(soiling=Soiling(per_day=0.05, at_most=0.5))
    assert whole(dirty, "dirt and salt") > 1.5 * whole(losses, "dirt and salt")


def test_heat_costs_a_flush_panel_more_than_an_open_one():
    losses, _ = account((panel("a"), panel("b", mounting="open")), APART)
    heat = losses["loss_wh"].sel(item="heat").sum("day")
    assert float(heat[0]) > 1.3 * float(heat[1])


def test_a_full_bank_takes_its_part_last():
    free, full = account()[0], account(curtailed=0.4)[0]
    assert whole(free, "full bank") == pytest.approx(0.0, abs=1e-9)
    assert whole(full, "full bank") == pytest.approx(0.4 * float(free["bank_wh"].sum()), rel=1e-9)
