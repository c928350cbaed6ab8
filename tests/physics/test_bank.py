"""One step of the bank: where every watt goes, and the limits that an electrician knows."""

from __future__ import annotations

import numpy as np
import pytest

from planner.domain.inputs.power import Bank
from planner.physics.bank import BankParams, at_soc, bank_step, bus_v, mean_rest_v, most_charge_a, rest_integral
from planner.simulation.ledger.bank import bank_params

CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4")
STEP_S = 600.0


def params_of(chemistry: str, **figures) -> BankParams:
    return bank_params(Bank(chemistry=chemistry, capacity_ah=400.0, reserve_soc=0.4, **figures))


def straight_bank(*, resistance_ohm: float = 0.01, slope_v: float = 1.0) -> BankParams:
    """A bank whose rest voltage is a straight line, 12 V + slope * SOC, without loss of charge."""
    soc = np.linspace(0.0, 1.0, 201)
    return params_of("lifepo4")._replace(
        open_circuit_v=12.0 + slope_v * soc,
        charge_efficiency=np.ones(201),
        charge_resistance_ohm=np.full(201, resistance_ohm),
        discharge_resistance_ohm=np.full(201, resistance_ohm),
        charge_limit_a=1e6,
        absorption_v=100.0,
        alternator_v=100.0,
        self_discharge_per_h=0.0,
        cutoff_v=8.0,
    )


def random_steps(params: BankParams, count: int):
    rng = np.random.default_rng(7)
    for _ in range(count):
        soc = rng.choice([0.0, 1.0, rng.random(), 0.01 * rng.random(), 1.0 - 0.01 * rng.random()])
        solar_w, alternator_w, other_w, demand_w = rng.random(4) * rng.choice([0.0, 10.0, 1000.0, 20000.0], 4)
        step_s = rng.choice([60.0, 300.0, 600.0])
        lean = rng.choice([0.0, -1.0, 1.0, 2.0 * rng.random() - 1.0])
        step = bank_step(soc, solar_w, alternator_w, other_w, demand_w, step_s, params, np.inf, lean)
        yield soc, (solar_w, alternator_w, other_w, demand_w), step_s, step


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
@pytest.mark.parametrize("volts", [{}, {"alternator_v": 13.9}, {"absorption_v": 13.9, "alternator_v": 14.4}])
def test_the_step_closes_with_every_loss_computed_on_its_own(chemistry: str, volts: dict):
    params = params_of(chemistry, health=0.8, **volts)
    for soc, (*_, demand_w), step_s, step in random_steps(params, 10_000):
        taken_w = step.solar_taken_w + step.alternator_taken_w + step.other_taken_w
        served_w = demand_w - step.unserved_w
        moved_a = (step.soc_next - soc) * params.capacity_ah * 3600.0 / step_s
        mean_v = at_soc(params.open_circuit_v, 0.5 * (soc + step.soc_next))
        used_w = step.stored_w + step.resistive_loss_w + step.coulombic_loss_w + step.hysteresis_loss_w
        assert taken_w - served_w == pytest.approx(used_w, rel=1e-9, abs=1e-9 * max(taken_w, served_w, 1.0))
        assert step.voltage_v * step.current_a == pytest.approx(used_w, rel=1e-9, abs=1e-8)
        assert step.coulombic_loss_w == pytest.approx(max(step.current_a - moved_a, 0.0) * mean_v, rel=0.05, abs=1e-6)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_stored_energy_is_the_integral_of_the_rest_voltage(chemistry: str):
    params = params_of(chemistry)
    nodes = np.linspace(0.0, 1.0, 201)
    rest_v = params.open_circuit_v
    at_node_v = np.concatenate([[0.0], np.cumsum(0.5 * (rest_v[1:] + rest_v[:-1]) * np.diff(nodes))])

    def primitive_v(soc: float) -> float:
        cell = min(int(soc * 200.0), 199)
        here_v = np.interp(soc, nodes, rest_v)
        return at_node_v[cell] + 0.5 * (rest_v[cell] + here_v) * (soc - nodes[cell])

    for soc, _, step_s, step in random_steps(params, 1000):
        stored_w = (primitive_v(step.soc_next) - primitive_v(soc)) * params.capacity_ah * 3600.0 / step_s
        assert step.stored_w == pytest.approx(stored_w, rel=1e-9, abs=1e-8)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_nothing_is_negative_and_soc_stays_within_its_range(chemistry: str):
    params = params_of(chemistry)
    for _, offered, _, step in random_steps(params, 2000):
        solar_w, alternator_w, other_w, demand_w = offered
        assert 0.0 <= step.soc_next <= 1.0
        assert 0.0 <= step.solar_taken_w <= solar_w
        assert 0.0 <= step.alternator_taken_w <= alternator_w
        assert 0.0 <= step.other_taken_w <= other_w
        assert 0.0 <= step.unserved_w <= demand_w
        assert min(step.resistive_loss_w, step.coulombic_loss_w) >= 0.0


