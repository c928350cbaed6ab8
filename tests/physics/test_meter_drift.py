"""How a battery monitor drifts: closed forms, and monitors counted hour by hour with errors of their own."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.bank import MeterDrift, meter_drift, meter_error
from planner.physics.bank.meter import FULL_SOC, KEPT, SHUNT_GAIN, SHUNT_ZERO_A

DRIFT = MeterDrift(at_start=0.02, at_full=0.01, per_throughput=0.04, per_day=0.002, full_soc=0.98)


def on(chemistry: str, capacity_ah: float) -> MeterDrift:
    return meter_drift(chemistry, capacity_ah, at_start=0.02, full_soc=0.98)


def since_full(throughput: float, days: float, drift: MeterDrift) -> float:
    return meter_error(throughput, days, drift, drift.at_full)


def test_a_meter_set_at_full_errs_by_what_full_is_known_to():
    assert since_full(0.0, 0.0, DRIFT) == pytest.approx(0.01)
    assert meter_error(0.0, 0.0, DRIFT, DRIFT.at_start) == pytest.approx(0.02)


def test_each_part_alone_grows_straight_and_variances_add():
    assert since_full(2.0, 0.0, DRIFT._replace(at_full=0.0)) == pytest.approx(0.08)
    assert since_full(0.0, 10.0, DRIFT._replace(at_full=0.0)) == pytest.approx(0.02)
    assert since_full(2.0, 10.0, DRIFT) == pytest.approx((0.01**2 + 0.08**2 + 0.02**2) ** 0.5)


def test_arguments_broadcast():
    errors = meter_error(np.array([[0.0], [1.0]]), np.array([0.0, 5.0, 9.0]), DRIFT, 0.01)
    assert errors.shape == (2, 3)
    assert np.all(np.diff(errors, axis=0) > 0.0)
    assert np.all(np.diff(errors, axis=1) > 0.0)


def test_lead_drifts_faster_than_lithium_and_a_small_bank_than_a_large_one():
    week = {kind: since_full(2.0, 7.0, on(kind, 300.0)) for kind in KEPT}
    assert week["lifepo4"] < week["agm"] == week["gel"] < week["flooded"]
    assert since_full(2.0, 7.0, on("agm", 100.0)) > week["agm"]
    with pytest.raises(KeyError, match="nickel"):
        on("nickel", 300.0)


@pytest.mark.parametrize("chemistry", ["lifepo4", "flooded"])
def test_monitors_counted_hour_by_hour_err_by_as_much(chemistry: str):
    rng, capacity_ah, days, monitors = np.random.default_rng(4), 300.0, 8, 20_000
    amps = np.tile(np.where(np.arange(24) < 6, 45.0, -15.0), days)  # a charge of 270 Ah a day, all drawn again
    put_in = amps[amps > 0.0].sum() / capacity_ah
    full, kept, gain, zero = (
        rng.normal(0.0, size, monitors) for size in (FULL_SOC[chemistry], KEPT[chemistry], SHUNT_GAIN, SHUNT_ZERO_A)
    )
    read = full.copy()
    for each in amps:
        read += (each * (kept + gain if each > 0.0 else 0.0) + zero) / capacity_ah
    expected = since_full(put_in, float(days), on(chemistry, capacity_ah))
    assert read.std() == pytest.approx(expected, rel=0.02)  # four standard errors of the sample


@pytest.mark.external(kind="common practice")
def test_a_week_without_a_full_charge_leaves_a_monitor_points_out():
    # crews are told to bring the bank to full every week or two, lithium by a few percent astray, lead by about ten
    assert 0.015 < since_full(3.0, 7.0, on("lifepo4", 300.0)) < 0.05
    assert 0.05 < since_full(3.0, 7.0, on("flooded", 400.0)) < 0.15
