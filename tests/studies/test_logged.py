"""What a log tells at a fix: the charge and its source, the meter's doubt, the sky; and whether it reaches it."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import xarray as xr

sys.path.insert(0, str(Path(__file__).parents[1] / "simulation"))
from calm_passage import SHIP_OFFSET, bank, engine, harvest, steady_demand, track

from planner.domain.inputs.boat import Boat
from planner.domain.results.note import NOTHING, Note
from planner.physics.bank.meter import FULL_SOC
from planner.physics.sky.doubt import MEMORY_H
from planner.presentation.words.notes import all_said
from planner.simulation.ledger.bank import bank_params
from planner.studies.reconcile.sky_found import Seen, seen_sky
from planner.studies.replan.logged import LoggedBank, Told, bank_by_log, log_faults

HOURS, STEPS = 48, 288
BEGUN = datetime.fromisoformat("2027-05-08T22:00:00+00:00")
NONE = np.full(STEPS, np.nan)
BOAT = cast("Boat", SimpleNamespace(bank=bank(), engine=engine()))
PARAMS = bank_params(BOAT.bank)


def by_log(*, at_h: float = 40.0, **read: np.ndarray) -> LoggedBank:
    """Without sun, 120 W drawn; readings are NaN unless given."""
    sailed = track(hours=HOURS)
    sun = harvest(sailed, peak_w=(0.0,))
    names = ("bank_voltage_v", "bank_current_a", "meter_soc", "meter_ah", "engine_on")
    steps = xr.Dataset(
        {f"read_{name}": ("time", read.get(name, NONE)) for name in names},
        coords={"time": sailed["time"].values},
        attrs={"step_s": 600.0},
    )
    return bank_by_log(
        steps,
        np.zeros((STEPS, 2)),
        sailed,
        steady_demand(sun, 120.0),
        boat=BOAT,
        start=(0.9, 0.02),
        now=BEGUN + timedelta(hours=at_h),
        ship_offset=SHIP_OFFSET,
    )


def full_at(step: int) -> dict[str, np.ndarray]:
    """Volts at absorption and the tail current for half an hour; a steady draw else."""
    volts, amps = np.full(STEPS, 13.2), np.full(STEPS, -9.0)
    volts[step : step + 3], amps[step : step + 3] = PARAMS.absorption_v, 0.5 * PARAMS.tail_current_a
    return {"bank_voltage_v": volts, "bank_current_a": amps}


def test_the_monitors_reading_at_the_fix_is_the_charge() -> None:
    found = by_log(meter_soc=np.linspace(0.9, 0.5, STEPS))
    assert found.soc == pytest.approx(np.linspace(0.9, 0.5, STEPS)[240])
    assert (found.source.code, found.why.code) == ("by_log_monitor", "meter_since_departure")


def test_a_reading_an_hour_old_is_carried_on_by_the_listed_loads() -> None:
    shown = np.where(np.arange(STEPS) < 235, 0.6, np.nan)
    found = by_log(meter_soc=shown)
    assert found.source.figures["at"] == (BEGUN + timedelta(hours=39) + SHIP_OFFSET).replace(tzinfo=BEGUN.tzinfo)
    # 120 W for an hour at some 13.1 V out of 300 Ah
    assert found.soc == pytest.approx(0.6 - 120.0 / 13.1 / 300.0, abs=2e-3)


def test_without_a_full_charge_the_meter_errs_as_at_departure_and_by_its_zero_since() -> None:
    assert by_log(at_h=0.0, meter_soc=np.full(STEPS, 0.7)).error == pytest.approx(0.02)
    later = by_log(at_h=40.0, meter_soc=np.full(STEPS, 0.7), bank_current_a=np.full(STEPS, -9.0)).error
    zero = 0.03 * 40.0 / PARAMS.capacity_ah  # of the shunt, ampere-hours over what the bank holds
    assert later == pytest.approx(np.hypot(0.02, zero), rel=0.01)


def test_a_full_charge_sets_the_meter_right_and_shows_its_drift() -> None:
    shown = np.full(STEPS, 0.8)
    shown[100] = 1.0
    sound = by_log(meter_soc=shown, **full_at(100))
    assert sound.why.code == "meter_drifted"
    assert sound.why.figures["times"] == 1.0
    assert sound.error == pytest.approx(FULL_SOC["lifepo4"], rel=0.15)
    shown[100] = 0.88
    assert by_log(meter_soc=shown, **full_at(100)).error > 3.0 * sound.error


def test_without_a_monitor_engine_and_yields_are_counted_from_the_last_full_charge() -> None:
    full = by_log(**full_at(100))
    assert full.source.figures["from"] == 1.0
    hours = 40.0 - 103 / 6.0
    assert full.soc == pytest.approx(1.0 - hours * 120.0 / 13.2 / PARAMS.capacity_ah, abs=0.02)
    # and without one from departure; the engine then puts something in
    counted = by_log(at_h=10.0)
    ran = by_log(at_h=10.0, engine_on=np.where(np.arange(STEPS) < 12, 1.0, 0.0))
    assert counted.source.figures["from"] == 0.9
    assert ran.soc > counted.soc + 0.1
    assert counted.error == pytest.approx(0.15 * 10.0 * 120.0 / 12.0 / PARAMS.capacity_ah, rel=0.1)


def test_a_log_that_ends_a_watch_before_the_fix_is_refused() -> None:
    read = track(hours=10.0)["time"].values  # every ten minutes, and again from a day later on
    read = np.concatenate([read, read + np.timedelta64(24, "h")])
    last = BEGUN + timedelta(hours=9, minutes=50)

    def fault_at(now: datetime) -> str:
        return " ".join(fault.problem for fault in log_faults(read, now, "log.csv", SHIP_OFFSET))

    assert fault_at(BEGUN) == fault_at(last + timedelta(minutes=90)) == ""
    assert "its last reading before the fix is of Sun 9 May 2027 19:50" in fault_at(last + timedelta(minutes=91))
    assert "its first reading is of Sun 9 May 2027 10:00" in fault_at(BEGUN - timedelta(minutes=1))


def sky(of_forecast: float, *, beyond: bool = False) -> Seen | None:
    """Two days of half light forecast, of which the panels show a part, closely."""
    time = np.datetime64(BEGUN.replace(tzinfo=None), "ns") + np.arange(STEPS) * np.timedelta64(10, "m")
    light = np.where(np.arange(STEPS) % 144 < 72, 800.0, 0.0)
    seen = SimpleNamespace(
        log_index=np.full(STEPS, np.log(0.5 * of_forecast)),
        log_index_sd=np.full(STEPS, 0.02),
        controllers_used=(light > 0.0).astype(int),
    )
    held = SimpleNamespace(sky=seen, time=time, common_sd=0.01, hours=SimpleNamespace(of_step=np.arange(STEPS) // 6))
    states = xr.Dataset({"ghi_w_m2": (("sky", "time"), light[None])}, coords={"clear_index": ("sky", [1.0])})
    forecast = xr.Dataset(
        {
            "ghi_w_m2": (("member", "time"), 0.5 * light[None]),
            "beyond_forecast": ("time", np.full(STEPS, int(beyond))),
        }
    )
    return seen_sky(cast("Any", held), states, forecast, issued=time[0], until=BEGUN + timedelta(hours=48))


def test_a_darker_sky_lasts_in_part_and_one_as_forecast_changes_nothing() -> None:
    as_forecast, darker = sky(1.0), sky(0.8)
    assert as_forecast is not None
    assert as_forecast.sky.error == pytest.approx(0.0, abs=1e-12)
    assert darker is not None
    assert darker.of_forecast == pytest.approx(0.8)
    assert 0.8 < darker.expected < 0.95
    assert (darker.days, darker.sky.at) == (2, BEGUN + timedelta(hours=48))


def test_of_days_that_the_forecast_does_not_cover_nothing_is_learnt() -> None:
    assert sky(0.8, beyond=True) is None


def test_what_the_log_set_is_told_with_its_figures_and_what_was_typed_goes_first() -> None:
    bank_found = LoggedBank(0.47, 0.021, Note("by_log_monitor", {"at": BEGUN}), Note("meter_since_departure"))
    words = all_said(Told(bank_found, sky(0.8)).notes(["--soc"]))
    assert "47 % in the bank by the log's battery monitor" in words[0]
    assert "known to 2 %: no full charge since departure." in words[0]
    assert "On 2 days of the log the panels saw 80 % of the light forecast; the plan begins with 8" in words[1]
    assert f"forgets that over {MEMORY_H:.0f} h" in words[1]
    assert words[2] == "--soc was typed and goes before the log."
    assert Told(bank_found, None).notes([])[1].code == "log_no_sky"
    typed = Told(bank_found, sky(0.8), typed_sky=True)
    assert typed.seen_sky is None
    assert all_said(typed.notes([]))[1] == "[[weather]] was typed and goes before the log."
    assert bank_found.observed(BOAT.bank, 0.05).high == pytest.approx(0.57)
    assert bank_found.source is not NOTHING
