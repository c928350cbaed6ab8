"""Every member on its own track: the control's own wind gives the plan back, another one its own passage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
import pytest
import xarray as xr
from coarse_demo import coarse_inputs, quietly
from geographiclib.geodesic import Geodesic

from planner.app import api as interface
from planner.app.verbs.replan import replan
from planner.decision.policy.by_clock import Rules, by_clock
from planner.decision.policy.decide import Decision, decide
from planner.domain.glossary import LEDGER, TRACK
from planner.domain.inputs.given import Inputs
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.results.plan import Plan
from planner.domain.voyage import Course
from planner.flow.own_tracks import OwnVoyage, beside_the_control, parted_nm
from planner.flow.plan import plan_from
from planner.flow.recall import Recall
from planner.flow.stages import extended, own_courses
from planner.presentation.words.notes import all_said
from planner.simulation.sky.forecast_calendar import WIND_ERRORS

AS_CONTROL, SLOWER, BECALMED, NEVER = 1, 2, 3, 3
WIND = ("wind_east_m_s", "wind_north_m_s")
Blow = Callable[[np.ndarray], np.ndarray]


def slower(days: np.ndarray) -> np.ndarray:
    return np.full(days.shape, 0.8)


def becalmed(days: np.ndarray) -> np.ndarray:
    return np.where((days > 3.0) & (days < 6.0), 0.01, 1.0)


def no_wind(days: np.ndarray) -> np.ndarray:
    return np.where(days > 0.5, 0.0, 1.0)


def in_winds(inputs: Inputs, *factors: Blow) -> Inputs:
    """The first members' sky, each in the control's wind: two as it is, then one for each factor of it."""
    count = 2 + len(factors)
    forecast = inputs.forecast.isel(member=slice(0, count))
    departure = np.datetime64("2027-05-08T22:00")
    days = (forecast["time"].values - departure) / np.timedelta64(1, "D")
    winds = {}
    for name in WIND:
        control = forecast[name].values[0]
        of_all = [control, control, *(control * factor(days)[:, None, None] for factor in factors)]
        winds[name] = (forecast[name].dims, np.stack(of_all), forecast[name].attrs)
    return replace(inputs, forecast=forecast.assign(winds))


def steady(days: np.ndarray) -> np.ndarray:
    return np.ones(days.shape)


def never_calm(days: np.ndarray) -> np.ndarray:
    return np.where((days > 3.0) & (days < 6.5), 2.0, 1.0)


def tried(inputs: Inputs) -> Plan:
    return plan_from(inputs, progress=quietly)


@lru_cache(maxsize=1)
def two_winds() -> Plan:
    return tried(in_winds(coarse_inputs(model__tracks="own"), slower))


@lru_cache(maxsize=1)
def windier() -> Plan:
    return tried(in_winds(coarse_inputs(), *[never_calm] * 6))


@lru_cache(maxsize=1)
def without_engine() -> Plan:
    """The bank alone carries her: as long as the control takes it lasts, and no longer."""
    inputs = coarse_inputs(
        model__tracks="own",
        boat__engine__available=False,
        boat__bank__capacity_ah=1500.0,
        start__state_of_charge=0.95,
    )
    return tried(in_winds(inputs, slower, becalmed))


@lru_cache(maxsize=1)
def one_never_there() -> Plan:
    inputs = in_winds(coarse_inputs(model__tracks="own", boat__engine__available=False), slower, no_wind)
    start = inputs.forecast["time"].values[0]
    six_days = inputs.forecast.sel(time=slice(start, start + np.timedelta64(6, "D")))
    return tried(replace(inputs, forecast=six_days))


def own_of(plan: Plan) -> OwnTracks:
    assert plan.own_tracks is not None
    return plan.own_tracks


def steps_of(own: OwnTracks, member: int) -> slice:
    ends = np.cumsum(own.tracks["row_size"].values)
    return slice(int(ends[member] - own.tracks["row_size"].values[member]), int(ends[member]))


def hours(own: OwnTracks, member: int) -> float:
    return float(own.tracks["row_size"][member]) * own.tracks.attrs["step_s"] / 3600.0


def rules_of(plan: Plan) -> Rules:
    return Rules(plan.boat.engine, plan.passage.watches, plan.passage.wishes, plan.ship_offset)


def test_tracks_of_their_own_are_not_sailed_where_the_controls_is_asked_for() -> None:
    plan = plan_from(in_winds(coarse_inputs(model__tracks="control"), slower), progress=quietly)
    assert plan.own_tracks is None
    assert plan.reserve_kept.wind == "control"
    assert all(row.drives_in is None for row in plan.watches)


def test_each_in_its_own_wind_is_the_promise_unless_asked_otherwise() -> None:
    assert coarse_inputs().passage.model.tracks == "own"
    plan = two_winds()
    assert plan.reserve_kept.wind == "own"
    assert plan.charging_hours.p50 == own_of(plan).charging_hours.p50
    assert plan.min_soc.p10 == own_of(plan).min_soc.p10


def test_outcomes_that_share_one_wind_are_not_sailed_again_nor_said_to_doubt_it() -> None:
    alike = in_winds(coarse_inputs(model__lone_outcomes=1))
    plan = plan_from(replace(alike, forecast=alike.forecast.isel(member=[0])), progress=quietly)
    assert plan.reserve_kept.wind == "forecast"
    assert plan.own_tracks is None


def test_a_single_runs_outcomes_and_members_of_one_wind_each_sail_their_own() -> None:
    alike = in_winds(coarse_inputs(model__lone_outcomes=4))
    alone = replace(alike, forecast=alike.forecast.isel(member=[0]))
    for inputs, outcomes in ((alike, 2), (alone, 4)):
        plan = tried(inputs)
        assert plan.reserve_kept.wind == "own"
        own = own_of(plan)
        assert own.members == outcomes
        assert np.unique(own.tracks["lat"].values[np.cumsum(own.tracks["row_size"].values) - 40]).size == outcomes


def test_one_wind_for_all_gives_the_controls_plan_to_the_last_digit() -> None:
    """Members sailed one by one in the control's wind are decided for as they are along its track."""
    inputs = in_winds(coarse_inputs(model__tracks="control"), steady, steady)
    control = plan_from(inputs, progress=quietly)
    forecast = extended(inputs, Recall()).drop_vars(WIND_ERRORS.values())
    drawn = control.voyage.course
    courses = own_courses(drawn, forecast, inputs, ship_offset=control.ship_offset, members=range(4))
    for member, course in enumerate(courses):
        np.testing.assert_array_equal(
            course.harvest["controller_power_w"][0], drawn.harvest["controller_power_w"][member]
        )
    apart, together = (decided(control, each) for each in (courses, [drawn]))
    for name in ("first_step", "end_step", "minutes", "stop_soc", "allowed"):
        np.testing.assert_array_equal(getattr(apart.policy, name), getattr(together.policy, name), err_msg=name)
    assert (apart.margin, apart.reserve_kept) == (together.margin, together.reserve_kept)
    assert apart.expected_cost_min == together.expected_cost_min
    laid = by_clock(apart.policy, control.track, rules_of(control))
    np.testing.assert_array_equal(laid.minutes, control.policy.minutes)


