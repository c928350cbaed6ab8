"""The bill's rows against figures reckoned by hand on a passage of round figures."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from bill_case import BANK, DEPARTURE, STEPS, make_boat, make_case, make_passage, with_policy

from planner.decision.bill.ladders.watch import ChargingRuns, rungs
from planner.decision.bill.prices import charging_power_w, load_prices
from planner.decision.bill.rows import mean_bearing_deg, wake_soc_percent, watch_rows
from planner.decision.bill.skip import skipped_runs
from planner.domain.inputs.passage import Start, Watch
from planner.domain.policy import METER_READINGS
from planner.domain.results.bill import WatchRow
from planner.domain.voyage import Voyage
from planner.physics.bank import at_soc
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.readings import low_volts


def rows_of(case: Voyage) -> tuple[WatchRow, ...]:
    return watch_rows(case, skipped_runs(case), ["why"] * case.epochs)


def alternator_w(case: Voyage) -> float:
    """Hot amperes at the volts to which they raise a bank from rest, half to nine tenths full."""
    params = bank_params(BANK)
    amps = case.boat.engine.alternator_a * case.boat.engine.hot_fraction
    rest_v = np.mean([at_soc(params.open_circuit_v, soc) for soc in (0.55, 0.65, 0.75, 0.85)])
    return float(amps * (rest_v + amps * at_soc(params.charge_resistance_ohm, 0.5)))


def test_there_is_one_row_a_watch_and_they_join() -> None:
    rows = rows_of(make_case())
    assert [row.role for row in rows[:3]] == ["cook", "mate", "skipper"]  # from 08:00
    assert len(rows) == 12
    assert all(before.end == after.start for before, after in pairwise(rows))
    assert rows[0].start == DEPARTURE
    assert rows[-1].end == DEPARTURE + timedelta(days=2)


DOGGED = ("00:00", "04:00", "08:00", "12:00", "16:00", "18:00", "20:00")  # seven, two of them dog watches


def test_dogged_watches_pass_from_keeper_to_keeper_day_by_day() -> None:
    watches = tuple(Watch(start=start, end=end) for start, end in pairwise([*DOGGED, "00:00"]))
    passage = make_passage().model_copy(update={"watches": watches, "watchkeepers": ("mate", "cook")})
    rows = rows_of(make_case(passage=passage))
    assert [row.role for row in rows[:5]] == ["mate", "cook", "mate", "cook", "mate"]  # from 08:00 on
    at_eight = [row.role for row in rows if row.start.hour == DEPARTURE.hour]
    assert at_eight == ["mate", "cook"]  # seven watches later it is the other's turn


def test_a_departure_within_a_watch_makes_a_short_first_row() -> None:
    late = [watch.model_copy(update={"start": f"{(2 + 4 * i) % 24:02d}:00", "end": f"{(6 + 4 * i) % 24:02d}:00"})
            for i, watch in enumerate(make_passage().watches)]  # fmt: skip
    rows = rows_of(make_case(passage=make_passage().model_copy(update={"watches": tuple(late)})))
    assert rows[0].end - rows[0].start == timedelta(hours=2)
    assert rows[-1].end - rows[-1].start == timedelta(hours=2)


def test_days_are_numbered_by_24_hours_from_departure() -> None:
    assert [row.day for row in rows_of(make_case())] == [1] * 6 + [2] * 6


@pytest.mark.parametrize(
    ("bearings", "mean"),
    [((350.0, 10.0), 0.0), ((80.0, 100.0), 90.0), ((359.0, 359.0), 359.0), ((170.0, 200.0), 185.0)],
)
def test_mean_heading_goes_round_north(bearings: tuple[float, float], mean: float) -> None:
    assert (mean_bearing_deg(np.array(bearings)) - mean + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-9)


def test_a_ladder_joins_equal_neighbours_from_high_to_low() -> None:
    minutes = np.repeat([120, 60, 0], [60, 8, 33])
    assert [(rung.from_percent, rung.minutes) for rung in rungs(minutes)] == [(68, 0), (60, 60), (0, 120)]


def test_a_ladder_gives_every_reading_the_policys_minutes() -> None:
    minutes = np.random.default_rng(3).choice([0, 30, 60], METER_READINGS)
    ladder = rungs(minutes)
    read = [
        next(rung.minutes for rung in ladder if reading >= rung.from_percent) for reading in range(METER_READINGS)
    ]
    assert read == minutes.tolist()


def test_a_ladder_without_rungs_is_one_line() -> None:
    assert [(rung.from_percent, rung.minutes) for rung in rungs(np.zeros(METER_READINGS, dtype=np.int64))] == [(0, 0)]


def test_energy_of_a_watch_is_power_times_hours() -> None:
    row = rows_of(make_case())[0]
    assert row.load_wh.planned == pytest.approx(800.0)  # 200 W for 4 h
    assert row.solar_wh.planned == pytest.approx(1600.0)  # 400 W for 4 h
    assert row.solar_wh.p50 == pytest.approx(1600.0)
    assert row.solar_wh.p10 == pytest.approx(1600.0 * 0.84)  # a fifth of the way from the member at 0.8 to that at 1


def test_no_run_is_offered_where_quiet_hours_fill_the_watch() -> None:
    rows = rows_of(make_case())
    assert rows[4].earliest is None  # 00:00 to 04:00
    assert rows[4].stop.amp_hours == 0
    assert rows[4].charge_current_a is None
    assert rows[5].earliest == rows[5].start + timedelta(hours=1)  # quiet until 05:00


def test_a_run_below_the_threshold_stands_on_the_row() -> None:
    row = rows_of(make_case(run_below_percent=100))[0]
    assert row.engine_min == 60
    assert row.skip_cost_min > 0


def test_a_current_after_ten_minutes_is_alternator_and_sun_less_loads() -> None:
    case = make_case(run_below_percent=50)
    engine, params = case.boat.engine, bank_params(BANK)
    alternator_a = engine.alternator_a * engine.hot_fraction
    # from 60 %, where none is asked for, the ladder's highest reading is taken; amps are amps at any volts
    for first, sun_w in ((0, 400.0), (72, 0.0)):  # by day, by night
        volts = at_soc(params.open_circuit_v, 0.5) + alternator_a * at_soc(params.charge_resistance_ohm, 0.5)
        expected = alternator_a + (sun_w - 200.0) / volts
        assert ChargingRuns(case).current_after_start_a(0, first) == pytest.approx(expected, rel=0.01)


def test_a_warming_alternator_is_read_at_its_tenth_minute() -> None:
    boat = make_boat()
    warming = boat.engine.model_copy(update={"warm_up_min": 15.0})
    case, hot = make_case(boat=boat.model_copy(update={"engine": warming})), make_case()
    extra_a = ChargingRuns(case).current_after_start_a(0, 0) - ChargingRuns(hot).current_after_start_a(0, 0)
    expected = warming.alternator_a * (1.0 - warming.hot_fraction) * np.exp(-10.0 / 15.0)
    assert extra_a == pytest.approx(expected, rel=0.01)


def test_no_current_is_promised_for_a_run_that_no_reading_asks_for() -> None:
    assert ChargingRuns(make_case(run_below_percent=0)).current_after_start_a(0, 0) is None


def test_amp_hours_to_stop_end_no_run_that_the_ladder_asks_for() -> None:
    case = make_case(run_below_percent=50, run_min=60)
    runs = ChargingRuns(case)
    epoch = 0
    for reading in (49, 40, 35, 30):
        assert runs.amp_hours_in(epoch, 60, reading / 100.0) <= runs.stop(epoch).amp_hours


def test_amp_hours_are_current_times_time() -> None:
    case = make_case()
    runs = ChargingRuns(case)
    assert runs.amp_hours_in(0, 60, 0.5) == pytest.approx(runs.current_after_start_a(0, 0) * 1.0, rel=0.02)


def test_a_run_is_tried_at_charging_speed_where_the_planned_course_drives() -> None:
    """A ladder under engine says what to run should she sail: the alternator then turns as in any run."""
    slow = make_boat()
    engine = slow.engine.model_copy(update={"charging_rpm": 1000.0, "motoring_rpm": 3000.0})
    table = {"rpm": (1000.0, 3000.0), "value": (0.5, 1.0)}
    engine = type(engine).model_validate(engine.model_dump() | {"output_by_rpm": table})
    slow = slow.model_copy(update={"engine": engine})
    driven, sailing = make_case(boat=slow, motoring_steps=slice(0, 24)), make_case(boat=slow)
    driven.policy.allowed[:24] = True
    assert ChargingRuns(driven).amp_hours_in(0, 60, 0.5) == ChargingRuns(sailing).amp_hours_in(0, 60, 0.5)
    assert load_prices(driven) == load_prices(sailing)


def test_a_full_bank_takes_no_amp_hours_past_the_stop() -> None:
    assert ChargingRuns(make_case()).amp_hours_in(0, 60, 0.95) == 0.0


def test_tail_current_is_that_of_the_boat_file() -> None:
    boat = make_boat().model_copy(update={"bank": BANK.model_copy(update={"tail_current_c": 0.05})})
    assert rows_of(make_case(boat=boat))[0].stop.tail_a == 20  # 0.05 of 400 Ah


def test_waking_soc_is_reserve_and_meter_error() -> None:
    assert wake_soc_percent(make_case()) == 32  # 30 % and 2 %


def test_the_backstop_in_volts_is_that_of_the_watch_s_highest_usual_load() -> None:
    case = make_case()
    demand = case.demand["demand_power_w"].copy()
    demand[:, 80:84] = 500.0  # a sixth of the fourth watch
    demand[:, 100:101] = 900.0  # a step of the fifth: no usual load
    object.__setattr__(case, "planned", case.planned.assign(load_power_w=demand[:1]))
    rows = rows_of(case)
    assert (rows[3].wake_v, rows[3].wake_a) == (low_volts(BANK, demand_w=500.0).volts, 59.0)
    assert (rows[4].wake_v, rows[4].wake_a) == (low_volts(BANK, demand_w=200.0).volts, 24.0)


def test_a_full_bank_tells_nothing_of_the_alternator() -> None:
    full = make_passage().model_copy(update={"start": Start(state_of_charge=1.0)})
    rows = rows_of(make_case(passage=full, run_below_percent=METER_READINGS))
    assert rows[0].earliest is not None
    assert rows[0].charge_current_a is None


def test_prices_are_energy_over_charging_power() -> None:
    case = make_case()
    prices = {price.name: price for price in load_prices(case)}
    assert prices["lights"].wh_per_day == pytest.approx(2400.0)
    assert prices["lights"].engine_min_per_hour == pytest.approx(60.0 * 100.0 / charging_power_w(case))
    assert prices["lights"].engine_min_per_day == pytest.approx(60.0 * 2400.0 / charging_power_w(case))
    assert prices["lights"].shed_order is None
    assert [price.name for price in load_prices(case)] == ["lights", "fridge", "watermaker"]


def test_charging_power_is_alternator_less_loads_less_losses() -> None:
    case = make_case()
    bus_w = alternator_w(case)
    assert 0.97 * (bus_w - 200.0) < charging_power_w(case) < bus_w - 200.0


def test_a_dead_engine_still_has_a_price() -> None:
    boat = make_boat()
    dead = boat.model_copy(update={"engine": boat.engine.model_copy(update={"available": False})})
    assert load_prices(make_case(boat=dead)) == load_prices(make_case(boat=boat, run_below_percent=0))


def test_deferrable_loads_are_named_where_they_draw() -> None:
    case = make_case()
    items = case.demand["load_item_power_w"].copy()
    items[24:, 2] = 0.0
    demand = case.demand.assign(load_item_power_w=items)
    object.__setattr__(case, "demand", demand)
    rows = rows_of(case)
    placed = rows[0].deferrable[0]
    assert (placed.load, placed.start, placed.minutes) == ("watermaker", case.at(0), 240)  # 24 steps
    taken_wh = float(items[:24, 2].sum()) / 6.0
    bank = case.boat.bank
    needed = 100.0 * (bank.reserve_soc + 0.1 + taken_wh / (bank.capacity_ah * bank.nominal_v))
    assert needed <= placed.from_percent < needed + 5.0
    assert placed.from_percent % 5 == 0
    assert rows[1].deferrable == ()


def test_a_row_follows_the_policy_it_is_given() -> None:
    case = make_case(run_below_percent=0)
    minutes = np.tile(np.where(np.arange(METER_READINGS) < 43, 90, 0), (case.epochs, 1))
    ladder = rows_of(with_policy(case, minutes))[0].ladder
    assert [(rung.from_percent, rung.minutes) for rung in ladder] == [(43, 0), (0, 90)]


def test_under_engine_minutes_are_counted() -> None:
    rows = rows_of(make_case(motoring_steps=slice(6, 24)))
    assert rows[0].under_engine_min == 180
    assert rows[0].engine_min == 0


def test_the_tack_of_most_of_the_watch_is_shown() -> None:
    tack = np.ones(STEPS)
    tack[:13] = -1.0
    rows = rows_of(make_case(tack=tack))
    assert (rows[0].tack, rows[1].tack) == (-1, 1)