def test_current_solves_the_quadratic_of_a_straight_rest_voltage():
    params, soc = straight_bank(), 0.5
    for net_w in (-800.0, -1.0, 0.5, 300.0, 2500.0):
        step = bank_step(soc, max(net_w, 0.0), 0.0, 0.0, max(-net_w, 0.0), STEP_S, params)
        rest_v, square_ohm = 12.5, 0.5 * (STEP_S / 3600.0) / params.capacity_ah + 0.01
        by_hand_a = (-rest_v + np.sqrt(rest_v**2 + 4.0 * square_ohm * net_w)) / (2.0 * square_ohm)
        assert step.current_a == pytest.approx(by_hand_a, rel=1e-12)
        assert step.soc_next == pytest.approx(soc + by_hand_a * STEP_S / 3600.0 / params.capacity_ah, rel=1e-12)


def test_the_taper_is_the_exponential_of_a_straight_rest_voltage():
    params = straight_bank(resistance_ohm=0.05, slope_v=2.0)._replace(absorption_v=14.2, alternator_v=14.2)
    soc, hours, step_s = 0.5, 0.0, 10.0
    first_a = most_charge_a(soc, np.inf, 14.2, 1.0, 0.05, step_s / 3600.0, params)
    time_constant_h = 0.05 * params.capacity_ah / 2.0
    while hours < 5.0:
        step = bank_step(soc, 1e5, 0.0, 0.0, 0.0, step_s, params)
        # backward steps of 10 s on a constant of 10 h: 1.4e-4 of the exponent's length
        assert step.current_a == pytest.approx(first_a * np.exp(-hours / time_constant_h), rel=1e-3)
        soc, hours = step.soc_next, hours + step_s / 3600.0


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_charging_ends_a_step_at_absorption_volts_and_never_above(chemistry: str):
    params = params_of(chemistry, charge_limit_c=3.0)
    for soc in np.linspace(0.05, 0.999, 60):
        step = bank_step(soc, 1e5, 0.0, 0.0, 50.0, STEP_S, params)
        stood = soc - params.self_discharge_per_h * STEP_S / 3600.0
        end_v = at_soc(params.open_circuit_v, step.soc_next) + step.current_a * at_soc(
            params.charge_resistance_ohm, stood
        )
        assert end_v <= params.absorption_v + 1e-9
        assert (
            end_v == pytest.approx(params.absorption_v, abs=1e-9) or step.soc_next == 1.0 or step.current_a == 1200.0
        )


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])
def test_a_lead_bank_takes_less_the_fuller_it_is(chemistry: str):
    params = params_of(chemistry)
    taken_a = [bank_step(soc, 1e5, 0.0, 0.0, 0.0, STEP_S, params).current_a for soc in np.linspace(0.3, 1.0, 71)]
    assert np.all(np.diff(taken_a) <= 1e-9)
    lost_a = params.self_discharge_per_h * params.capacity_ah
    assert taken_a[-1] == pytest.approx(lost_a / params.charge_efficiency[-1], rel=0.01)  # full: only what it lost


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])
def test_a_lead_bank_nearly_full_draws_its_tail_current_at_absorption(chemistry: str):
    params = params_of(chemistry)
    step = bank_step(0.9999, 1e5, 0.0, 0.0, 0.0, 1.0, params)
    assert step.current_a == pytest.approx(params.tail_current_a, rel=0.01)


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])
def test_a_full_lead_bank_is_held_at_float(chemistry: str):
    params = params_of(chemistry)
    step = bank_step(1.0, 500.0, 0.0, 0.0, 60.0, STEP_S, params)
    assert step.voltage_v == pytest.approx(params.float_v, rel=1e-12)
    assert step.soc_next == pytest.approx(1.0, rel=1e-12)
    loaded = bank_step(1.0, 50.0, 0.0, 0.0, 60.0, STEP_S, params)
    assert loaded.voltage_v < params.open_circuit_v[-1]


