"""How long the bank lasts without engine, checked by hand on a night of even load."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from bill_case import make_boat, make_case, with_policy

from planner.decision.bill.assemble import assemble
from planner.decision.bill.dead.without_engine import without_engine
from planner.domain.policy import METER_READINGS
from planner.domain.results.figures import ReserveKept
from planner.domain.voyage import Voyage

KEPT = ReserveKept(kept=3, members=3, low=0.6, high=1.0, confidence=0.9)


def never_charging(case: Voyage) -> Voyage:
    return with_policy(case, np.zeros((case.epochs, METER_READINGS), dtype=np.int64))


def test_a_bank_without_sun_lasts_what_its_charge_gives() -> None:
    case = never_charging(make_case(sun_of_members=(0.0, 0.0, 0.0)))
    found = without_engine(case, [0])[0]
    bank = case.boat.bank
    drawn_a = float(case.planned_demand_w.mean()) / 12.8
    hours = (case.passage.start.state_of_charge - bank.reserve_soc) * bank.capacity_ah / drawn_a
    assert found.as_it_is.reserve_h == pytest.approx(hours, rel=0.06)  # volts are not quite 12.8
    whole = case.passage.start.state_of_charge * bank.capacity_ah / drawn_a
    assert found.as_it_is.lights_out_h == pytest.approx(whole, rel=0.10)
    assert found.start == case.at(0)


def with_pilot(case: Voyage, watts: float) -> Voyage:
    """Return the case with so much steering on top."""
    items = case.demand["load_item_power_w"]
    pilot = xr.full_like(items.isel(load=[0]), watts).assign_coords(load=["steering"])
    demand = xr.Dataset(
        {
            "demand_power_w": case.demand["demand_power_w"] + watts,
            "load_item_power_w": xr.concat([items, pilot], "load").transpose(*items.dims),
        }
    )
    ledger = case.ledger.assign(load_power_w=case.ledger["load_power_w"] + watts)
    return replace(case, demand=demand, ledger=ledger)


def test_shedding_and_hands_on_the_tiller_each_win_hours() -> None:
    case = with_pilot(never_charging(make_case(sun_of_members=(0.0, 0.0, 0.0))), 40.0)
    found = without_engine(case, [0])[0]
    assert found.by_hand is not None
    hours = [lasts.lights_out_h for lasts in (found.as_it_is, found.shed, found.by_hand)]
    assert hours == sorted(hours, key=lambda each: np.inf if each is None else each)
    assert len(set(hours)) == 3


def test_the_bill_agrees_with_its_watches() -> None:
    """The first watch of a day tells the same hours as the day's own line."""
    plan = assemble(make_case(sun_of_members=(0.3, 0.4, 0.5)), reserve_kept=KEPT, warnings=())
    by_start = {row.start: row.dead.hours_left for row in plan.watches}
    assert len(plan.without_engine) == len({row.day for row in plan.watches})
    for case in plan.without_engine:
        assert case.as_it_is.reserve_h == by_start[case.start]
    assert any(case.as_it_is.reserve_h is not None for case in plan.without_engine)


def test_a_poor_tenth_of_the_weather_counts() -> None:
    bright = without_engine(never_charging(make_case(sun_of_members=(1.0,) * 11)), [0])[0]
    one_dull = without_engine(never_charging(make_case(sun_of_members=(*(1.0,) * 10, 0.0))), [0])[0]
    two_dull = without_engine(never_charging(make_case(sun_of_members=(*(1.0,) * 9, 0.0, 0.0))), [0])[0]
    assert one_dull.as_it_is == bright.as_it_is
    assert two_dull.as_it_is.reserve_h is not None


def test_a_boat_that_nobody_steers_by_the_bank_has_no_third_line() -> None:
    assert without_engine(make_case(boat=make_boat()), [0])[0].by_hand is None
