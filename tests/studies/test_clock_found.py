"""Whether a log's clock goes right, on suns whose course is known: twelve hours a day, under an even veil."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from planner.domain.glossary import READINGS
from planner.domain.inputs.power import Bank
from planner.domain.results.reconcile.findings import ClockFinding
from planner.domain.schema import attributes
from planner.presentation.words.notes import said
from planner.studies.reconcile.clock_found import find_clock

BANK = Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3)
START = np.datetime64("2027-05-09T00:00", "ns")
STEP_H = 1.0 / 6.0
PEAK_W = np.array([300.0, 150.0])
VEIL = 0.7  # of the cloudless light that comes through, all day
INDICES = (0.5, 1.0)


def sun(hour: np.ndarray) -> np.ndarray:
    """The light at an hour of a day of twelve hours, over noon's; a low sun shines through more air."""
    return np.maximum(np.sin((hour % 24.0 - 6.0) / 12.0 * np.pi), 0.0) ** 1.25


def time_of(days: int) -> np.ndarray:
    return START + np.arange(days * 144) * np.timedelta64(10, "m")


def middle_h(days: int) -> np.ndarray:
    return (np.arange(days * 144) + 0.5) * STEP_H


def states(days: int) -> xr.Dataset:
    index, lean = (grid.ravel() for grid in np.meshgrid(INDICES, (-1.0, 0.0, 1.0), indexing="ij"))
    power = index[:, None, None] * sun(middle_h(days))[None, :, None] * PEAK_W
    return xr.Dataset(
        {"controller_power_w": (("member", "time", "controller"), power)},
        coords={"clear_index": ("member", index), "beam_lean": ("member", lean), "time": time_of(days)},
    )


def readings(days: int, *, fast_min: float, soc: float = 0.6) -> xr.Dataset:
    """What a log shows whose clock is fast: at its own time it reads the light of some minutes before."""
    watts = VEIL * sun(middle_h(days) - fast_min / 60.0)[:, None] * PEAK_W
    nothing = np.full(days * 144, np.nan)
    read = {
        **dict.fromkeys(READINGS, nothing),
        "read_controller_power_w": watts,
        "read_meter_soc": np.full(days * 144, soc),
    }
    return xr.Dataset(
        {name: (READINGS[name].dims, value, attributes(READINGS[name])) for name, value in read.items()},
        coords={"time": time_of(days) + np.timedelta64(5, "m"), "controller": ["arch", "bimini"]},
    )


def found(days: int, *, fast_min: float, soc: float = 0.6) -> ClockFinding:
    track = xr.Dataset({"lon": ("time", np.zeros(days * 144))}, coords={"time": time_of(days)}).assign_attrs(
        step_s=600.0
    )
    return find_clock(readings(days, fast_min=fast_min, soc=soc), states(days), track, bank=BANK)


@pytest.mark.parametrize(
    ("fast_min", "within_min"),
    [(-60.0, 0.5), (60.0, 0.5), (-36.0, 2.0), (24.0, 2.0)],  # whole steps; between them as finely as shifts are tried
)
def test_a_wrong_clock_is_told_with_its_sign(fast_min: float, within_min: float):
    finding = found(2, fast_min=fast_min)
    assert finding.corrected
    assert finding.fast_min.value == pytest.approx(fast_min, abs=within_min)
    assert finding.fast_min.low <= fast_min <= finding.fast_min.high
    assert ("fast" if fast_min > 0.0 else "slow") in said(finding.evidence)


def test_a_right_clock_is_left_as_it_is():
    finding = found(2, fast_min=0.0)
    assert not finding.corrected
    assert finding.fast_min.low <= 0.0 <= finding.fast_min.high
    assert abs(finding.fast_min.value) < 3.0
    assert "goes right" in said(finding.evidence)


def test_a_few_minutes_are_no_reason_to_set_readings_back():
    assert not found(2, fast_min=4.0).corrected


def test_more_days_leave_less_doubt():
    one, four = (found(days, fast_min=40.0).fast_min for days in (1, 4))
    assert four.high - four.low <= one.high - one.low


def test_a_bank_that_is_full_all_day_tells_nothing_but_that_no_more_came_than_the_sky_allows():
    """Held back, what is missing says nothing: a clock 24 minutes fast can no longer be told for certain."""
    held, free = found(2, fast_min=24.0, soc=1.0).fast_min, found(2, fast_min=24.0).fast_min
    assert held.high - held.low > free.high - free.low


def test_a_log_by_night_alone_cannot_tell():
    dark = readings(2, fast_min=0.0)
    dark["read_controller_power_w"][:] = 0.0
    track = xr.Dataset({"lon": ("time", np.zeros(288))}, coords={"time": time_of(2)}).assign_attrs(step_s=600.0)
    finding = find_clock(dark, states(2), track, bank=BANK)
    assert not finding.corrected
    assert (finding.fast_min.low, finding.fast_min.high) == (-130.0, 130.0)
    assert "No day has readings enough" in said(finding.evidence)
