"""What studies find, in their own short words: spreads, verdicts and failures."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from planner.domain.errors import Fault
from planner.domain.results.calibration import BoatChange, Calibration
from planner.domain.results.fetched import FetchedForecast
from planner.domain.results.figures import Spread, spread_words
from planner.domain.results.forecast import ForecastAccount, RefusedVariable, Use
from planner.domain.results.note import NOTHING, Note
from planner.domain.results.panels import PairWiring, PanelStudy, PanelWorth
from planner.domain.results.reconcile.courses import Courses
from planner.domain.results.reconcile.findings import (
    BankFinding,
    ClockFinding,
    ControllerFinding,
    Interval,
    LoadFinding,
    Reconciliation,
    SkyFinding,
)
from planner.domain.results.replan import Change, FixMoment, ObservedBank, Replan
from planner.domain.results.request import Area, ForecastRequest
from planner.domain.results.studies import ComparedRow, Comparison, HalfDay

HOURS = Spread(planned=2.0, p10=1.0, p50=2.0, p90=3.5)
ENERGY = Spread(planned=1200.4, p10=900.0, p50=1100.0, p90=1500.0)


@pytest.mark.parametrize(
    ("spread", "digits", "factor", "words"),
    [
        (ENERGY, 0, 1.0, "1200 (900 to 1500)"),
        (HOURS, 1, 1.0, "2.0 (1.0 to 3.5)"),
        (Spread(0.42, 0.36, 0.4, 0.44), 0, 100.0, "42 (36 to 44)"),
        (Spread(5.0, 5.2, 5.1, 4.9), 0, 1.0, "5"),  # nothing to choose between when rounded
        (Spread(-0.01, 0.0, 0.0, 0.01), 0, 1.0, "0"),  # no minus nought
    ],
)
def test_a_spread_is_the_planned_figure_with_its_middle_eight_tenths(
    spread: Spread, digits: int, factor: float, words: str
) -> None:
    assert spread_words(spread, digits, factor) == words


@pytest.mark.parametrize(("advantage", "tack"), [(10.0, 1), (0.0, 1), (-10.0, -1)])
def test_the_better_tack_is_that_with_more_sun(advantage: float, tack: int) -> None:
    start = datetime(2027, 5, 10, tzinfo=UTC)
    half = HalfDay(
        start, start + timedelta(hours=5), True, ENERGY, ENERGY, replace(ENERGY, p50=advantage), 20.0, 20.0, 1, 21
    )
    assert half.better_tack == tack


def worth(name: str, *, failure: str = "") -> PanelWorth:
    spread = None if failure else ENERGY
    return PanelWorth(name, None, spread, None if failure else HOURS, None, None, failure)


def test_a_study_of_panels_gives_each_panel_and_place_a_line_or_its_failure() -> None:
    pair = PairWiring("a", "b", "apart", None, None, None, "they differ")
    study = PanelStudy(
        10.0, (worth("a"), worth("b")), HOURS, (pair,), 100.0, (worth("arch", failure="no room"),), NOTHING
    )
    assert study.headline() == "2 panels, 1 pairs, 1 places over 10.0 days"
    assert study.facts()[0] == ("a", "1200 (900 to 1500) Wh, saves 2.0 (1.0 to 3.5) h of charging")
    assert study.facts()[2] == ("arch", "no room")


def test_a_comparison_says_why_a_variant_failed() -> None:
    base = ComparedRow("as it is", None, None, None, None, None, None, "no wind")
    assert Comparison(base, (base,), 21).headline() == "1 variants beside 'as it is' on 21 members"
    assert Comparison(base, (), 21).facts() == (("as it is", "failed: no wind"),)


def test_a_replan_counts_its_changes() -> None:
    low = Spread(0.35, 0.31, 0.34, 0.4)
    there = SimpleNamespace(route=[None, SimpleNamespace(name="Tonga")], charging_hours=HOURS, min_soc=low)
    bank = ObservedBank(0.615, 0.55, 0.68, NOTHING)
    sunday = datetime(2027, 5, 9, tzinfo=UTC)
    fix = FixMoment(sunday, 1, sunday, "", timedelta(hours=12))
    found = Replan(fix, cast("Any", there), bank, None, (Change(NOTHING, NOTHING, NOTHING),))
    assert found.headline() == "From the fix to Tonga, bank 62 %"
    assert found.facts() == (
        ("engine to charge", "2.0 (1.0 to 3.5) h"),
        ("lowest bank", "35 (31 to 40) %"),
        ("changes", "1"),
    )


def reconciliation(
    verdict: Any, *, load: bool = False, tired: bool = False, corrected: bool = False
) -> Reconciliation:
    even, moment = Interval(1.0, 0.97, 1.03), datetime(2027, 5, 9, tzinfo=UTC)
    return Reconciliation(
        boat_file="boat.toml",
        logs=("log.csv",),
        first=moment,
        last=moment + timedelta(days=5),
        clock=ClockFinding(even, corrected=corrected, evidence=NOTHING),
        sky=SkyFinding((), even, NOTHING),
        controllers=(
            ControllerFinding(
                *("arch", ("a",), 1.0, verdict, None, even, None, 9.0, 0.0, 0.0, 0.0, (), (), (), NOTHING)
            ),
        ),
        loads=LoadFinding(None, load, (), 48.0, NOTHING),
        bank=BankFinding(None, 285.0, tired=tired, evidence=NOTHING),
        warnings=(),
        ship_offset=timedelta(hours=12),
        courses=Courses(np.empty(0, dtype="datetime64[ns]"), 600.0, (), *(np.empty(0) for _ in range(6))),
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (reconciliation("as expected"), "all as expected"),
        (reconciliation("clipped"), "all as expected"),  # a limit or a full bank is nothing amiss
        (reconciliation("weak"), "look at arch"),
        (reconciliation("shaded", load=True), "look at arch; a load not on the list"),
        (reconciliation("full bank", tired=True, corrected=True), "a tired bank; the log's clock is off"),
    ],
)
def test_readings_are_summed_up_by_what_is_amiss(found: Reconciliation, words: str) -> None:
    assert found.headline() == f"Readings against the model: {words}"
    assert ("arch", found.controllers[0].verdict) in found.facts()
    assert ("clock fast [min]", "1 (0.97 to 1.03)") in found.facts()


def account(*, state: Any = "held", of_file: Any = (), of_variable: Any = (), needed: bool = True) -> ForecastAccount:
    file = cast("Any", SimpleNamespace(faults=of_file))
    refused = RefusedVariable("tcc", "okta", "cloud", of_variable, needed)
    return ForecastAccount(
        (file,), (), (refused,), (Use("wind", "u, v", "", state),), (), (), 1, None, route_only=False, joined=None
    )


FAULT = Fault("forecast.nc", "", "it is cut short.")


@pytest.mark.parametrize(
    ("held", "can_plan"),
    [
        (account(), True),
        (account(state="spared"), True),
        (account(state="missing"), False),
        (account(of_file=(FAULT,)), False),
        (account(of_variable=(FAULT,)), False),
        (account(of_variable=(FAULT,), needed=False), True),  # set aside
    ],
)
def test_a_forecast_serves_a_plan_unless_a_need_is_missing_or_something_needed_is_at_fault(
    held: ForecastAccount, can_plan: bool
) -> None:
    assert held.can_plan is can_plan


def test_a_calibration_names_both_files_and_each_new_figure() -> None:
    change = BoatChange("bank.health", 0.95, 0.8, Note("bank_unknown"))
    made = Calibration(Path("boat.toml"), Path("boat-2.toml"), (change,), 'boat = "boat-2.toml"', text="")
    assert repr(made) == "boat-2.toml by readings, for boat.toml\n  bank.health: 0.8"
    assert repr(replace(made, changes=())).endswith("changes: none")


def test_an_order_of_a_forecast_and_a_fetched_one_show_themselves_in_a_few_lines() -> None:
    begin = datetime(2027, 5, 8, 18, tzinfo=UTC)
    area = Area(-37.0, -19.5, 172.5, -173.5, 172.5, 186.5, rows=36, columns=29)
    order = ForecastRequest(
        "passage.toml",
        area,
        0.5,
        begin,
        begin + timedelta(days=5),
        6.0,
        21,
        120.0,
        1,
        (),
        47.4,
        None,
        (),
        cut_short=False,
    )
    assert area.over_antimeridian
    assert repr(order).splitlines()[:2] == [
        "Forecast to ask for: passage.toml, 47 kB",
        "  area: lat -37 to -19.5, lon 172.5 eastward to -173.5",
    ]
    account = ForecastAccount((), (), (), (), (), (), 1, None, route_only=True, joined=None)
    line = 'forecast = "f.nc"'
    fetched = FetchedForecast("https://host/f.nc", "file", Path("f.nc"), 81_200, "ab", 0, False, line, account)
    assert repr(fetched).splitlines()[0] == "Fetched: f.nc, 81 kB"
    assert "SHA-256: ab" in repr(fetched)
