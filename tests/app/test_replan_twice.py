"""A replan of a replan: days go on being numbered, fuel and hours add up, and no fix comes before the last one."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from coarse_demo import coarse_inputs, coarse_plan

from planner.app.verbs.replan import replan
from planner.domain.errors import InputError
from planner.domain.inputs.route import Waypoint
from planner.domain.results.note import NOTHING
from planner.domain.results.plan import Plan
from planner.domain.results.replan import LastPlan, Replan
from planner.presentation.outputs import text_of, write
from planner.presentation.pages.bill import pages
from planner.presentation.words.notes import all_said
from planner.readers.last_plan import read_last_plan
from planner.studies.replan.changes import planned_place
from planner.studies.replan.fix_checks import Known, day_faults, fix_faults

DEPARTURE = datetime(2027, 5, 8, 22, tzinfo=UTC)  # Sunday 9 May 10:00 by the ship's clock
FIRST_MORNING = DEPARTURE + timedelta(hours=22)  # 08:00, still within the first 24 hours
SECOND_MORNING = FIRST_MORNING + timedelta(days=1)
STEPS_AN_HOUR = 6


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plans")


def replanned(plan: Plan, hours: int, time: str, last: Path, engine_log: Path | None = None) -> Replan:
    """Plan on from where a plan has the boat so many hours after it begins, with the bank that it foresaw."""
    step = hours * STEPS_AN_HOUR
    return replan(
        coarse_inputs(),
        fix=(float(plan.track["lat"][step]), float(plan.track["lon"][step])),
        time=time,
        soc=float(plan.planned["bank_soc"][0, step]),
        last=last,
        engine_log=engine_log,
    )


@lru_cache(maxsize=1)
def once(folder: Path) -> Replan:
    """The first morning: two hours of engine by the log, the time said without a day."""
    write(coarse_plan(), folder / "filed")
    log = folder / "log.csv"
    log.write_text("start,stop,fuel_l\n2027-05-09T12:00+12:00,2027-05-09T14:00+12:00,6.0\n")
    rest = replanned(coarse_plan(), 22, "08:00", folder / "filed", log)
    write(rest.plan, folder / "once")
    return rest


@lru_cache(maxsize=1)
def twice(folder: Path) -> Replan:
    """The second morning: the time as the first replan's bill has it."""
    rest = replanned(once(folder).plan, 24, "day 2 08:00", folder / "once")
    write(rest.plan, folder / "twice")
    return rest


def test_a_time_read_off_the_new_bill_is_the_moment_that_the_bill_means(folder: Path) -> None:
    (row,) = [row for row in once(folder).plan.watches if row.start == SECOND_MORNING]
    assert row.day == 2
    assert twice(folder).fix.time == SECOND_MORNING


def test_days_are_numbered_from_the_first_departure_for_good(folder: Path) -> None:
    for rest, number, hours in ((once(folder), 1, 2), (twice(folder), 2, 2)):
        plan = rest.plan
        first, second = plan.days[:2]
        assert (first.day, second.day) == (number, number + 1)
        assert second.start - first.start == timedelta(hours=hours)
        assert (second.start - DEPARTURE) % timedelta(days=1) == timedelta()
        assert plan.days[-1].day == coarse_plan().days[-1].day
        assert [page.day for page in pages(plan)] == [day.day for day in plan.days]
        assert plan.losses["day"].values.tolist()[:2] == [number, number + 1]
        assert "numbered from the first departure, Sun 9 May 10:00" in pages(plan)[0].clocks


def test_days_of_a_replan_still_add_up(folder: Path) -> None:
    plan = twice(folder).plan
    solar_w = plan.planned["solar_power_w"].values[0]
    assert sum(day.solar_wh.planned for day in plan.days) == pytest.approx(solar_w.sum() / STEPS_AN_HOUR)
    assert plan.days[0].solar_wh.planned == pytest.approx(solar_w[: 2 * STEPS_AN_HOUR].sum() / STEPS_AN_HOUR)


def test_engine_and_fuel_are_counted_through_both(folder: Path) -> None:
    tank_l = coarse_inputs().boat.engine.tank_l
    first, second = once(folder).engine_so_far, twice(folder).engine_so_far
    assert first is not None
    assert second is not None
    assert (first.hours, first.fuel_l, first.source) == (2.0, 6.0, "log")
    runs = [window for window in once(folder).plan.windows if window.start < SECOND_MORNING]
    assert all(window.stop <= SECOND_MORNING for window in runs)
    assert second.fuel_l == pytest.approx(6.0 + sum(window.fuel_l for window in runs))
    assert second.hours == pytest.approx(2.0 + sum((run.stop - run.start) / timedelta(hours=1) for run in runs))
    assert second.source == "log, then the last plan"
    assert twice(folder).plan.boat.engine.tank_l == pytest.approx(tank_l - second.fuel_l)
    assert twice(folder).plan.boat.engine.tank_l <= once(folder).plan.boat.engine.tank_l == tank_l - 6.0
    assert not any(note.code == "fuel_over_last" for note in twice(folder).plan.warnings)


def test_what_was_foreseen_comes_true_in_both(folder: Path) -> None:
    changes = {change.what.code: change for change in twice(folder).changes}
    assert changes["position"].now.code == "place_kept"
    assert changes["arrival"].why == NOTHING
    written = json.loads((folder / "twice" / "plan.json").read_text())
    assert written["first_departure"] == "2027-05-08T22:00:00Z"
    assert written["departure"] == "2027-05-10T20:00:00Z"


