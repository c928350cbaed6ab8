"""Totals, days and engine windows against sums made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bill_case import BANK, DEPARTURE, STEPS, make_boat, make_case

from planner.decision.bill import summary
from planner.decision.bill.assemble import assemble
from planner.decision.bill.windows import engine_windows
from planner.decision.policy.full_charge import full_soc
from planner.domain.results.figures import ReserveKept
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.voyage import Voyage
from planner.simulation.ledger.bank import bank_params

BEFORE = Note("lone_run", {"outcomes": 21})
WHOLE = slice(0, STEPS)


def plan_of(case: Voyage) -> Plan:
    return assemble(
        case,
        reserve_kept=ReserveKept(kept=40, members=40, low=0.93, high=1.0, confidence=0.9),
        warnings=(BEFORE,),
    )


def test_percentiles_lie_linearly_between_members() -> None:
    spread = summary.spread(7.0, [0.0, 10.0, 20.0])
    assert (spread.planned, spread.p10, spread.p50, spread.p90) == (
        7.0,
        pytest.approx(2.0),
        10.0,
        pytest.approx(18.0),
    )


def test_days_share_the_passage() -> None:
    case = make_case(run_below_percent=70)
    days = summary.days(case)
    assert [day.start for day in days] == [DEPARTURE, DEPARTURE + timedelta(days=1)]
    assert sum(day.distance_nm for day in days) == pytest.approx(6.0 * 48.0)
    assert sum(day.engine_h.planned for day in days) == pytest.approx(summary.engine_hours(case, WHOLE).planned)
    assert sum(day.fuel_l.planned for day in days) == pytest.approx(summary.fuel(case, WHOLE).planned)
    assert min(day.soc_min.planned for day in days) == summary.lowest_soc(case, WHOLE).planned


def test_days_since_full_count_from_departure_and_float_is_a_full_bank_that_gives_nothing() -> None:
    agm = make_boat().model_copy(
        update={"bank": BANK.model_copy(update={"chemistry": "agm", "tail_current_c": 0.05})}
    )
    dull = summary.days(make_case(boat=agm, sun_of_members=(0.0,), run_below_percent=0))
    assert [day.since_full_d for day in dull] == [0.0, 1.0]
    assert [day.float_h for day in dull] == [0.0, 0.0]
    case = make_case(boat=agm, sun_of_members=(8.0,))
    first, second = summary.days(case)
    full = np.flatnonzero(case.planned_soc[:145] >= full_soc(bank_params(agm.bank)))
    assert 0.0 < second.since_full_d < 0.9
    assert second.since_full_d == pytest.approx((144 - full[-1]) / 144.0)
    volts = case.planned["bank_voltage_v"].values[0]
    held = np.isclose(volts, bank_params(agm.bank).float_v, atol=0.005)
    assert first.float_h + second.float_h == pytest.approx(held.sum() / 6.0, abs=0.35)
    assert held.sum() > 6


def test_a_days_lowest_soc_counts_its_end() -> None:
    case = make_case(sun_of_members=(0.4,), run_below_percent=0)
    first, second = summary.days(case)
    assert first.soc_min.planned == second.soc_start.planned < case.planned_soc[143]
    assert second.soc_min.planned == pytest.approx(float(case.planned["bank_soc_end"][0]))


def test_fuel_is_hours_times_rate() -> None:
    case = make_case(run_below_percent=100, run_min=60, motoring_steps=slice(0, 12))
    driving = 2.0
    charging = summary.charging_hours(case).planned
    assert charging > 0.0
    engine = case.boat.engine
    assert summary.engine_hours(case, WHOLE).planned == pytest.approx(driving + charging)
    assert summary.fuel(case, WHOLE).planned == pytest.approx(
        driving * engine.motoring_l_per_h + charging * engine.charging_l_per_h
    )


def test_windows_part_where_the_engine_takes_up_driving() -> None:
    case = make_case(run_below_percent=100, run_min=60, motoring_steps=slice(6, 18))
    windows = engine_windows(case, [Note("quiet")] * case.epochs)
    assert [(window.start - DEPARTURE, window.stop - DEPARTURE, window.propels) for window in windows[:2]] == [
        (timedelta(0), timedelta(hours=1), False),
        (timedelta(hours=1), timedelta(hours=3), True),
    ]
    assert [window.reason.code for window in windows[:2]] == ["quiet", "drives"]
    assert windows[0].role == "cook"


def test_windows_hold_all_engine_time_charge_and_fuel() -> None:
    case = make_case(run_below_percent=70, motoring_steps=slice(100, 130))
    windows = engine_windows(case, [Note("quiet")] * case.epochs)
    hours = sum((window.stop - window.start) / timedelta(hours=1) for window in windows)
    assert hours == pytest.approx(summary.engine_hours(case, WHOLE).planned)
    assert sum(window.fuel_l for window in windows) == pytest.approx(summary.fuel(case, WHOLE).planned)
    running = case.planned["engine_on"].values[0].astype(bool)
    charged = np.clip(case.planned["bank_current_a"].values[0][running], 0.0, None).sum() / 6.0
    assert sum(window.expected_ah for window in windows) == pytest.approx(charged)


def test_no_engine_no_windows() -> None:
    case = make_case(run_below_percent=0)
    assert engine_windows(case, [Note("quiet")] * case.epochs) == ()


def test_a_plan_is_whole() -> None:
    case = make_case(run_below_percent=70)
    plan = plan_of(case)
    assert plan.arrival == DEPARTURE + timedelta(days=2)
    assert len(plan.watches) == case.epochs
    assert plan.warnings == (BEFORE,)
    assert plan.min_soc.planned == pytest.approx(float(case.planned["bank_soc"].min()), abs=1e-12)
    assert sum(row.engine_min for row in plan.watches) == pytest.approx(60 * plan.charging_hours.planned)


def test_bill_figures_follow_the_ledger() -> None:
    """A figure on the bill is one of the datasets': nudge the dataset and the bill moves by as much."""
    case = make_case(run_below_percent=70)
    before = plan_of(case).watches[2]
    soc = case.planned["bank_soc"].copy()
    soc[0, case.epoch_steps(2).start] += 0.01
    solar = case.planned["solar_power_w"].copy()
    solar[0, case.epoch_steps(2)] += 60.0
    nudged = case.planned.assign(bank_soc=soc, solar_power_w=solar)
    after = plan_of(replace(case, planned=nudged)).watches[2]
    assert after.soc.planned - before.soc.planned == pytest.approx(0.01)
    assert after.solar_wh.planned - before.solar_wh.planned == pytest.approx(240.0)


def test_an_engine_out_of_service_is_planned_as_far_as_it_goes() -> None:
    boat = make_boat()
    out = boat.model_copy(update={"engine": boat.engine.model_copy(update={"available": False})})
    plan = plan_of(make_case(boat=out, sun_of_members=(0.2, 0.25), run_below_percent=100))
    assert plan.windows == ()
    assert all(row.earliest is None and row.engine_min == 0 for row in plan.watches)
    assert "engine_out_of_service" in [note.code for note in plan.warnings[0].then]
