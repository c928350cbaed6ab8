"""What the loads ask for: each rule of a load alone, steering, deferrable energy."""

from __future__ import annotations

import numpy as np
import pytest
from calm_passage import AUTOPILOT, SHIP_OFFSET, STEP_MIN, WATCHES, harvest, ship_hours, track

from planner.domain.glossary import DEMAND
from planner.domain.inputs.power import Controller, Inverter, Load, SecondaryBank
from planner.domain.schema import check_dataset
from planner.simulation.ledger.demand import demand, place_in_surplus, steering_w

CONTROLLERS = (
    Controller(name="a", strings=(("p",),), idle_w=0.7),
    Controller(name="b", strings=(("q",),), idle_w=1.1),
)
BY_HAND = AUTOPILOT.model_copy(update={"steering": "hand"})


def ask(sailed, sun, *loads: Load, autopilot=BY_HAND, **more):
    return demand(
        sailed,
        sun,
        loads=loads,
        autopilot=autopilot,
        controllers=CONTROLLERS,
        nominal_v=12.0,
        watches=WATCHES,
        ship_offset=SHIP_OFFSET,
        **more,
    )


def item_w(load: Load, sailed=None, sun=None) -> np.ndarray:
    sailed = track() if sailed is None else sailed
    sun = harvest(sailed) if sun is None else sun
    return ask(sailed, sun, load)["load_item_power_w"].sel(load=load.name).values


def test_the_dataset_keeps_the_glossary_and_items_sum_to_the_members_mean():
    sailed = track()
    sun = harvest(sailed, peak_w=(100.0, 500.0), air_c=[[10.0], [30.0]])
    asked = ask(
        sailed,
        sun,
        Load(name="fridge", watts=50.0, duty=0.5, per_c=0.03),
        Load(name="watermaker", watts=120.0, wh_per_day=300.0),
        autopilot=AUTOPILOT,
    )
    check_dataset(asked, DEMAND, door="test")
    assert asked["load"].values.tolist() == ["fridge", "watermaker", "steering", "controllers"]
    mean = asked["demand_power_w"].mean("member").values
    assert mean == pytest.approx(asked["load_item_power_w"].sum("load").values, rel=1e-12)


def test_idle_draw_is_the_sum_of_the_controllers_day_and_night():
    assert ask(track(), harvest(track()))["load_item_power_w"].sel(load="controllers").values == pytest.approx(1.8)


def test_amps_are_at_nominal_volts_and_duty_thins_them():
    assert item_w(Load(name="radio", amps=2.0, duty=0.25)) == pytest.approx(6.0)


def test_lights_burn_from_sunset_to_sunrise():
    sailed = track(hours=24.0)
    lit = item_w(Load(name="lights", watts=6.0, when="night"), sailed) > 0.0
    hour = ship_hours(sailed) % 24.0
    assert np.array_equal(lit, (hour >= 18.0) | (hour < 6.0))


def test_under_sail_and_under_engine_are_each_other_s_rest():
    sailed = track(under_engine=np.arange(288) % 3 == 0)
    sailing = item_w(Load(name="s", watts=10.0, when="sailing"), sailed)
    motoring = item_w(Load(name="e", watts=10.0, when="engine"), sailed)
    assert np.array_equal(motoring > 0.0, np.arange(288) % 3 == 0)
    assert sailing + motoring == pytest.approx(10.0)


def test_a_load_by_hours_runs_in_them_each_day():
    drawn = item_w(Load(name="net", watts=60.0, when="hours", hours=(("23:30", "00:30"),)))
    assert drawn.sum() * STEP_MIN / 60.0 == pytest.approx(2 * 60.0)


def test_a_load_by_watch_follows_the_role():
    drawn = item_w(Load(name="radar", watts=25.0, when="watch", roles=("mate",)))
    hour = ship_hours(track()) % 24.0
    assert np.array_equal(drawn > 0.0, (hour >= 20.0) | (hour < 2.0))


