"""A plan against the last one: what was foreseen at a moment, what the engine ran by then, what differs and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, NamedTuple, cast

import numpy as np
import pytest
import xarray as xr

from planner.domain.inputs.route import Waypoint
from planner.domain.results.bill import Rung
from planner.domain.results.figures import Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan
from planner.domain.results.replan import Change, LastLadder, LastPlan, ObservedBank
from planner.presentation.words.notes import all_said
from planner.studies.replan.changes import BySky, changes_since, engine_by_plan, foreseen_soc

START = datetime(2027, 5, 9, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
LAST = LastPlan(
    time=tuple(START + n * 6 * HOUR for n in range(8)),
    lat=tuple(-35.0 + n for n in range(8)),
    lon=(178.0, 179.0, -180.0, -179.0, -178.0, -177.0, -176.0, -175.0),
    soc=(0.9, 0.8, 0.7, 0.6, 0.5, 0.6, 0.7, 0.6),
    soc_p10=(0.88, 0.75, 0.62, 0.5, 0.4, 0.5, 0.6, 0.5),
    soc_p90=(0.92, 0.85, 0.78, 0.7, 0.6, 0.7, 0.8, 0.7),
    solar_w=(100.0,) * 8,
    load_w=(80.0,) * 8,
    engine_on=(0.0,) * 8,
    arrival=START + 48 * HOUR,
    windows=((START + 10 * HOUR, START + 12 * HOUR, 3.0), (START + 30 * HOUR, START + 31 * HOUR, 2.0)),
    charging=((START + 10 * HOUR, START + 12 * HOUR), (START + 30 * HOUR, START + 31 * HOUR)),
    ladders=(
        LastLadder(START + 24 * HOUR, START + 28 * HOUR, ((60, 0), (0, 60)), 80),
        LastLadder(START + 28 * HOUR, START + 32 * HOUR, ((50, 0), (0, 90)), 85),
    ),
    standing=(53, 60),
    ship_offset=timedelta(hours=12),
    fuel_aboard_l=180.0,
    engine_so_far=None,
)


FLAT = Spread(0.0, 0.0, 0.0, 0.0)


def plan(**changes: Any) -> Plan:
    """What is read of a plan from the fix, a day after departure: 24 h to go at 100 W of sun and 80 W of load."""
    given: dict[str, Any] = {
        "passage": SimpleNamespace(departure=START + 24 * HOUR),
        "route": (Waypoint(name="fix", lat=-31.0, lon=-178.0),),
        "arrival": START + 48 * HOUR,
        "boat": SimpleNamespace(bank=SimpleNamespace(capacity_ah=300.0, health=0.95)),
        "track": xr.Dataset(attrs={"step_s": 3600.0}),
        "planned": xr.Dataset(
            {
                "solar_power_w": (("member", "time"), np.full((1, 24), 100.0)),
                "load_power_w": (("member", "time"), np.full((1, 24), 80.0)),
            }
        ),
        "charging_hours": SimpleNamespace(planned=1.0),
        "watches": (),
        "ship_offset": timedelta(hours=12),
        **changes,
    }
    return cast("Plan", SimpleNamespace(**given))


def bank(soc: float, doubt: float = 0.03) -> ObservedBank:
    return ObservedBank(soc, soc - doubt, soc + doubt, Note("by_monitor"))


class Said(NamedTuple):
    what: str
    foreseen: str
    now: str
    why: str


def words(change: Change) -> Said:
    return Said(*all_said((change.what, change.foreseen, change.now, change.why)))


def told(what: str, made: Plan, observed: ObservedBank, by_bank_h: Spread | None = None) -> Said:
    """Return the first change whose name begins so, in words."""
    found = (words(change) for change in changes_since(LAST, made, by_bank_h, observed))
    return next(each for each in found if each.what.startswith(what))


def test_charge_is_foreseen_on_a_line_between_rows() -> None:
    assert foreseen_soc(LAST, START + 3 * HOUR) == pytest.approx(0.85)
    assert foreseen_soc(LAST, START + 24 * HOUR) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("at_h", "hours", "fuel_l"), [(9, 0.0, 0.0), (11, 1.0, 1.5), (12, 2.0, 3.0), (20, 2.0, 3.0), (30.5, 2.5, 4.0)]
)
def test_a_run_under_way_counts_as_far_as_it_has_come(at_h: float, hours: float, fuel_l: float) -> None:
    so_far = engine_by_plan(LAST, START + at_h * HOUR)
    assert (so_far.hours, so_far.fuel_l) == pytest.approx((hours, fuel_l))


def test_a_fix_on_the_track_is_there_also_across_the_antimeridian() -> None:
    change = told("position", plan(), bank(0.5))
    assert change.foreseen == "31.00 S 178.00 W"
    assert change.now == "there"


def test_a_fix_off_the_track_is_told_by_distance_and_point() -> None:
    change = told("position", plan(route=(Waypoint(name="fix", lat=-32.0, lon=-178.0),)), bank(0.5))
    assert change.now == "60 nm S of there"  # a degree of latitude


@pytest.mark.parametrize(
    ("soc", "doubt", "words"),
    [
        (0.55, 0.03, "Within eight forecasts in ten (40 % to 60 %)"),
        (0.62, 0.03, "Outside 40 % to 60 %, but the meter's doubt reaches it."),
        (0.7, 0.03, "Over 40 % to 60 %"),
        (0.3, 0.03, "Under 40 % to 60 %: more than the forecasts explain"),
    ],
)
def test_the_bank_is_held_against_eight_forecasts_in_ten_and_the_meters_doubt(
    soc: float, doubt: float, words: str
) -> None:
    change = told("bank", plan(), bank(soc, doubt))
    assert change.why.startswith(words)
    assert change.now.endswith(f"{(soc - 0.5) * 285.0:+.0f} Ah")  # of 300 Ah, aged to 95 %


def test_what_is_as_foreseen_has_no_reason() -> None:
    assert [told(what, plan(), bank(0.5)).why for what in ("arrival", "sun", "load")] == ["", "", ""]


def test_a_later_arrival_brings_more_sun_at_the_same_rate() -> None:
    longer = xr.Dataset(
        {name: (("member", "time"), np.full((1, 36), watts)) for name, watts in
         (("solar_power_w", 100.0), ("load_power_w", 90.0))}
    )  # fmt: skip
    late = plan(arrival=START + 60 * HOUR, planned=longer)
    assert told("arrival", late, bank(0.5)).why == "12.0 h later: place and wind."
    sun = told("sun", late, bank(0.5))
    assert (sun.foreseen, sun.now) == ("2400 Wh", "3600 Wh")
    assert sun.why.startswith("+0 Wh a day")
    assert told("load", late, bank(0.5)).why.startswith("+240 Wh a day")  # ten watts more


def test_engine_hours_are_parted_into_what_the_bank_and_what_the_rest_asks_for() -> None:
    """The last plan still had one hour; with its bank the new one takes two and a half, with the read one four."""
    made = plan(charging_hours=SimpleNamespace(planned=4.0))
    change = told("engine", made, bank(0.5), Spread(planned=1.5, p10=0.5, p50=1.4, p90=2.0))
    assert (change.foreseen, change.now) == ("1.0 h", "4.0 h")
    assert change.why == (
        "+1.5 h from the bank, +0.5 to +2.0 h in eight forecasts in ten. +1.5 h from weather, place and the ladders "
        "made anew."
    )


def test_the_sky_of_a_log_has_its_part_of_the_engine_and_of_the_sun() -> None:
    seen = BySky(Spread(0.9, 0.2, 1.0, 1.4), Spread(-290.0, -400.0, -300.0, -200.0))
    made = plan(charging_hours=SimpleNamespace(planned=4.0))
    changes = {change.what.code: words(change) for change in changes_since(LAST, made, FLAT, bank(0.5), seen)}
    assert changes["engine_to_charge"].why == (
        "+1.0 h from the sky that the log shows, +0.2 to +1.4 h in eight forecasts in ten. +2.0 h from weather, "
        "place and the ladders made anew."
    )
    assert changes["sun_to_come"].why == "The sky that the log shows makes -300 Wh a day of it."
    little = replace(seen, wh_per_day=Spread(-20.0, -30.0, -20.0, -10.0))
    assert words(changes_since(LAST, made, FLAT, bank(0.5), little)[3]).why == ""


def test_the_first_watch_from_now_is_read_by_both_ladders() -> None:
    row = SimpleNamespace(
        start=START + 24 * HOUR, soc=SimpleNamespace(planned=0.55), ladder=(Rung(50, 0), Rung(0, 120))
    )
    change = told("watch", plan(watches=(row,)), bank(0.55))
    assert (change.foreseen, change.now) == ("60 min at 55 % by the old ladder", "skip by the new one")
    assert change.why == "Ladders are made anew from here."


def test_a_fix_outside_the_last_plan_is_held_against_nothing() -> None:
    late = plan(passage=SimpleNamespace(departure=START + 50 * HOUR))
    (change,) = changes_since(LAST, late, None, bank(0.5))
    assert change.what.code == "time"
    (change,) = changes_since(replace(LAST, arrival=START + 20 * HOUR), plan(), None, bank(0.5))
    assert change.what.code == "time"
