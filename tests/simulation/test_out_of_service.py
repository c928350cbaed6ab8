"""A boat with something failed: what its inputs become, and what its harvest is left with."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.failure import BY_ONE_WORD, Failure
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage, Start, Watch
from planner.simulation.failures import changes_something, planned_without, without, worst_controller, worst_half
from planner.simulation.harvest.in_service import POWERS, in_service
from planner.simulation.ledger.bank import bank_params

DEMO = Path(__file__).parents[2] / "data" / "demo"
ALL = tuple(Failure(kind) for kind in BY_ONE_WORD if kind != "panels")


def inputs() -> Inputs:
    boat = Boat.model_validate(tomllib.loads((DEMO / "boat.toml").read_text(encoding="utf-8")))
    passage = Passage(
        departure=datetime(2027, 5, 9, tzinfo=UTC),
        boat="boat.toml",
        route="route.gpx",
        forecast="forecast.nc",
        start=Start(state_of_charge=0.9),
        watches=(Watch(start="00:00", end="00:00", role="mate"),),
    )
    return Inputs(passage, boat, (), xr.Dataset(), {}, timedelta(), Path("passage.toml"), ())


def harvest(boat: Boat) -> xr.Dataset:
    """Return powers of two members over three steps: each panel 10 W more than the one before, no losses."""
    panels, controllers = [panel.name for panel in boat.panel], [each.name for each in boat.controller]
    each_w = (
        10.0 * (1.0 + np.arange(len(panels))) * np.array([1.0, 2.0])[:, None, None] * np.array([[0.0], [1.0], [3.0]])
    )
    wired = [[panels.index(name) for string in each.strings for name in string] for each in boat.controller]
    out_w = np.stack([each_w[..., which].sum(axis=-1) for which in wired], axis=-1)
    dims = ("member", "time")
    return xr.Dataset(
        {
            "panel_power_w": ((*dims, "panel"), each_w),
            "controller_power_w": ((*dims, "controller"), 0.9 * out_w),
            "wire_loss_power_w": ((*dims, "controller"), 0.1 * out_w),
        },
        coords={"panel": panels, "controller": controllers},
    )


def left(failure: Failure) -> xr.Dataset:
    boat = without(inputs(), [failure]).boat
    return in_service(harvest(boat), panels=boat.panel, controllers=boat.controller)


def test_no_failure_leaves_the_inputs_and_the_harvest_themselves() -> None:
    sound = inputs()
    assert without(sound, ()) is sound
    whole = harvest(sound.boat)
    assert in_service(whole, panels=sound.boat.panel, controllers=sound.boat.controller) is whole
    assert planned_without(sound) == ()


@pytest.mark.parametrize("failure", [*ALL, Failure("controller", ("arch",)), Failure("panels", ("coachroof",))])
def test_what_has_failed_cannot_fail_again(failure: Failure) -> None:
    assert changes_something(inputs(), failure)
    assert not changes_something(without(inputs(), [failure]), failure)


def test_each_failure_takes_what_it_says() -> None:
    boat, passage = inputs().boat, inputs().passage
    failed = {failure.kind: without(inputs(), [failure]) for failure in ALL}
    engine = failed["engine"].boat
    assert (engine.engine.available, engine.sailing.engine_below_kn) == (False, 0.0)
    assert failed["alternator"].boat.sailing == boat.sailing  # she still motors
    assert failed["alternator"].boat.engine.alternator_a == failed["bank"].boat.engine.alternator_a == 0.0
    assert "boat.engine.alternator_a" in failed["alternator"].passage.acknowledged
    pilot = failed["autopilot"].boat.autopilot
    assert (pilot.steering, pilot.watts_under_engine) == ("hand", 0.0)
    assert failed["meter"].passage.wishes.meter_error > passage.wishes.meter_error
    assert failed["meter"].boat == boat
    both = without(inputs(), ALL)
    assert both.failed == ALL
    (said,) = planned_without(both)
    assert said.then[0].code == "planned_without_bank"


def test_a_wind_vane_steers_on_without_the_pilot() -> None:
    sound = inputs()
    vane = sound.boat.autopilot.model_copy(update={"steering": "wind_vane"})
    boat = sound.boat.model_copy(update={"autopilot": vane})
    failed = without(replace(sound, boat=boat), [Failure("autopilot")])
    assert (failed.boat.autopilot.steering, failed.boat.autopilot.watts_under_engine) == ("wind_vane", 0.0)


def test_a_bank_off_the_bus_neither_takes_nor_gives() -> None:
    from planner.physics.bank import bank_step

    params = bank_params(without(inputs(), [Failure("bank")]).boat.bank)
    for soc in (0.0, 0.4, 1.0):
        short = bank_step(soc, 50.0, 0.0, 0.0, 120.0, 600.0, params)
        assert (short.current_a, short.unserved_w) == pytest.approx((0.0, 70.0))
        spare = bank_step(soc, 150.0, 0.0, 0.0, 120.0, 600.0, params)
        assert (spare.current_a, spare.solar_taken_w, spare.unserved_w) == pytest.approx((0.0, 120.0, 0.0))


def test_a_controller_out_brings_nothing_and_the_others_bring_as_before() -> None:
    whole, less = harvest(inputs().boat), left(Failure("controller", ("bimini",)))
    assert not less["controller_power_w"].sel(controller="bimini").any()
    assert not less["panel_power_w"].sel(panel=["bimini port", "bimini middle", "bimini starboard"]).any()
    others = {"panel": ["arch port", "arch starboard", "coachroof"], "controller": ["arch", "coachroof"]}
    xr.testing.assert_identical(less.sel(others), whole.sel(others))


def test_a_dead_panel_takes_its_string_and_leaves_the_others_their_part() -> None:
    series = left(Failure("panels", ("arch port",)))
    assert not series["controller_power_w"].sel(controller="arch").any()
    assert not series["panel_power_w"].sel(panel="arch starboard").any()
    parallel = left(Failure("panels", ("bimini port",)))
    whole = harvest(inputs().boat)
    part = (
        parallel["controller_power_w"].sel(controller="bimini").sum()
        / whole["controller_power_w"].sel(controller="bimini").sum()
    )
    assert float(part) == pytest.approx((40.0 + 50.0) / (30.0 + 40.0 + 50.0))


def test_failing_more_never_brings_more_and_is_the_same_in_one_go_or_two() -> None:
    names = [panel.name for panel in inputs().boat.panel]
    before = harvest(inputs().boat)
    for count in range(1, len(names) + 1):
        after = left(Failure("panels", tuple(names[:count])))
        assert all((after[name].values <= before[name].values + 1e-9).all() for name in POWERS)
        boat = without(inputs(), [Failure("panels", tuple(names[:count]))]).boat
        again = in_service(before, panels=boat.panel, controllers=boat.controller)
        for name in POWERS:
            np.testing.assert_allclose(again[name].values, after[name].values, atol=1e-9)
        before = after


def test_a_controller_whose_panels_see_no_light_changes_nothing_when_it_fails() -> None:
    boat = without(inputs(), [Failure("controller", ("coachroof",))]).boat
    dark = harvest(boat)
    dark["panel_power_w"].loc[{"panel": "coachroof"}] = 0.0
    dark["controller_power_w"].loc[{"controller": "coachroof"}] = 0.0
    dark["wire_loss_power_w"].loc[{"controller": "coachroof"}] = 0.0
    xr.testing.assert_identical(in_service(dark, panels=boat.panel, controllers=boat.controller), dark)


def test_the_worst_half_and_the_worst_controller_are_those_that_bring_most() -> None:
    sound = harvest(inputs().boat)
    assert worst_half(sound) == Failure("panels", ("bimini middle", "bimini starboard", "coachroof"))
    assert worst_half(sound.isel(panel=slice(0, 5))).names == ("bimini port", "bimini middle", "bimini starboard")
    assert worst_controller(sound) == Failure("controller", ("bimini",))