def test_standing_loses_its_part_of_a_month():
    params = params_of("flooded", self_discharge_per_month=0.06)
    soc = 0.8
    for _ in range(30 * 24):
        step = bank_step(soc, 0.0, 0.0, 0.0, 0.0, 3600.0, params)
        assert step.coulombic_loss_w == pytest.approx(-step.stored_w, rel=1e-12)
        soc = step.soc_next
    assert soc == pytest.approx(0.74, abs=1e-9)
    assert bank_step(0.0, 0.0, 0.0, 0.0, 0.0, 3600.0, params).soc_next == 0.0


def test_the_source_of_the_lower_set_point_backs_off_first():
    low = params_of("flooded", alternator_v=13.8)
    even = params_of("flooded")
    soc, solar_w, alternator_w = 0.9, 200.0, 900.0
    step = bank_step(soc, solar_w, alternator_w, 0.0, 50.0, STEP_S, low)
    alone = bank_step(soc, solar_w, 0.0, 0.0, 50.0, STEP_S, low)
    assert step.solar_taken_w == solar_w
    assert (
        0.0
        < step.alternator_taken_w
        < bank_step(soc, solar_w, alternator_w, 0.0, 50.0, STEP_S, even).alternator_taken_w
    )
    assert alone.soc_next < step.soc_next
    strong = bank_step(0.97, 5000.0, 900.0, 0.0, 50.0, STEP_S, low)
    assert strong.alternator_taken_w == 0.0  # the sun holds the bank above what the regulator would
    assert strong.soc_next == bank_step(0.97, 5000.0, 0.0, 0.0, 50.0, STEP_S, even).soc_next


def test_the_alternator_goes_first_where_its_regulator_holds_more():
    high = params_of("flooded", absorption_v=14.0, alternator_v=14.6)
    step = bank_step(0.95, 300.0, 900.0, 0.0, 50.0, STEP_S, high)
    assert step.alternator_taken_w > step.solar_taken_w
    alone = bank_step(0.95, 0.0, 900.0, 0.0, 50.0, STEP_S, high)
    assert step.soc_next >= alone.soc_next


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_a_fuller_start_never_ends_lower(chemistry: str):
    params = params_of(chemistry)
    for solar_w, demand_w in ((0.0, 300.0), (100.0, 100.0), (900.0, 80.0), (9000.0, 0.0)):
        ends = [
            bank_step(soc, solar_w, 0.0, 0.0, demand_w, STEP_S, params).soc_next for soc in np.linspace(0, 1, 401)
        ]
        assert np.all(np.diff(ends) >= -1e-12)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_more_sun_never_ends_lower(chemistry: str):
    params = params_of(chemistry)
    for soc in (0.0, 0.02, 0.5, 0.95, 1.0):
        ends = [bank_step(soc, solar_w, 0.0, 0.0, 200.0, STEP_S, params).soc_next for solar_w in range(0, 4000, 50)]
        assert np.all(np.diff(ends) >= -1e-12)


def test_sources_share_acceptance_in_the_order_solar_other_alternator():
    params = params_of("flooded", self_discharge_per_month=0.0)
    step = bank_step(0.9, 150.0, 900.0, 50.0, 60.0, STEP_S, params)
    assert step.solar_taken_w == 150.0
    assert step.other_taken_w == 50.0
    assert 0.0 < step.alternator_taken_w < 900.0
    full = bank_step(1.0, 150.0, 900.0, 50.0, 60.0, STEP_S, params)
    assert (full.solar_taken_w, full.other_taken_w, full.alternator_taken_w) == (60.0, 0.0, 0.0)