def test_a_load_above_a_wind_runs_at_that_wind_and_more():
    sailed = track(hours=1.0, true_wind_speed_kn=[0.0, 19.9, 20.0, 25.0, 5.0, 40.0])
    assert (item_w(Load(name="x", watts=1.0, above_wind_kn=20.0), sailed) > 0).tolist() == [0, 0, 1, 1, 0, 1]


def test_a_fridge_draws_more_in_warm_air_and_keeps_a_fifth_in_any_cold():
    fridge = Load(name="fridge", watts=50.0, per_c=0.03)
    sailed = track(hours=4.0)
    for air_c, watts in ((25.0, 50.0), (35.0, 65.0), (15.0, 35.0), (-20.0, 10.0)):
        assert item_w(fridge, sailed, harvest(sailed, air_c=air_c)) == pytest.approx(watts)


def test_steering_grows_with_wind_angle_and_seas():
    sailed = track(hours=0.5, true_wind_angle_deg=[-90.0, 90.0, 180.0], true_wind_speed_kn=[10.0, 20.0, 15.0])
    assert steering_w(sailed, AUTOPILOT) == pytest.approx([38.0, 48.0, 56.0])


def test_a_wind_vane_needs_the_autopilot_only_under_engine_and_hands_never():
    sailed = track(hours=0.5, under_engine=[0.0, 1.0, 1.0])
    vane = AUTOPILOT.model_copy(update={"steering": "wind_vane"})
    assert steering_w(sailed, vane).tolist() == [0.0, 30.0, 30.0]
    assert steering_w(sailed, BY_HAND).tolist() == [0.0, 0.0, 0.0]


def test_deferrable_energy_is_met_exactly_and_the_last_part_of_a_day_pro_rata():
    sailed = track(hours=36.0)
    drawn = item_w(Load(name="watermaker", watts=150.0, wh_per_day=333.0), sailed)
    assert drawn[:144].sum() * STEP_MIN / 60.0 == pytest.approx(333.0, rel=1e-12)
    assert drawn[144:].sum() * STEP_MIN / 60.0 == pytest.approx(333.0 / 2, rel=1e-12)


def test_deferrable_loads_fall_at_noon_and_within_their_hours():
    sailed = track(hours=24.0)
    hour = ship_hours(sailed) % 24.0
    noon = hour[item_w(Load(name="w", watts=150.0, wh_per_day=150.0), sailed) > 0.0]
    assert noon.min() >= 11.5
    assert noon.max() < 12.5
    evening = item_w(Load(name="w", watts=150.0, wh_per_day=150.0, when="hours", hours=(("15:00", "20:00"),)), sailed)
    assert hour[evening > 0.0].tolist() == pytest.approx(15.0 + np.arange(6) / 6.0)


def test_a_second_deferrable_load_makes_way_for_the_first():
    sailed = track(hours=24.0)
    first = Load(name="first", watts=390.0, wh_per_day=390.0)
    second = Load(name="second", watts=390.0, wh_per_day=390.0)
    items = ask(sailed, harvest(sailed), first, second)["load_item_power_w"]
    assert (items.sel(load="first") * items.sel(load="second")).sum() == 0.0


def test_too_few_hours_place_what_they_hold():
    placed = place_in_surplus(
        np.arange(144.0), np.arange(144) < 3, draw_w=60.0, wh_per_day=500.0, step_s=60.0 * STEP_MIN
    )
    assert placed.sum() * STEP_MIN / 60.0 == pytest.approx(30.0)


def test_equal_surplus_is_taken_earliest_first():
    placed = place_in_surplus(np.zeros(144), np.ones(144, dtype=bool), draw_w=60.0, wh_per_day=25.0, step_s=600.0)
    assert placed[:4].tolist() == [60.0, 60.0, 30.0, 0.0]


def placed_in(surplus_w, may_run=None, **figures) -> np.ndarray:
    may_run = np.ones(144, dtype=bool) if may_run is None else may_run
    return place_in_surplus(np.asarray(surplus_w, dtype=float), may_run, draw_w=60.0, step_s=600.0, **figures)