def decided(plan: Plan, courses: Sequence[Course]) -> Decision:
    return decide(
        courses,
        plan.voyage.course,
        bank=plan.boat.bank,
        engine=plan.boat.engine,
        watches=plan.passage.watches,
        wishes=plan.passage.wishes,
        start_soc=plan.passage.start.state_of_charge,
        ship_offset=plan.ship_offset,
        seed=plan.passage.model.seed,
    )


def test_the_plan_counts_on_no_driving_that_the_members_do_not_do() -> None:
    """The control drives through a calm that six of eight members do not have: their banks are charged for it."""
    plan, own = windier(), own_of(windier())
    drives = plan.track["under_engine"].values > 0
    assert drives.sum() > 36
    assert (own.tracks.isel(obs=steps_of(own, 2))["under_engine"] == 0).all()
    assert (plan.ledger["engine_on"].values[:, drives] == 1).all()
    in_calm = [row for row in plan.watches if row.under_engine_min > 120]
    assert in_calm
    assert all(row.drives_in is not None and (row.drives_in.k, row.drives_in.n) == (2, 8) for row in in_calm)
    assert own.min_soc.p10 >= plan.boat.bank.reserve_soc
    counting = plan_from(in_winds(coarse_inputs(model__tracks="control"), *[never_calm] * 6), progress=quietly)
    assert plan.charging_hours.p50 > counting.charging_hours.p50