def test_the_moment_stands_first(folder: Path) -> None:
    words = text_of(once(folder)).splitlines()
    assert words[0].startswith("From the fix of Mon 10 May 2027 08:00 ship's time (Sun 9 May 20:00 UTC), day 1")
    told = " ".join(words[:12])
    assert "numbered from the first departure, Sun 9 May 2027 10:00 ship's time (Sat 8 May 22:00 UTC)" in told
    assert "without a day: it is the first such time after departure" in told


def test_a_time_without_a_day_is_after_the_last_fix(folder: Path) -> None:
    once(folder)
    fix = once(folder).plan.track
    step = 24 * STEPS_AN_HOUR
    rest = replan(
        coarse_inputs(),
        fix=(float(fix["lat"][step]), float(fix["lon"][step])),
        time="08:00",
        soc=0.6,
        last=folder / "once",
    )
    assert rest.fix.time == SECOND_MORNING
    assert rest.fix.without_day_after == "the last fix"


def refused(folder: Path, time: str, hours: float, last: str | None = "once") -> str:
    """Replan at the first replan's place so many hours after it begins, at another time."""
    track = once(folder).plan.track
    lat, lon = (
        float(np.interp(hours * STEPS_AN_HOUR, np.arange(track.sizes["time"]), track[n])) for n in ("lat", "lon")
    )
    with pytest.raises(InputError) as caught:
        replan(
            coarse_inputs(),
            fix=f"{lat:.4f}, {lon:.4f}",
            time=time,
            soc="60%",
            last=folder / last if last else None,
        )
    return str(caught.value)


def test_a_fix_older_than_the_last_one_is_refused(folder: Path) -> None:
    words = refused(folder, "day 1 07:00", 1)
    assert "Mon 10 May 2027 07:00 ship's time (Sun 9 May 19:00 UTC) is older than the last fix" in words
    assert "Mon 10 May 2027 08:00" in words


@pytest.mark.parametrize("last", [None, "once"])
def test_a_fix_before_departure_is_refused(folder: Path, last: str | None) -> None:
    words = refused(folder, "2027-05-09T09:00+12:00", 1, last)
    assert "Sun 9 May 2027 09:00 ship's time" in words
    assert "is before departure, Sun 9 May 2027 10:00" in words


def test_a_fix_that_needs_more_speed_than_she_has_is_refused(folder: Path) -> None:
    words = refused(folder, "day 1 09:00", 24)  # the way of a day in an hour
    assert "in 1.0 h that needs" in words
    assert "kn is the most that is believed (1.5 times her fastest" in words
    words = refused(folder, "day 1 11:00", 24, None)  # 46 hours' way in the first hour of the passage
    assert "nm from departure from Opua" in words
    assert "needs more than any speed" in refused(folder, "2027-05-10T08:00+12:00", 24)


def known(last: LastPlan | None) -> Known:
    inputs = coarse_inputs()
    return Known(inputs.passage, inputs.boat, inputs.route[0], inputs.forecast, last, inputs.ship_offset)


def run_out(nm: float) -> Waypoint:
    """Where she is so many miles north of where the passage begins."""
    begin = coarse_inputs().route[0]
    return Waypoint(name="", lat=begin.lat + nm / 60.0, lon=begin.lon)


@pytest.mark.parametrize(
    ("nm", "days"),
    [
        (40.0, []),  # 22 h at 1.8 kn: less on any later day
        (75.0, []),  # 3.4 kn; a day later 1.6 kn, a crawl
        (130.0, ["day 1", "day 2"]),  # 5.9 or 2.8 kn, and 1.9 kn on the third
        (370.0, ["day 2", "day 3", "day 4", "day 5", "day 6"]),  # 16.8 kn on the first morning; 8.0 to 2.6 kn later
    ],
)
def test_a_time_that_may_be_meant_on_several_days_is_asked_for(nm: float, days: list[str]) -> None:
    faults = day_faults(FIRST_MORNING, run_out(nm), known(None))
    words = faults[0].problem if faults else ""
    assert [f"day {day}" for day in range(1, 15) if f"'day {day} 08:00'" in words] == days
    assert not faults or faults[0].remedy == f"Write it with its day, as --time '{days[0]} 08:00'."


def test_by_the_last_plan_the_day_is_asked_for_where_the_fix_lies_on_another(folder: Path) -> None:
    once(folder)
    last = read_last_plan(folder / "once")
    there = [planned_place(last, SECOND_MORNING + timedelta(days=days)) for days in (0, 1)]
    assert day_faults(SECOND_MORNING, there[0], known(last)) == []
    (fault,) = day_faults(SECOND_MORNING, there[1], known(last))
    assert "'day 3 08:00', Wed 12 May 2027 08:00" in fault.problem
    assert "'day 2 08:00'" not in fault.problem


def test_a_fix_that_the_crew_stands_by_is_believed() -> None:
    for believed, faults in ((False, 1), (True, 0)):
        found = fix_faults(FIRST_MORNING, run_out(370.0), known(None), believed=believed)
        assert len(found) == faults
    assert "in 22.0 h that needs 16.8 kn" in str(
        fix_faults(FIRST_MORNING, run_out(370.0), known(None), believed=False)[0]
    )


def test_fuel_that_rises_is_said(folder: Path) -> None:
    once(folder)
    log = folder / "short.csv"  # it begins after the last fix
    log.write_text("start,stop,fuel_l\n2027-05-10T12:00+12:00,2027-05-10T13:00+12:00,2.0\n")
    rest = replanned(once(folder).plan, 24, "day 2 08:00", folder / "once", log)
    (warning,) = [words for words in all_said(rest.plan.warnings) if "Fuel aboard" in words]
    tank_l = coarse_inputs().boat.engine.tank_l
    assert f"{tank_l - 2.0:.0f} L, 4 L more than the {tank_l - 6.0:.0f} L of the last plan" in warning
