"""What a bank holds by counted charge and rest volts, where the answer is known: a bank of an exact table."""

from __future__ import annotations

import numpy as np
import pytest

from planner.domain.inputs.power import Bank
from planner.physics.bank import at_soc
from planner.physics.bank.meter import SHUNT_GAIN
from planner.simulation.ledger.bank import bank_params
from planner.studies.reconcile.bank.count import Log, Stretch
from planner.studies.reconcile.bank.found import fit_capacity

STEP_H = 1.0 / 6.0
DRAWN_A = 10.0


def bank_of(kind: str, **more: float) -> Bank:
    return Bank(chemistry=kind, capacity_ah=300.0, reserve_soc=0.3, **more)


def drawn_down(bank: Bank, *, held: float, to_soc: float) -> tuple[Log, Stretch]:
    """A steady draw from a full charge down to a true state of charge; volts are rest volts less the drop."""
    params = bank_params(bank)
    capacity = held * params.capacity_ah
    many = int((1.0 - to_soc) * capacity / (DRAWN_A * STEP_H))
    lost = params.self_discharge_per_h * STEP_H
    middle = 1.0 - (np.arange(many) + 0.5) * (DRAWN_A * STEP_H / capacity + lost)
    rest, half_width, ohm = (
        np.array([at_soc(table, soc) for soc in middle])
        for table in (params.open_circuit_v, params.hysteresis_v, params.discharge_resistance_ohm)
    )
    lean = np.exp(-(np.arange(many) + 1.0) * DRAWN_A * STEP_H / params.capacity_ah / 0.03) - 1.0
    amps = np.full(many, -DRAWN_A)
    log = Log(
        volts=rest + lean * half_width + amps * ohm / (1.0 + DRAWN_A / params.discharge_bend_a),
        amps=amps,
        amps_read=np.ones(many, dtype=bool),
        full=np.zeros(many, dtype=bool),
        step_h=STEP_H,
    )
    return log, Stretch(0, many, "start", to_full=False)


@pytest.mark.parametrize("kind", ["flooded", "agm", "lifepo4"])
@pytest.mark.parametrize("held", [1.0, 0.8, 0.65])
def test_exact_readings_give_the_capacity_that_made_them(kind: str, held: float):
    bank = bank_of(kind)
    log, stretch = drawn_down(bank, held=held, to_soc=0.05)
    found = fit_capacity(log, [stretch], bank)
    assert found is not None
    assert found.value == pytest.approx(300.0 * held, rel=0.03)
    assert found.low < 300.0 * held < found.high


def test_no_interval_is_narrower_than_the_shunt_is_true():
    bank = bank_of("flooded")
    log, stretch = drawn_down(bank, held=1.0, to_soc=0.05)
    found = fit_capacity(log, [stretch, stretch], bank)
    assert found is not None
    assert np.log(found.high / found.low) >= 2.0 * 1.64 * SHUNT_GAIN


def test_a_deeper_draw_leaves_less_doubt():
    bank = bank_of("flooded")
    shallow, deep = (fit_capacity(log, [cut], bank) for log, cut in (
        drawn_down(bank, held=1.0, to_soc=0.45), drawn_down(bank, held=1.0, to_soc=0.1)
    ))  # fmt: skip
    assert deep is not None
    assert shallow is None or shallow.high - shallow.low > deep.high - deep.low


def test_the_flat_of_lithium_tells_nothing():
    bank = bank_of("lifepo4")
    log, stretch = drawn_down(bank, held=1.0, to_soc=0.75)
    assert fit_capacity(log, [stretch], bank) is None


def test_without_a_stretch_or_with_a_bank_at_rest_nothing_is_told():
    bank = bank_of("flooded")
    log, stretch = drawn_down(bank, held=1.0, to_soc=0.1)
    assert fit_capacity(log, [], bank) is None
    log.amps[:] = 0.0  # held at float or left alone: its volts are no rest volts of the count
    assert fit_capacity(log, [stretch], bank) is None


def test_the_first_hour_of_drawing_is_left_out():
    """Lead stands high after a charge: volts of the first hour, however wrong, change nothing."""
    bank = bank_of("flooded")
    log, stretch = drawn_down(bank, held=0.8, to_soc=0.1)
    before = fit_capacity(log, [stretch], bank)
    log.amps[0] = 0.0  # the draw begins with the second step
    log.volts[:6] += 0.5
    after = fit_capacity(log, [stretch], bank)
    assert before is not None
    assert after is not None
    assert after.value == pytest.approx(before.value, rel=0.02)
