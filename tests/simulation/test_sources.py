"""What charges beside the sun: engine speed, warmth, generators by speed, chargers by the clock."""

from __future__ import annotations

import math

import numpy as np
import pytest
from calm_passage import SHIP_OFFSET, WATCHES, bank, engine, harvest, ship_hours, steady_demand, track

from planner.domain.inputs.power import Charger, EngineSpeedTable, Generator, SpeedTable
from planner.domain.policy import METER_READINGS, Policy
from planner.simulation.clock import changes_of_watch
from planner.simulation.ledger.simulate import fuel_l, simulate
from planner.simulation.ledger.sources import (
    alternator_a,
    other_offered_w,
    output_at_a,
    output_over_run_a,
    with_other_sources,
)

SAILS, DRIVES = np.array([False]), np.array([True])
TOWED = Generator(
    name="towed", driven_by="boat_speed", output=SpeedTable(speed_kn=(3.0, 5.0, 7.0), watts=(0.0, 60.0, 150.0))
)
WIND = Generator(
    name="wind", driven_by="apparent_wind", output=SpeedTable(speed_kn=(8.0, 20.0, 35.0), watts=(10.0, 130.0, 400.0))
)


def test_a_slower_engine_turns_out_less():
    table = EngineSpeedTable(rpm=(800.0, 1600.0, 2400.0), value=(0.3, 0.8, 1.0))
    fitted = engine(output_by_rpm=table, charging_rpm=1200.0, motoring_rpm=2400.0, hot_fraction=0.75)
    assert alternator_a(SAILS, fitted)[0] == pytest.approx(100.0 * 0.55 * 0.75)
    assert alternator_a(DRIVES, fitted)[0] == pytest.approx(100.0 * 0.75)


def test_two_hours_begun_cold_bring_more_than_hot_ones_and_driving_is_hot():
    warming = engine(hot_fraction=0.7, warm_up_min=15.0)
    by_hand = 70.0 + 30.0 * 15.0 / 120.0 * (1.0 - math.exp(-8.0))
    assert alternator_a(SAILS, warming)[0] == pytest.approx(by_hand)
    assert alternator_a(DRIVES, warming)[0] == 70.0


def test_a_run_begins_cold_and_ends_hot_step_by_step():
    warming = engine(hot_fraction=0.7, warm_up_min=15.0)
    steps_a = output_over_run_a(warming, step_min=10.0)
    assert steps_a.shape == (2, 9)  # 75 min in steps, and hot after them
    first = 70.0 + 30.0 * 1.5 * (1.0 - math.exp(-2.0 / 3.0))
    assert steps_a[:, 0] == pytest.approx(first)
    assert (np.diff(steps_a) < 0.0).all()
    assert steps_a[:, -1] == pytest.approx(70.0)
    two_hours_a = [*steps_a[0], *[steps_a[0, -1]] * 3]  # hot from the eightieth minute: 0.5 % of 30 A
    assert np.mean(two_hours_a) == pytest.approx(alternator_a(SAILS, warming)[0], rel=1e-3)
    assert output_at_a(warming, 10.0) == pytest.approx(70.0 + 30.0 * math.exp(-2.0 / 3.0), rel=1e-4)
    assert not output_over_run_a(engine(available=False, warm_up_min=15.0), step_min=10.0).any()


def test_the_ledger_s_amps_are_those_of_the_minute_at_the_volts_of_the_moment():
    sailed = track(hours=4.0)
    warming = engine(hot_fraction=0.7, warm_up_min=15.0)
    ledger = ledger_of(sailed, minutes=100, start_soc=0.3, boat_engine=warming)
    amps = (ledger["alternator_power_w"] / ledger["bank_voltage_v"]).values[0, :10]
    steps_a = output_over_run_a(warming, step_min=10.0)[0]
    # within a step of ten minutes the volts rise by a few hundredths
    assert amps == pytest.approx([*steps_a, steps_a[-1]], rel=4e-3)