def test_an_empty_bank_serves_what_the_sources_bring():
    params = params_of("lifepo4")
    step = bank_step(0.0, 30.0, 0.0, 0.0, 100.0, STEP_S, params)
    assert step.soc_next == 0.0
    assert step.unserved_w == pytest.approx(70.0)


def test_cut_off_volts_hold_to_the_end_of_the_step():
    straight = {"discharge_resistance_ohm": np.full(201, 0.05), "discharge_bend_a": np.inf}
    params = params_of("flooded")._replace(**straight)
    step = bank_step(0.3, 0.0, 0.0, 0.0, 5000.0, STEP_S, params)
    end_v = at_soc(params.open_circuit_v, step.soc_next) + step.current_a * 0.05
    assert end_v == pytest.approx(10.5, abs=1e-9)
    assert step.unserved_w > 0.0


def test_cold_lithium_takes_no_charge_yet_the_sun_still_serves_the_loads():
    cold = params_of("lifepo4", temp_c=-1.0, self_discharge_per_month=0.0)
    step = bank_step(0.5, 500.0, 0.0, 0.0, 120.0, STEP_S, cold)
    assert (step.current_a, step.soc_next, step.solar_taken_w) == (0.0, 0.5, 120.0)
    assert bank_step(0.5, 500.0, 0.0, 0.0, 120.0, STEP_S, params_of("lifepo4", temp_c=1.0)).current_a > 0.0


def test_cold_withholds_charge_and_gives_it_back():
    cold, warm = params_of("agm", temp_c=5.0), params_of("agm")
    assert bank_step(0.1, 0.0, 0.0, 0.0, 50.0, STEP_S, cold).unserved_w > 0.0
    assert bank_step(0.1, 0.0, 0.0, 0.0, 50.0, STEP_S, warm).unserved_w == 0.0


@pytest.mark.parametrize("nominal_v", [24, 36, 48])
def test_a_bank_of_more_volts_moves_the_same_soc_for_the_same_energy(nominal_v: int):
    base, higher = params_of("agm"), params_of("agm", nominal_v=nominal_v)
    scale = nominal_v / 12.0
    low = bank_step(0.6, 500.0, 0.0, 0.0, 100.0, STEP_S, base)
    high = bank_step(0.6, 500.0 * scale, 0.0, 0.0, 100.0 * scale, STEP_S, higher)
    assert high.soc_next == pytest.approx(low.soc_next, rel=1e-12)
    assert high.voltage_v == pytest.approx(scale * low.voltage_v, rel=1e-12)


def test_age_shrinks_what_a_kilowatt_hour_fills():
    old, new = params_of("lifepo4", health=0.7), params_of("lifepo4")
    gain_old = bank_step(0.4, 600.0, 0.0, 0.0, 0.0, STEP_S, old).soc_next - 0.4
    gain_new = bank_step(0.4, 600.0, 0.0, 0.0, 0.0, STEP_S, new).soc_next - 0.4
    assert gain_new < gain_old < gain_new / 0.7  # the resistance of the old bank is higher
    assert gain_old == pytest.approx(gain_new / 0.7, rel=0.02)
    assert old.discharge_resistance_ohm[0] == pytest.approx(new.discharge_resistance_ohm[0] / 0.7**2)


def test_half_the_step_twice_moves_a_day_by_less_than_a_percent():
    params = params_of("flooded")

    def noon(step_s: float) -> float:
        soc = 0.6
        for _ in range(round(6 * 3600 / step_s)):
            soc = bank_step(soc, 700.0, 0.0, 0.0, 80.0, step_s, params).soc_next
        return soc

    assert noon(600.0) - 0.6 == pytest.approx(noon(60.0) - 0.6, rel=0.01)


def test_integral_reverses_sign_and_adds_up():
    curve = params_of("lifepo4").open_circuit_v
    forth = rest_integral(curve, 0.031, 0.977)
    assert rest_integral(curve, 0.977, 0.031) == -forth
    assert rest_integral(curve, 0.031, 0.5) + rest_integral(curve, 0.5, 0.977) == pytest.approx(forth, rel=1e-14)
    assert mean_rest_v(curve, 0.6, 0.6) == at_soc(curve, 0.6)