@pytest.mark.parametrize(("below_kn", "drives_all"), [(25.0, True), (0.0, False)])
def test_a_passage_driven_throughout_or_never_keeps_its_promise(below_kn: float, drives_all: bool) -> None:
    # rolling as planned: one voltage is held over the roll, which upright she does not feel
    rolls = {"model__roll_nodes": 3}
    inputs = coarse_inputs(boat__sailing__engine_below_kn=below_kn, boat__engine__tank_l=2000.0, **rolls)
    plan = tried(replace(inputs, forecast=inputs.forecast.isel(member=slice(0, 6))))
    own = own_of(plan)
    assert bool((own.tracks["under_engine"] > 0).all()) is drives_all
    assert bool((own.tracks["under_engine"] > 0).any()) is drives_all
    assert plan.reserve_kept.kept >= 5
    if drives_all:
        assert own.charging_hours.p90 == 0.0
        assert all(row.engine_min == 0 for row in plan.watches)
        assert plan.min_soc.p10 > plan.boat.bank.reserve_soc


def test_a_replan_and_the_small_interface_have_the_headline_too() -> None:
    inputs = in_winds(coarse_inputs(), slower)
    recall = Recall()
    assert interface.plan(inputs, recall=recall).reserve_kept == two_winds().reserve_kept
    assert recall.calls["own_courses"] == 1  # the headings and failures of the report sail nobody again
    here = two_winds().track.isel(time=144)
    rest = replan(
        inputs,
        fix=(float(here["lat"]), float(here["lon"])),
        time=datetime(2027, 5, 9, 22, tzinfo=UTC),
        soc=0.7,
    )
    assert rest.plan.reserve_kept.wind == "own"
    assert rest.plan.own_tracks is not None


def test_a_reserve_not_kept_is_warned_of_once() -> None:
    own = tried(in_winds(coarse_inputs(boat__engine__available=False), slower, becalmed))
    lines = [line for line in all_said(own.warnings) if "cannot be kept as surely as asked" in line]
    assert len(lines) == 1
    assert f"{own.reserve_kept.kept} of 4 trials, each in its own wind" in lines[0]


@pytest.mark.parametrize("member", [0, AS_CONTROL])
def test_in_the_controls_wind_track_and_ledger_are_the_plans(member: int) -> None:
    plan, own = two_winds(), own_of(two_winds())
    steps = own.tracks.isel(obs=steps_of(own, member))
    for name in TRACK:
        np.testing.assert_array_equal(steps[name], plan.track[name], err_msg=name)
    for name, quantity in LEDGER.items():
        if "time" in quantity.dims:
            np.testing.assert_allclose(steps[name], plan.ledger[name][member], rtol=1e-9, atol=1e-9, err_msg=name)
    np.testing.assert_allclose(own.tracks["bank_soc_end"][member], plan.ledger["bank_soc_end"][member])
    assert plan.ledger["bank_soc"][0].values != pytest.approx(plan.ledger["bank_soc"][AS_CONTROL].values)


