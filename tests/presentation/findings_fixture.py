"""An invented reconciliation of five days, two controllers, one weak: for what shows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from planner.domain.results.note import Note
from planner.domain.results.reconcile.courses import ControllerCourse, Courses
from planner.domain.results.reconcile.findings import (
    BankFinding,
    CauseShare,
    ClockFinding,
    ControllerFinding,
    DayRatio,
    Interval,
    LoadFinding,
    LoadHour,
    Reconciliation,
    SkyDay,
    SkyFinding,
    SunBin,
)

DEPARTURE = datetime(2027, 5, 8, 22, tzinfo=UTC)
DAYS, STEP_S = 5, 600.0


def reconciliation() -> Reconciliation:
    """Return a weak controller since day 2, a load, a sound bank, a clock put right."""
    count = round(DAYS * 86400 / STEP_S)
    hour = (np.arange(count) * STEP_S / 3600.0 + 10.0) % 24.0
    sun = 50.0 * np.sin((hour - 6.5) / 11.0 * np.pi)
    light = np.clip(sun / 50.0, 0.0, None) * (0.75 + 0.2 * np.sin(np.arange(count) / 11.0))
    use = np.where(sun <= 0.0, "no sun", np.where(sun < 8.0, "unsure", "judged"))
    use = np.where((hour > 12.0) & (hour < 13.0), "shaded", use).astype("U9")
    use[300:320] = "not read"
    bimini_use = np.where((hour > 14.0) & (hour < 15.0), "full bank", use)

    def course(name: str, watts: float, ratio: float, used: np.ndarray) -> ControllerCourse:
        expected = watts * light
        part = np.where(np.arange(count) >= 144, ratio, 1.0)
        read = np.where(used == "not read", np.nan, np.round(expected * part * (1.0 + 0.03 * np.sin(hour * 7.0))))
        return ControllerCourse(name, read, expected, 0.94 * expected, 1.06 * expected, used.astype(np.str_))

    soc = 0.7 + 0.2 * np.sin((hour - 11.0) / 24.0 * 2.0 * np.pi)
    volts = 13.2 + 0.3 * (soc - 0.7)
    days = tuple(
        DayRatio(
            day,
            DEPARTURE + timedelta(days=day - 1),
            Interval(r := 1.0 if day == 1 else 0.8, r - 0.05, r + 0.05),
            *(6.5, 400.0 * r, 400.0),
        )
        for day in range(1, DAYS + 1)
    )
    by_sun = tuple(
        SunBin(bearing, elevation, Interval(r := 0.7 if bearing < 90 else 1.01, r - 0.06, r + 0.06), 2.5)
        for elevation in (15.0, 25.0, 35.0)
        for bearing in (15.0, 45.0, 75.0, 285.0, 315.0)
    )
    sound_days = tuple(replace(d, ratio=Interval(1.01, 0.97, 1.05), read_wh=800.0, expected_wh=790.0) for d in days)
    return Reconciliation(
        boat_file="boat.toml",
        logs=("display.csv",),
        first=DEPARTURE + timedelta(minutes=5),
        last=DEPARTURE + timedelta(days=DAYS),
        clock=ClockFinding(Interval(60.0, 56.0, 64.0), True, Note("clock_unknown")),
        sky=SkyFinding(
            tuple(
                SkyDay(day, Interval(3100.0 + 200 * day, 2900.0 + 200 * day, 3300.0 + 200 * day), (2500, 3400, 3900))
                for day in range(1, DAYS + 1)
            ),
            Interval(0.92, 0.88, 0.96),
            Note("sky_unknown"),
        ),
        controllers=(
            ControllerFinding(
                "arch",
                ("arch port", "arch starboard"),
                0.95,
                "as expected",
                None,
                Interval(1.01, 0.98, 1.04),
                None,
                *(30.0, 0.0, 3.0, 5.0),
                sound_days,
                (),
                (),
                Note("bank_not_read"),
            ),
            ControllerFinding(
                "bimini",
                ("bimini port",),
                1.0,
                "weak",
                DEPARTURE + timedelta(days=1),
                Interval(0.79, 0.75, 0.83),
                Interval(0.8, 0.77, 0.83),
                *(28.0, 0.0, 3.0, 6.0),
                days,
                by_sun,
                (CauseShare("weak", 0.99), CauseShare("none", 0.01)),
                Note("wash_it"),
            ),
        ),
        loads=LoadFinding(
            Interval(25.0, 20.0, 30.0),
            True,
            tuple(
                LoadHour(h, None if h == 3 else Interval(95.0 + h, 85.0 + h, 105.0 + h), 75.0 + 10.0 * (h > 18), 4.0)
                for h in range(24)
            ),
            90.0,
            Note("loads_less"),
        ),
        bank=BankFinding(
            *(Interval(280.0, 262.0, 299.0), 285.0, False),
            Note("bank_unknown"),
        ),
        warnings=("display.csv: 3 lines without a time were dropped.",),
        ship_offset=timedelta(hours=12),
        courses=Courses(
            time=np.datetime64("2027-05-08T22:00", "ns") + np.arange(count) * np.timedelta64(600, "s"),
            step_s=STEP_S,
            controllers=(course("arch", 320.0, 1.0, use), course("bimini", 90.0, 0.8, bimini_use)),
            sun_elevation_deg=sun,
            engine_on=((hour > 7.0) & (hour < 8.0)).astype(float),
            read_soc=soc + 0.01,
            model_soc=soc,
            read_v=volts + 0.02,
            model_v=volts,
        ),
    )