def test_volts_lean_to_the_branch_of_the_current_and_cross_over_with_charge():
    params = params_of("lifepo4")
    lean, soc, leans = 0.0, 0.6, []
    for net_w in [-400.0] * 12 + [400.0] * 12:
        step = bank_step(soc, max(net_w, 0.0), 0.0, 0.0, max(-net_w, 0.0), STEP_S, params, np.inf, lean)
        moved = abs(step.current_a) * STEP_S / 3600.0 / params.capacity_ah
        toward = np.sign(net_w)
        assert step.lean_next == pytest.approx(toward + (lean - toward) * np.exp(-moved / 0.03), rel=1e-12)
        plain = bank_step(soc, max(net_w, 0.0), 0.0, 0.0, max(-net_w, 0.0), STEP_S, params)
        assert step.voltage_v - plain.voltage_v == pytest.approx(lean * 0.1, abs=0.002)  # 25 mV a cell
        lean, soc = step.lean_next, step.soc_next
        leans.append(lean)
    assert min(leans) == leans[11] < -0.9
    assert leans[-1] > 0.85
    assert bank_step(0.6, 0.0, 0.0, 0.0, 0.0, STEP_S, params, np.inf, 0.4).lean_next == 0.4


def test_a_round_trip_pays_for_the_width_of_the_hysteresis():
    params = params_of("lifepo4", self_discharge_per_month=0.0)
    lean, soc, lost_wh, moved_ah = -1.0, 0.4, 0.0, 0.0
    for net_w in [500.0] * 36 + [-500.0] * 36:
        step = bank_step(soc, max(net_w, 0.0), 0.0, 0.0, max(-net_w, 0.0), 300.0, params, np.inf, lean)
        lean, soc = step.lean_next, step.soc_next
        lost_wh += step.hysteresis_loss_w / 12.0
        moved_ah += abs(step.current_a) / 12.0
    # 0.1 V on every ampere-hour, less what each turn gives back: 0.1 V on twice 3 % of the capacity
    assert lost_wh == pytest.approx(0.1 * (moved_ah - 2.0 * 2.0 * 0.03 * params.capacity_ah), rel=0.05)


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "gel"])
def test_a_lead_bank_s_drop_rises_with_the_current_and_bends(chemistry: str):
    params = params_of(chemistry)
    drops_v = []
    for watts in (100.0, 400.0, 1600.0):
        step = bank_step(0.6, 0.0, 0.0, 0.0, watts, 1.0, params)
        drawn_a = watts / at_soc(params.open_circuit_v, 0.6)
        ohm = at_soc(params.discharge_resistance_ohm, 0.6) / (1.0 + drawn_a / (0.3 * params.capacity_ah))
        drop_v = at_soc(params.open_circuit_v, 0.6) - step.voltage_v
        assert drop_v == pytest.approx(-step.current_a * ohm, rel=1e-3)
        drops_v.append(drop_v)
    assert 2.0 * drops_v[0] < drops_v[1] < 4.0 * drops_v[0]
    assert 1.5 * drops_v[1] < drops_v[2] < 4.0 * drops_v[1]


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_the_bus_stands_where_the_bank_puts_it_under_that_current(chemistry: str):
    params = params_of(chemistry)
    for soc, amps, rest_w, lean in [(0.3, 80.0, -200.0, -1.0), (0.6, 60.0, 150.0, 1.0), (0.5, 30.0, 0.0, 0.0)]:
        volts = bus_v(soc, amps, rest_w, params, lean)
        offered = max(rest_w, 0.0)
        step = bank_step(soc, offered, amps * volts, 0.0, max(-rest_w, 0.0), 10.0, params, np.inf, lean)
        assert step.voltage_v == pytest.approx(volts, abs=0.003)
        assert step.alternator_taken_w / step.voltage_v == pytest.approx(amps, rel=3e-4)
    assert bus_v(0.999, 500.0, 0.0, params) == params.alternator_v