def test_in_a_slower_wind_she_comes_later_and_stays_at_sea_with_her_loads() -> None:
    plan, own = two_winds(), own_of(two_winds())
    assert hours(own, SLOWER) > hours(own, 0) + 3.0
    assert own.arrival.p90 is not None
    assert own.arrival.p10 == plan.arrival  # two of three are the control's
    assert own.arrival.p90 > plan.arrival
    late = own.tracks.isel(obs=steps_of(own, SLOWER)).isel(obs=slice(plan.track.sizes["time"], None))
    assert (late["load_power_w"] > 10.0).all()
    ashore = own.tracks["arrival"][SLOWER] - late["time"][-1]
    assert np.timedelta64(0, "m") < ashore <= np.timedelta64(10, "m")  # within the last step, not at its end


def test_the_ladders_are_the_plans_by_the_clock_and_the_last_days_again_beyond_it() -> None:
    plan, own = two_winds(), own_of(two_winds())
    steps = own.tracks.isel(obs=steps_of(own, SLOWER))
    late = steps[list(TRACK)].swap_dims(obs="time").assign_attrs(step_s=600.0)
    itself = by_clock(plan.policy, plan.track, rules_of(plan))
    for name in ("first_step", "end_step", "minutes", "stop_soc", "allowed"):
        np.testing.assert_array_equal(getattr(itself, name), getattr(plan.policy, name), err_msg=name)
    carried = by_clock(plan.policy, late, rules_of(plan))
    watches = plan.policy.first_step.size
    np.testing.assert_array_equal(carried.minutes[:watches], plan.policy.minutes)
    np.testing.assert_array_equal(carried.stop_soc[:watches], plan.policy.stop_soc)
    assert carried.minutes.shape[0] > watches
    a_day = len(plan.passage.watches)
    np.testing.assert_array_equal(carried.minutes[watches], plan.policy.minutes[watches - a_day])
    assert carried.end_step[-1] == late.sizes["time"]


def test_she_runs_the_engine_by_the_meter_on_her_own_track() -> None:
    """What the engine does in a watch is what the plan's ladder says at the reading of her own meter."""
    plan, own = two_winds(), own_of(two_winds())
    steps = own.tracks.isel(obs=steps_of(own, SLOWER))
    asked, standing = 0, plan.policy.standing
    assert standing is not None
    for first, end, minutes in zip(plan.policy.first_step, plan.policy.end_step, plan.policy.minutes, strict=True):
        watch = steps.isel(obs=slice(int(first), int(end)))
        wanted = int(minutes[round(100.0 * float(watch["bank_soc"][0]))])
        charging = float(((watch["engine_on"] > 0) & (watch["under_engine"] == 0)).sum()) * 10.0
        near_reserve = bool((watch["bank_soc"] <= 0.01 * standing.stop_percent).any())
        assert charging <= wanted or near_reserve
        asked += wanted > 0
    assert asked > 0


def test_a_bank_that_lasts_as_planned_runs_low_in_a_calm() -> None:
    plan, own = without_engine(), own_of(without_engine())
    assert hours(own, BECALMED) > hours(own, 0) + 48.0
    assert plan.reserve_kept.kept < plan.reserve_kept.members == 4
    lowest = [float(own.tracks["bank_soc"][steps_of(own, member)].min()) for member in range(4)]
    assert lowest[BECALMED] < plan.boat.bank.reserve_soc < lowest[0]
    assert own.min_soc.p10 < own.min_soc.p90 - 0.02


def test_one_that_never_arrives_is_followed_as_far_as_the_forecast_serves_and_counted() -> None:
    plan, own = one_never_there(), own_of(one_never_there())
    assert (own.arrived, own.members) == (3, 4)
    assert own.arrival.p10 is not None
    assert own.arrival.p90 is None
    assert np.isnat(own.tracks["arrival"].values).tolist() == [False, False, False, True]
    # she leaves four hours after the forecast begins, and at least half of what is followed lies under it
    assert hours(own, NEVER) == pytest.approx(2.0 * (6.0 * 24.0 - 4.0), abs=0.2)
    assert any("1 of 4 do not arrive" in line for line in all_said(plan.warnings))


