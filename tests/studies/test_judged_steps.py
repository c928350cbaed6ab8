"""Which steps tell of a controller's panels: each reason to set one aside, alone and in its order."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from planner.domain.inputs.power import Bank, Controller
from planner.simulation.ledger.bank import bank_params
from planner.studies.reconcile.judged_steps import Judged, judged_steps

STEPS = 12
STEP_MIN = 30
NOON = 6
BANK = Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3)
CONTROLLERS = (
    Controller(name="arch", strings=(("a",), ("b",)), max_output_a=20.0),
    Controller(name="hatch", strings=(("c",),), max_output_a=20.0, max_output_w=100.0),
)


def judged(
    *,
    watts: np.ndarray | None = None,
    volts: np.ndarray | float = 13.2,
    soc: np.ndarray | float = 0.6,
    sun_deg: np.ndarray | float = 40.0,
    lit: np.ndarray | None = None,
    bank: Bank = BANK,
) -> Judged:
    """Steps of half an hour, 80 W from each controller, sun high and panels lit unless said otherwise."""
    time = np.datetime64("2027-05-09T00:00", "ns") + np.arange(STEPS) * np.timedelta64(STEP_MIN, "m")
    read = np.full((STEPS, 2), 80.0) if watts is None else watts
    steps = xr.Dataset(
        {
            "read_controller_power_w": (("time", "controller"), read),
            "read_bank_voltage_v": ("time", np.broadcast_to(volts, STEPS).astype(float)),
            "read_meter_soc": ("time", np.broadcast_to(soc, STEPS).astype(float)),
        }
    )
    track = xr.Dataset({"heading_deg": ("time", np.full(STEPS, 100.0))}, coords={"time": time})
    states = xr.Dataset(
        {
            "sun_elevation_deg": ("time", np.broadcast_to(sun_deg, STEPS).astype(float)),
            "sun_azimuth_deg": ("time", np.full(STEPS, 30.0)),
            "surely_lit_fraction": (("time", "panel"), np.ones((STEPS, 3)) if lit is None else lit),
        },
        coords={"panel": ["a", "b", "c"]},
    )
    return judged_steps(steps, track.assign_attrs(step_s=STEP_MIN * 60.0), states, controllers=CONTROLLERS, bank=bank)


def at_noon(value: float, otherwise: float) -> np.ndarray:
    return np.where(np.arange(STEPS) == NOON, value, otherwise)


def test_a_sunny_step_is_usable_and_fair_and_nothing_else() -> None:
    found = judged()
    assert found.usable.all()
    assert found.fair.all()
    assert not (found.full | found.clipped | found.shaded).any()
    assert found.log_w == pytest.approx(np.log(80.0))
    ahead, starboard, up = found.toward[0]
    assert np.degrees(np.arctan2(starboard, ahead)) == pytest.approx(-70.0)  # to port
    assert up == pytest.approx(np.sin(np.radians(40.0)))
    assert found.step_h == 0.5
    assert found.bank_read


@pytest.mark.parametrize(("sun_deg", "usable", "fair"), [(4.0, False, False), (8.0, True, False), (13.0, True, True)])
def test_a_low_sun_tells_of_the_sky_before_it_tells_of_the_panels(sun_deg: float, usable: bool, fair: bool) -> None:
    found = judged(sun_deg=sun_deg)
    assert (found.usable.all(), found.fair.all()) == (usable, fair)
    assert not found.full.any()


def test_what_was_not_read_is_neither_used_nor_set_aside_for_a_reason() -> None:
    watts = np.full((STEPS, 2), 80.0)
    watts[NOON, 0] = np.nan
    found = judged(watts=watts)
    assert not found.usable[NOON, 0]
    assert np.isnan(found.log_w[NOON, 0])
    assert not (found.full | found.clipped | found.shaded)[NOON].any()
    assert found.usable[NOON, 1]


def test_next_to_no_watts_count_as_half_a_watt_and_rounding_weighs_most_there() -> None:
    watts = np.full((STEPS, 2), 80.0)
    watts[NOON] = 0.0, 3.0
    found = judged(watts=watts)
    assert np.exp(found.log_w[NOON]) == pytest.approx([0.5, 3.0])
    assert found.rounding[NOON] == pytest.approx([0.36, 0.01])


@pytest.mark.parametrize(("volts", "soc"), [(14.2, 0.6), (13.2, 0.99)])
def test_a_full_bank_is_set_aside_with_the_steps_beside_it(volts: float, soc: float) -> None:
    assert bank_params(BANK).absorption_v - 0.2 <= 14.2
    found = judged(volts=at_noon(volts, 13.2), soc=at_noon(soc, 0.6))
    assert np.flatnonzero(found.full[:, 0]).tolist() == [NOON - 1, NOON, NOON + 1]  # 0.35 h either way of half hours
    assert not found.usable[NOON - 1 : NOON + 2].any()
    assert found.usable[: NOON - 1].all()


def test_a_bank_of_more_volts_holds_back_at_as_many_more() -> None:
    found = judged(volts=at_noon(28.4, 26.4), bank=BANK.model_copy(update={"nominal_v": 24}))
    assert found.full[NOON].all()
    assert not judged(volts=at_noon(14.2, 13.2), bank=BANK.model_copy(update={"nominal_v": 24})).full.any()


def test_a_controllers_limit_is_the_lower_of_its_amps_at_the_banks_volts_and_its_watts() -> None:
    watts = np.full((STEPS, 2), 80.0)
    watts[NOON] = 260.0, 98.0  # 20 A at 13.2 V are 264 W
    found = judged(watts=watts)
    assert found.clipped[NOON].all()
    assert not found.usable[NOON].any()
    assert int(found.clipped.sum()) == 2


def test_without_volts_the_nominal_ones_stand_and_the_bank_is_not_told() -> None:
    watts = np.full((STEPS, 2), 80.0)
    watts[NOON, 0] = 235.0  # over 97 % of 20 A at 12 V, under it at 13.2 V
    found = judged(watts=watts, volts=np.nan, soc=np.nan)
    assert found.clipped[NOON, 0]
    assert not found.bank_read
    assert not judged(watts=watts).clipped.any()


def test_the_worst_panel_must_be_lit() -> None:
    lit = np.ones((STEPS, 3))
    lit[NOON, 1] = 0.4
    found = judged(lit=lit)
    assert np.flatnonzero(found.shaded[:, 0]).tolist() == [NOON]
    assert not found.fair[NOON, 0]
    assert not found.shaded[:, 1].any()  # the other controller's panel is lit
    assert found.usable.all()  # shade still tells of the sky
    assert found.lit[NOON].tolist() == [0.4, 1.0]


def test_of_several_reasons_the_first_holds() -> None:
    watts, lit = np.full((STEPS, 2), 80.0), np.ones((STEPS, 3))
    watts[NOON], lit[NOON] = (260.0, 98.0), 0.2
    found = judged(watts=watts, lit=lit, soc=at_noon(1.0, 0.6))
    assert found.full[NOON].all()
    assert not (found.clipped | found.shaded)[NOON].any()
    found = judged(watts=watts, lit=lit)
    assert found.clipped[NOON].all()
    assert not found.shaded[NOON].any()