def pieces(placed: np.ndarray) -> list[int]:
    """Lengths of unbroken runs, in steps."""
    edges = np.diff(np.concatenate([[0], (placed > 0.0).astype(int), [0]]))
    return (np.flatnonzero(edges < 0) - np.flatnonzero(edges > 0)).tolist()


def test_a_shortest_run_keeps_a_load_in_one_piece_where_the_sun_comes_and_goes():
    flicker = np.where(np.arange(144) % 2 == 0, 200.0, 0.0)
    assert max(pieces(placed_in(flicker, wh_per_day=100.0))) == 1
    run = placed_in(flicker, wh_per_day=100.0, min_run_min=60)
    assert pieces(run) == [10]
    assert run.sum() / 6.0 == pytest.approx(100.0)


def test_runs_are_no_shorter_than_the_shortest_and_stand_where_most_sun_is():
    humps = np.where(np.abs(np.arange(144) - 30) <= 4, 300.0, 0.0) + np.where(
        np.abs(np.arange(144) - 90) <= 4, 299.0, 0.0
    )
    run = placed_in(humps, wh_per_day=130.0, min_run_min=60)  # 13 steps: two runs of six and a half
    assert pieces(run) == [7, 7]
    assert run.sum() / 6.0 == pytest.approx(130.0)
    assert run[26:35].sum() == run[86:95].sum() == pytest.approx(6.5 * 60.0)


def test_a_run_that_finds_no_room_is_dropped():
    broken = np.arange(144) % 5 != 0  # never more than four steps together
    assert not placed_in(np.ones(144), broken, wh_per_day=100.0, min_run_min=60).any()


def test_runs_keep_within_earliest_and_latest():
    may_run = np.zeros(144, dtype=bool)
    may_run[54:102] = True
    run = placed_in(-np.arange(144.0), may_run, wh_per_day=60.0, min_run_min=60)
    assert np.flatnonzero(run).tolist() == [54, 55, 56, 57, 58, 59]


def test_the_inverter_adds_its_loss_and_its_own_draw_while_it_feeds():
    sailed = track(hours=24.0)
    kettle = Load(name="kettle", watts=44.0, when="hours", hours=(("08:00", "09:00"),), ac=True)
    asked = ask(sailed, harvest(sailed), kettle, inverter=Inverter(efficiency=0.88, idle_w=9.0))
    items = asked["load_item_power_w"]
    on = items.sel(load="kettle").values > 0.0
    assert items.sel(load="kettle").values[on] == pytest.approx(50.0)
    assert np.array_equal(items.sel(load="inverter").values, 9.0 * on)
    assert asked["demand_power_w"].values[0] == pytest.approx(items.sum("load").values, rel=1e-12)


def test_a_deferrable_load_behind_the_inverter_gets_its_energy():
    sailed = track(hours=24.0)
    laptop = Load(name="laptop", watts=60.0, wh_per_day=176.0, ac=True)
    items = ask(sailed, harvest(sailed), laptop, inverter=Inverter(efficiency=0.88))["load_item_power_w"]
    assert items.sel(load="laptop").values.sum() / 6.0 == pytest.approx(200.0)


def test_a_secondary_bank_is_charged_with_its_charger_s_loss_when_it_may():
    sailed = track(hours=24.0, under_engine=np.arange(144) < 30)
    start = SecondaryBank(name="start bank", need_wh_per_day=45.0, charger_w=100.0, charger_efficiency=0.9)
    items = ask(sailed, harvest(sailed), secondary_banks=(start,))["load_item_power_w"]
    assert items["load"].values.tolist() == ["start bank", "steering", "controllers"]
    assert items.sel(load="start bank").values.sum() / 6.0 == pytest.approx(50.0)
    driven = start.model_copy(update={"when": "engine"})
    drawn = ask(sailed, harvest(sailed), secondary_banks=(driven,))["load_item_power_w"].sel(load="start bank").values
    assert not drawn[30:].any()