def test_members_of_a_demo_forecast_part_in_place_and_time() -> None:
    inputs = coarse_inputs(model__tracks="own")
    few = replace(inputs, forecast=inputs.forecast.isel(member=slice(0, 4)))
    own = own_of(tried(few))
    assert np.unique(own.tracks["row_size"]).size > 1
    ends = [own.tracks.isel(obs=steps_of(own, member)).isel(obs=500) for member in range(4)]
    assert np.ptp([float(end["lat"]) for end in ends]) > 0.05
    assert isinstance(own.tracks, xr.Dataset)


def test_a_watch_past_the_planned_arrival_has_a_ladder_for_those_still_at_sea() -> None:
    plan, own = two_winds(), own_of(two_winds())
    assert plan.later_watches
    assert plan.later_watches[0].start == plan.watches[-1].end >= plan.arrival
    assert own.arrival.p90 is not None
    last = own.tracks["arrival"].values[SLOWER]
    after = np.datetime64(plan.later_watches[-1].end.replace(tzinfo=None)) - last
    assert np.timedelta64(0, "m") <= after < np.timedelta64(10, "m")  # she arrives within the last step
    assert any(rung.minutes for row in plan.later_watches for rung in row.ladder)


def test_what_is_wanted_on_arrival_is_counted_on_own_tracks() -> None:
    plan, own = two_winds(), own_of(two_winds())
    ends = own.tracks["bank_soc_end"].values
    assert own.as_wanted.k == int((ends >= plan.passage.wishes.arrival_soc).sum())
    assert own.as_wanted.n == 3


def test_a_smaller_load_needs_no_more_engine_on_own_tracks() -> None:
    lighter = in_winds(coarse_inputs(), slower)
    loads = tuple(
        load.model_copy(update={"watts": 0.8 * load.watts})
        if load.watts is not None and not load.wh_per_day
        else load
        for load in lighter.boat.load
    )
    plan = tried(replace(lighter, boat=lighter.boat.model_copy(update={"load": loads})))
    assert own_of(plan).charging_hours.p50 < own_of(two_winds()).charging_hours.p50


def test_another_bank_or_start_sails_no_member_again_but_another_load_does() -> None:
    inputs, recall = in_winds(coarse_inputs(), slower), Recall()

    def planned(**changes: object) -> Plan:
        passage, boat = inputs.passage, inputs.boat
        if "start" in changes:
            passage = passage.model_copy(update={"start": changes["start"]})
        boat = boat.model_copy(update={name: part for name, part in changes.items() if name != "start"})
        return plan_from(replace(inputs, passage=passage, boat=boat), progress=quietly, recall=recall)

    first = planned()
    planned(start=inputs.passage.start.model_copy(update={"state_of_charge": 0.6}))
    larger = planned(bank=inputs.boat.bank.model_copy(update={"capacity_ah": 400.0}))
    assert (recall.calls["own_courses"], recall.calls["decide"]) == (1, 3)
    assert own_of(larger).tracks["lat"].equals(own_of(first).tracks["lat"])
    alone = plan_from(
        replace(inputs, boat=larger.boat), progress=quietly
    )  # what was remembered is what is computed anew
    assert own_of(alone).charging_hours == own_of(larger).charging_hours
    assert alone.reserve_kept == larger.reserve_kept
    planned(load=inputs.boat.load[1:])
    assert recall.calls["own_courses"] == 2


def test_another_seed_is_another_decision() -> None:
    inputs, recall = in_winds(coarse_inputs(), slower), Recall()
    model = inputs.passage.model.model_copy(update={"seed": 2})
    for passage in (inputs.passage, inputs.passage.model_copy(update={"model": model})):
        plan_from(replace(inputs, passage=passage), progress=quietly, recall=recall)
    assert recall.calls["decide"] == 2


