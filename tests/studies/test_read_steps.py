"""Readings on steps against closed forms: a ramp, a spike, a gap, readings every seven minutes, once an hour."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from planner.domain.glossary import READINGS
from planner.domain.schema import to_dataset
from planner.studies.reconcile.read_steps import longest_gap_min, on_steps, shifted

START = np.datetime64("2027-05-09T22:00", "ns")


def track(hours: float = 6.0) -> xr.Dataset:
    time = START + np.arange(round(hours * 6)) * np.timedelta64(600, "s")
    return xr.Dataset(coords={"time": time}, attrs={"step_s": 600.0})


def readings(minutes: np.ndarray, *, covers: str = "instant", **columns: np.ndarray) -> xr.Dataset:
    """Readings at minutes after the start; the first controller's watts as ``watts``, what is not named is NaN."""
    minutes = np.asarray(minutes, dtype=float)
    watts = columns.pop("watts", np.full(minutes.size, np.nan))
    arrays = {name: np.full(minutes.size, np.nan) for name in READINGS}
    arrays["read_controller_power_w"] = np.stack([watts, np.full(minutes.size, np.nan)], axis=1)
    arrays.update({f"read_{name}": np.asarray(values, dtype=float) for name, values in columns.items()})
    time = START + np.round(minutes * 60e9).astype("timedelta64[ns]")
    made = to_dataset(arrays, READINGS, coords={"time": time, "controller": ["arch", "bimini"]}, door="made")
    made.attrs = {"source": "made", "covers": covers, "repairs": []}
    return made


def arch(steps: xr.Dataset) -> np.ndarray:
    return steps["read_controller_power_w"].sel(controller="arch").values


@pytest.mark.parametrize("every_min", [1.0, 7.0, 10.0, 23.0, 60.0])
def test_a_ramp_is_averaged_exactly_however_far_apart_it_is_read(every_min: float) -> None:
    minutes = np.arange(0.0, 361.0 + every_min, every_min)
    steps = on_steps(readings(minutes, watts=2.0 * minutes), track())
    middle = np.arange(36) * 10.0 + 5.0
    np.testing.assert_allclose(arch(steps), 2.0 * middle, rtol=1e-12)


def test_irregular_readings_keep_the_energy_of_the_straight_lines_between_them() -> None:
    rng = np.random.default_rng(5)
    minutes = np.unique(np.concatenate([[0.0, 360.0], rng.uniform(0.0, 360.0, 200)]))
    watts = rng.uniform(0.0, 300.0, minutes.size)
    steps = on_steps(readings(minutes, watts=watts), track())
    assert arch(steps).sum() * 10.0 == pytest.approx(np.trapezoid(watts, minutes), rel=1e-12)


def test_a_spike_counts_by_the_time_it_lasts_not_by_its_reading() -> None:
    minutes = np.arange(0.0, 61.0, 1.0)
    watts = np.where(minutes == 15.0, 600.0, 0.0)
    steps = on_steps(readings(minutes, watts=watts), track(1.0))
    # a triangle of 600 W over two minutes is 600 W min, in a step of 10 min
    np.testing.assert_allclose(arch(steps), [0.0, 60.0, 0.0, 0.0, 0.0, 0.0], atol=1e-12)


def test_a_gap_is_not_bridged_and_half_a_step_decides() -> None:
    minutes = np.concatenate([np.arange(0.0, 16.0), np.arange(54.0, 61.0)])  # silence from 15 to 54
    steps = on_steps(readings(minutes, watts=np.full(minutes.size, 100.0)), track(1.0))
    np.testing.assert_allclose(arch(steps), [100.0, 100.0, np.nan, np.nan, np.nan, 100.0])


def test_a_silence_within_the_limit_is_bridged() -> None:
    minutes = np.concatenate([np.arange(0.0, 16.0), np.arange(34.0, 61.0)])
    steps = on_steps(readings(minutes, watts=minutes), track(1.0))
    np.testing.assert_allclose(arch(steps), np.arange(6) * 10.0 + 5.0)


def test_the_limit_follows_the_spacing_within_bounds() -> None:
    assert longest_gap_min(np.arange(100) * 60.0) == 20.0
    assert longest_gap_min(np.arange(100) * 1200.0) == 50.0
    assert longest_gap_min(np.arange(10) * 3600.0) == 90.0
    assert longest_gap_min(np.arange(10) * 4 * 3600.0) == 90.0
    assert longest_gap_min(np.zeros(1)) == 20.0


def test_readings_once_a_watch_say_nothing_between() -> None:
    minutes = np.array([0.0, 240.0, 360.0])
    steps = on_steps(readings(minutes, watts=minutes, meter_soc=[0.9, 0.8, 0.75]), track())
    assert np.isnan(arch(steps)).all()
    soc = steps["read_meter_soc"].values
    assert soc[[0, 24]] == pytest.approx([0.9, 0.8])  # at the moments themselves
    assert np.isnan(np.delete(soc, [0, 24])).all()


def test_what_stands_for_the_time_since_the_last_reading_fills_it() -> None:
    minutes = np.array([0.0, 5.0, 20.0, 30.0])
    watts = np.array([999.0, 100.0, 40.0, 70.0])  # the first stands for a time before the track
    steps = on_steps(readings(minutes, watts=watts, covers="since the last"), track(0.5))
    np.testing.assert_allclose(arch(steps), [70.0, 40.0, 70.0])


def test_engine_is_the_part_of_the_step_by_the_nearest_reading() -> None:
    minutes = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    steps = on_steps(readings(minutes, engine_on=[0, 0, 1, 1, 0]), track(40 / 60))
    np.testing.assert_allclose(steps["read_engine_on"].values, [0.0, 0.5, 1.0, 0.5])


def test_states_are_taken_at_the_start_of_the_step() -> None:
    minutes = np.arange(0.0, 61.0, 7.0)
    steps = on_steps(readings(minutes, meter_soc=0.9 - 0.001 * minutes, meter_ah=-minutes), track(1.0))
    np.testing.assert_allclose(steps["read_meter_soc"].values, 0.9 - 0.01 * np.arange(6))
    np.testing.assert_allclose(steps["read_meter_ah"].values, -10.0 * np.arange(6))


def test_what_a_line_leaves_out_is_no_gap_in_the_others() -> None:
    minutes = np.arange(0.0, 61.0, 5.0)
    watts = np.where(minutes % 10.0 == 0.0, minutes, np.nan)
    volts = np.where(minutes % 10.0 == 5.0, 12.8, np.nan)
    steps = on_steps(readings(minutes, watts=watts, bank_voltage_v=volts), track(1.0))
    np.testing.assert_allclose(arch(steps), np.arange(6) * 10.0 + 5.0)
    np.testing.assert_allclose(steps["read_bank_voltage_v"].values, 12.8)
    assert np.isnan(steps["read_controller_power_w"].sel(controller="bimini")).all()


def test_readings_before_and_after_the_passage_are_passed_over() -> None:
    minutes = np.arange(-120.0, 200.0, 5.0)
    steps = on_steps(readings(minutes, watts=minutes), track(1.0))
    np.testing.assert_allclose(arch(steps), np.arange(6) * 10.0 + 5.0)


def test_a_fast_clock_is_set_back() -> None:
    minutes = np.arange(0.0, 121.0, 5.0)
    moved = shifted(readings(minutes, watts=minutes), 60.0)
    assert moved["time"].values[12] == START
    steps = on_steps(moved, track(1.0))
    np.testing.assert_allclose(arch(steps), 60.0 + np.arange(6) * 10.0 + 5.0)
    assert moved.attrs == readings(minutes).attrs
