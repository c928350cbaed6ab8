"""Each line of the failure card has the figures of a plan that is made with that failure."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from planner.app.inputs import read_passage
from planner.domain.errors import InputError
from planner.domain.inputs.failure import Failure
from planner.domain.inputs.given import Inputs
from planner.domain.results.failures import FailureCard, FailureLine
from planner.domain.results.plan import Plan
from planner.domain.voyage import soc_course
from planner.flow.failures import diversions, failing, failures_of
from planner.flow.plan import plan_from
from planner.flow.progress import silent
from planner.flow.recall import Recall

sys.path.insert(0, str(Path(__file__).parents[1] / "app"))
from tiny_passage import lay_out

REFUGES = """
[[refuge]]
name = "astern"
position = "35-20.0S 174-20.0E"

[[refuge]]
name = "ahead"
lat = -34.3
lon = 174.6
"""


@pytest.fixture(scope="module")
def recall() -> Recall:
    return Recall()


@pytest.fixture(scope="module")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    passage_file = lay_out(tmp_path_factory.mktemp("tiny"))
    text = passage_file.read_text(encoding="utf-8")
    before, after = text.split("# where to divert to", 1)  # the demo's refuges are elsewhere
    passage_file.write_text(before + after[after.index("\n[[waypoints]]") :] + REFUGES, encoding="utf-8")
    by_a_true_meter = {"wishes.meter_error": 0.0}  # a plan's own ledger knows no other
    return read_passage(
        passage_file, {"departure": "2027-05-09T14:00:00+12:00", "start.state_of_charge": 0.5, **by_a_true_meter}
    )


@pytest.fixture(scope="module")
def plan(inputs: Inputs, recall: Recall) -> Plan:
    return plan_from(inputs, progress=silent, recall=recall)


@pytest.fixture(scope="module")
def card(plan: Plan, recall: Recall) -> FailureCard:
    before = recall.calls.copy()
    found = failures_of(plan, recall)
    assert recall.calls == before, "what the plan was made of is made again"
    return found


def line_of(card: FailureCard, kind: str) -> FailureLine:
    return next(line for line in card.lines if line.failure.kind == kind)


def failed_plan(inputs: Inputs, line: FailureLine) -> Plan:
    kind, names = line.failure.kind, line.failure.names
    found = plan_from(failing(inputs, names if kind == "controller" else [kind], Recall()), progress=silent)
    assert found.warnings[0].code == "planned_without"
    assert found.voyage.inputs.failed == (line.failure,)
    return found


def own_rows(plan: Plan, *names: str) -> list[np.ndarray]:
    """Return a sum of flows of each member on its own track, (time,) each."""
    own = plan.own_tracks
    assert own is not None
    ends = np.cumsum(own.tracks["row_size"].values)[:-1]
    return np.split(sum(own.tracks[name].values for name in names), ends)


def per_day(rows: list[np.ndarray]) -> float:
    return float(np.mean([24.0 * row.mean() for row in rows]))


def test_a_line_for_each_thing_that_can_fail(card: FailureCard) -> None:
    kinds = [line.failure.kind for line in card.lines]
    assert kinds == ["engine", "alternator", "autopilot", "controller", "panels", "bank", "meter"]
    assert line_of(card, "controller").failure.names == ("arch",)
    assert len(line_of(card, "panels").failure.names) == 3
    assert card.planned_with == ()


def test_the_engine_s_line_is_the_plan_without_engine_on_the_control_s_track(
    inputs: Inputs, card: FailureCard, plan: Plan
) -> None:
    line = line_of(card, "engine")
    failed = failed_plan(inputs, line)
    as_it_is = line.steps[0]
    under = (soc_course(failed.ledger) < failed.boat.bank.reserve_soc - 1e-9).any(axis=1)
    dark = (failed.ledger["unserved_power_w"].values > 1e-6).any(axis=1)
    assert (as_it_is.kept.k, as_it_is.lit.k) == ((~under).sum(), (~dark).sum())
    offered = failed.ledger["solar_power_w"] + failed.ledger["curtailed_power_w"]
    assert line.sun_wh_per_day.planned == pytest.approx(24.0 * float(offered.mean()))
    assert as_it_is.draws_wh_per_day == pytest.approx(24.0 * float(failed.demand["demand_power_w"].mean()))
    assert line.later_h == pytest.approx((failed.voyage.steps - plan.voyage.steps) / 6.0)
    assert line.wind == "control"
    assert as_it_is.charging_h.p90 == failed.engine_hours.p90 == 0.0


def test_the_alternator_s_line_is_the_plan_without_it_on_own_tracks(inputs: Inputs, card: FailureCard) -> None:
    line = line_of(card, "alternator")
    assert line.wind == "own"
    failed = failed_plan(inputs, line)
    as_it_is, reserve = line.steps[0], failed.boat.bank.reserve_soc
    rows = own_rows(failed, "bank_soc")
    assert as_it_is.kept.k == sum(bool((row >= reserve).all()) for row in rows)
    unserved = own_rows(failed, "unserved_power_w")
    assert as_it_is.lit.k == sum(not (row > 1e-6).any() for row in unserved)
    assert line.sun_wh_per_day.planned == pytest.approx(
        per_day(own_rows(failed, "solar_power_w", "curtailed_power_w"))
    )
    assert as_it_is.draws_wh_per_day == pytest.approx(per_day(own_rows(failed, "load_power_w", "unserved_power_w")))
    assert failed.charging_hours.p90 == as_it_is.charging_h.p90 == 0.0


def test_what_shedding_wins_is_what_a_plan_without_those_loads_has(inputs: Inputs, card: FailureCard) -> None:
    line = line_of(card, "alternator")
    shed = {name for step in line.steps for name in step.loads}
    assert shed
    assert line.steps[0].kept.k < line.steps[0].kept.n
    failed = failing(inputs, ["alternator"], Recall())
    fewer = failed.boat.model_copy(update={"load": tuple(load for load in failed.boat.load if load.name not in shed)})
    plan = plan_from(replace(failed, boat=fewer), progress=silent)
    reserve = plan.boat.bank.reserve_soc
    assert line.steps[-1].kept.k == sum(bool((row >= reserve).all()) for row in own_rows(plan, "bank_soc"))
    draws = per_day(own_rows(plan, "load_power_w", "unserved_power_w"))
    assert line.steps[-1].draws_wh_per_day == pytest.approx(draws, rel=0.03)  # an inverter that feeds nothing is off


@pytest.mark.parametrize("kind", ["controller", "autopilot"])
def test_a_line_of_less_sun_or_load_has_those_of_the_plan_made_with_it(
    inputs: Inputs, card: FailureCard, kind: str
) -> None:
    line = line_of(card, kind)
    failed = failed_plan(inputs, line)
    sun = own_rows(failed, "solar_power_w", "curtailed_power_w")
    assert line.sun_wh_per_day.planned == pytest.approx(per_day(sun))
    draws = own_rows(failed, "load_power_w", "unserved_power_w")
    assert line.steps[0].draws_wh_per_day == pytest.approx(per_day(draws))


def test_less_aboard_never_brings_more(card: FailureCard) -> None:
    sun = {line.failure.kind: line.sun_wh_per_day.planned for line in card.lines}
    assert sun["panels"] <= sun["controller"] < sun["alternator"] == sun["bank"] == sun["meter"]
    draws = {line.failure.kind: line.steps[0].draws_wh_per_day for line in card.lines}
    assert draws["autopilot"] < draws["meter"] == draws["alternator"]


def test_no_failure_is_the_plan_itself(inputs: Inputs, recall: Recall) -> None:
    assert failing(inputs, [], recall) is inputs


def test_a_name_that_is_not_aboard_is_refused_with_the_near_one(inputs: Inputs, recall: Recall) -> None:
    with pytest.raises(InputError, match=r"there is no 'alternater'\. Did you mean 'alternator'"):
        failing(inputs, ["alternater"], recall)


def test_what_has_failed_already_has_no_line(inputs: Inputs) -> None:
    recall = Recall()
    with_two = failing(inputs, ["meter", "arch", "autopilot"], recall)
    found = failures_of(plan_from(with_two, progress=silent, recall=recall), recall)
    assert found.planned_with == (Failure("meter"), Failure("controller", ("arch",)), Failure("autopilot"))
    kinds = [line.failure.kind for line in found.lines]
    assert "meter" not in kinds
    assert "autopilot" not in kinds
    assert ("arch",) not in [line.failure.names for line in found.lines]


def test_the_nearest_refuge_by_day_is_reckoned_from_the_track(card: FailureCard, plan: Plan) -> None:
    """Ten minutes of latitude astern is 10 nm; later the one ahead is nearer."""
    first, last = card.diversions[0], card.diversions[-1]
    assert (first.day, first.refuge, first.nearer) == (1, "astern", True)
    assert first.refuge_nm == pytest.approx(10.0, abs=0.1)
    assert first.to_go_nm == pytest.approx(float(plan.track["distance_to_go_nm"][0]))
    assert [each.day for each in card.diversions] == [day.day for day in plan.days]
    assert last.refuge_nm >= 0.0
    nobody = replace(plan.voyage.inputs, refuges=())
    bare = replace(plan, voyage=replace(plan.voyage, inputs=nobody))
    assert diversions(bare) == ()


def test_she_who_does_not_arrive_under_sail_alone_is_said_to(inputs: Inputs) -> None:
    """In a calm that lasts the engine drives all the way; without it there is no landfall."""
    calm = inputs.forecast.assign(
        {name: xr.zeros_like(inputs.forecast[name]) for name in ("wind_east_m_s", "wind_north_m_s")}
    )
    becalmed = replace(inputs, forecast=calm)
    recall = Recall()
    line = line_of(failures_of(plan_from(becalmed, progress=silent, recall=recall), recall), "engine")
    assert line.steps == ()
    assert not line.enough
    assert line.allowed_wh_per_day is None