def beside(plan: Plan, *, charges: Sequence[slice] = (), drives: slice = slice(0), arrive: int = 0) -> OwnTracks:
    """The members all as the control, but for when their engines run, and for how many of them arrive."""
    steps = plan.track.sizes["time"]
    driving, charging = np.zeros(steps), np.zeros(steps)
    driving[drives] = 1.0
    for run in charges:
        charging[run] = 1.0
    track = plan.track.assign(under_engine=("time", driving, plan.track["under_engine"].attrs))
    on = plan.planned["engine_on"]
    ledger = plan.planned.assign(engine_on=(on.dims, np.maximum(driving, charging)[None], on.attrs))
    ends = [plan.track.attrs["arrival"]] * arrive + [""] * (plan.ledger.sizes["member"] - arrive)
    voyages = [OwnVoyage(track=track.assign_attrs(arrival=end), ledger=ledger) for end in ends]
    return own_of(beside_the_control(plan, voyages))


def test_a_start_is_one_of_an_engine_that_stood_still() -> None:
    own = beside(two_winds(), charges=(slice(6, 12), slice(20, 24)), drives=slice(0, 6))
    assert own.starts.p50 == 1.0  # after driving it only runs on
    assert own.charging_hours.p50 == pytest.approx(10 * two_winds().voyage.step_h)
    assert beside(two_winds(), charges=(slice(0, 4), slice(20, 24))).starts.p50 == 2.0


def test_a_percentile_of_arrivals_counts_those_that_do_not_arrive() -> None:
    plan = two_winds()
    members = plan.ledger.sizes["member"]
    some = beside(plan, arrive=1)
    assert (some.arrived, some.members) == (1, members)
    assert some.arrival.p10 is None  # between the one that arrives and the next, which does not
    assert some.arrival.p90 is None
    every = beside(plan, arrive=members)
    assert every.arrival.p10 == every.arrival.p90 == plan.arrival


def test_nine_in_ten_lie_within_what_is_told() -> None:
    """Ten boats on the equator, 1 to 10 minutes of longitude east: a minute there is 1.00186 nm (WGS84)."""
    drawn, *tracks = (
        xr.Dataset({"lat": ("time", [0.0]), "lon": ("time", [179.95 + minutes / 60.0])}) for minutes in range(11)
    )
    minute_nm = 2.0 * np.pi * 6378137.0 / 360.0 / 60.0 / 1852.0
    assert parted_nm(drawn, tracks, 0) == pytest.approx(9.1 * minute_nm)


def test_each_watch_says_how_far_the_members_part_and_what_their_banks_hold() -> None:
    plan, own = windier(), own_of(windier())
    for place in (0, len(plan.watches) // 2, len(plan.watches) - 3):
        row, at = plan.watches[place], plan.voyage.epoch_steps(place).start
        here = [own.tracks.isel(obs=steps_of(own, member)) for member in range(own.members)]
        sailing = [member.isel(obs=at) for member in here if member.sizes["obs"] > at]
        apart = [
            Geodesic.WGS84.Inverse(
                float(plan.track["lat"][at]), float(plan.track["lon"][at]), float(one["lat"]), float(one["lon"])
            )["s12"] / 1852.0
            for one in sailing
        ]  # fmt: skip
        assert row.parted_nm == pytest.approx(np.quantile(apart, 0.9), abs=1e-6)
        banks = [float(one["bank_soc"]) for one in sailing]
        assert (row.soc.p10, row.soc.p50, row.soc.p90) == pytest.approx(np.percentile(banks, (10, 50, 90)))
    assert plan.watches[0].parted_nm == 0.0
    assert (plan.watches[len(plan.watches) // 2].parted_nm or 0.0) > 1.0
