"""Volts and amps as a crew reads them: the low backstop, the tenth minute of a run, days since full."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import ModuleType

import pytest
from calm_passage import engine

from planner.domain.inputs.power import Bank
from planner.physics.bank import at_soc
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.readings import current_at_minute_a, low_volts


def bank(chemistry: str = "lifepo4", **more) -> Bank:
    return Bank(**{"chemistry": chemistry, "capacity_ah": 300.0, "reserve_soc": 0.3} | more)


@pytest.mark.parametrize("chemistry", ["lifepo4", "agm", "flooded", "gel"])
@pytest.mark.parametrize("nominal_v", [12, 24])
def test_the_backstop_is_the_reserve_s_volts_under_load_less_their_doubt_rounded_down(chemistry: str, nominal_v: int):
    boat_bank = bank(chemistry, nominal_v=nominal_v)
    params = bank_params(boat_bank)
    alarm = low_volts(boat_bank, demand_w=150.0)
    branch_v = at_soc(params.open_circuit_v, 0.3) - at_soc(params.hysteresis_v, 0.3)
    drawn_a = 150.0 / branch_v
    drop_v = drawn_a * at_soc(params.discharge_resistance_ohm, 0.3) / (1.0 + drawn_a / params.discharge_bend_a)
    expected = branch_v - drop_v - 0.075 * nominal_v / 12.0
    assert expected - 0.06 < alarm.volts < expected + 0.005
    assert alarm.volts == pytest.approx(round(alarm.volts / 0.05) * 0.05, abs=1e-9)
    assert (alarm.amps, alarm.minutes) == (math.ceil(150.0 / (branch_v - drop_v)), 10)


def test_a_heavier_load_or_a_lower_reserve_lowers_it_and_cut_off_bounds_it():
    volts = [low_volts(bank(), demand_w=watts).volts for watts in (50.0, 300.0, 900.0)]
    assert volts == sorted(volts, reverse=True)
    assert low_volts(bank(reserve_soc=0.2), demand_w=50.0).volts < volts[0]
    empty = low_volts(bank(reserve_soc=0.0, capacity_ah=60.0), demand_w=900.0)
    assert empty.amps > 80.0
    assert empty.volts == pytest.approx(bank_params(bank()).cutoff_v + 0.4, abs=0.051)
    assert low_volts(bank(temp_c=-10.0, reserve_soc=0.1), demand_w=50.0).volts > 11.0  # what cold withholds has volts


def test_the_current_at_a_minute_is_the_alternator_s_less_what_the_loads_take():
    params = bank_params(bank())
    warming = engine(hot_fraction=0.7, warm_up_min=15.0)
    for minute, rest_w in ((1, -200.0), (10, -200.0), (30, 300.0)):
        current = current_at_minute_a(warming, params, minute=minute, soc=0.4, rest_w=rest_w)
        alternator = 70.0 + 30.0 * math.exp(-minute / 15.0)
        assert current == pytest.approx(alternator + rest_w / 13.4, rel=0.01)


def test_a_full_bank_shows_its_tail_whatever_the_alternator_could_give():
    params = bank_params(bank("agm"))
    current = current_at_minute_a(engine(), params, minute=10, soc=1.0, rest_w=-100.0)
    assert current <= params.tail_current_a * 1.01


@pytest.mark.parametrize("boat", ["12 V LiFePO4, 300 Ah", "24 V LiFePO4, 200 Ah", "12 V AGM, 440 Ah"])
def test_made_descents_ring_before_a_tenth_is_left_and_never_a_tenth_above_the_reserve(
    boat: str, script: Callable[[str], ModuleType]
):
    bench = script("bench_low_volts")
    boat_bank, usual_w = bench.BOATS[boat]
    alarm = bench.alarm_of(boat_bank, usual_w)
    caught, descents = 0, 20
    for seed in range(descents):
        rung, _ = bench.made(boat_bank, usual_w, alarm, seed=seed)
        assert all(soc <= boat_bank.reserve_soc + 0.1 for soc in rung)
        caught += bool(rung) and rung[0] >= 0.10
    assert caught >= 0.9 * descents  # 95 % of 200 in scripts/bench_low_volts.py