def test_the_regulator_s_limit_holds():
    assert alternator_a(SAILS, engine(regulator_limit_a=60.0, warm_up_min=15.0))[0] == 60.0


def test_generators_follow_their_speeds():
    sailed = track(hours=4.0, speed_through_water_kn=6.0, apparent_wind_speed_kn=14.0)
    towed = with_other_sources(sailed, generators=(TOWED,), chargers=(), ship_offset=SHIP_OFFSET)
    both = with_other_sources(sailed, generators=(TOWED, WIND), chargers=(), ship_offset=SHIP_OFFSET)
    assert other_offered_w(towed) == pytest.approx(105.0)
    assert other_offered_w(both) == pytest.approx(105.0 + 70.0)
    slow = track(hours=4.0, speed_through_water_kn=2.0, apparent_wind_speed_kn=5.0)
    assert other_offered_w(
        with_other_sources(slow, generators=(TOWED, WIND), chargers=(), ship_offset=SHIP_OFFSET)
    ) == pytest.approx(0.0)


def test_a_towed_generator_is_taken_in_under_engine():
    driven = track(hours=4.0, speed_through_water_kn=6.0, under_engine=1.0)
    assert not other_offered_w(
        with_other_sources(driven, generators=(TOWED,), chargers=(), ship_offset=SHIP_OFFSET)
    ).any()


def test_a_charger_has_power_in_its_hours():
    sailed = track(hours=48.0)
    charger = Charger(name="generating set", output_w=400.0, hours=(("18:00", "19:00"),))
    offered = other_offered_w(with_other_sources(sailed, generators=(), chargers=(charger,), ship_offset=SHIP_OFFSET))
    evening = (ship_hours(sailed) % 24.0 >= 18.0) & (ship_hours(sailed) % 24.0 < 19.0)
    assert np.array_equal(offered, 400.0 * evening)


def ledger_of(sailed, *, minutes: int = 0, start_soc: float = 0.5, boat_engine=None):
    sun = harvest(sailed, peak_w=(0.0,))
    first, end, watch = changes_of_watch(sailed["time"].values, WATCHES, SHIP_OFFSET)
    policy = Policy(
        first_step=first,
        end_step=end,
        minutes=np.full((watch.size, METER_READINGS), minutes, dtype=np.int64),
        stop_soc=np.full(watch.size, 1.01),
        allowed=np.ones(sailed.sizes["time"], dtype=bool),
    )
    return simulate(
        sun,
        steady_demand(sun, 140.0),
        sailed,
        bank=bank(),
        engine=boat_engine or engine(),
        policy=policy,
        start_soc=start_soc,
    )


def test_what_generators_offer_reaches_the_bank_and_the_ledger_closes():
    sailed = track(hours=48.0, speed_through_water_kn=7.0)
    towed = with_other_sources(sailed, generators=(TOWED,), chargers=(), ship_offset=SHIP_OFFSET)
    without, with_it = ledger_of(sailed), ledger_of(towed)
    assert (with_it["other_charge_power_w"].values == 150.0).all()
    assert with_it["bank_soc_end"].values > without["bank_soc_end"].values + 0.5
    into = with_it["other_charge_power_w"] + with_it["solar_power_w"] + with_it["alternator_power_w"]
    out = with_it["load_power_w"] + with_it["stored_power_w"] + with_it["bank_loss_power_w"]
    assert into.values == pytest.approx(out.values, rel=1e-9)


def test_charging_while_motoring_burns_its_margin():
    sailed = track(hours=24.0, under_engine=1.0)
    ledger = ledger_of(sailed)
    plain, marginal = fuel_l(ledger, sailed, engine()), fuel_l(ledger, sailed, engine(marginal_l_per_kwh=0.5))
    made_kwh = float(ledger["alternator_power_w"].sum()) / 6.0 / 1000.0
    assert (marginal - plain).sum() == pytest.approx(0.5 * made_kwh)
