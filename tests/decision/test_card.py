"""The card: one ladder a watch of the day, found by the program's costs, and drawn up for the bill."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bill_case import make_case, make_passage
from decision_case import decision_for, rules_for, table_for
from synthetic_ensemble import BANK, WISHES, make_ensemble

import planner.decision.policy.card as policy_card
from planner.decision.bill.assemble import assemble
from planner.decision.bill.ladders.card import card
from planner.decision.policy.card import BAND_PERCENT, CARD_RUNGS, MOST_EXCEPTIONS, Card, optimise_card
from planner.decision.policy.program import ARRIVES, AT_SEA, GONE, Problem, Solution, optimise_ladder
from planner.decision.policy.table import priced
from planner.domain.inputs.passage import Passage, Watch, Wishes
from planner.domain.policy import StandingOrder
from planner.domain.results.bill import Rung
from planner.domain.results.figures import ReserveKept
from planner.domain.voyage import Voyage

KEPT = ReserveKept(kept=3, members=3, low=0.6, high=1.0, confidence=0.9)


@pytest.fixture(scope="module")
def problem() -> Problem:
    """Return five days of twelve members."""
    ensemble = make_ensemble(seed=21, days=5.0, members=12)
    return priced(table_for(ensemble), floor_soc=BANK.reserve_soc + 0.05, start_cost_min=WISHES.start_cost_min)


@pytest.fixture(scope="module")
def watch() -> np.ndarray:
    """Return which watch of the day each epoch of that problem is."""
    return rules_for().changes_of_watch(make_ensemble(seed=21, days=5.0, members=12).track)[2]


def even(problem: Problem) -> np.ndarray:
    epochs, _, nodes, _ = problem.soc_end.shape
    return np.full((epochs, nodes, 1), 1.0 / nodes)


def searched(problem: Problem, watch: np.ndarray) -> tuple[Card, Solution]:
    members = np.arange(problem.stay.shape[1])
    begun = optimise_ladder(problem, members, even(problem), rungs=4)
    return optimise_card(problem, members, even(problem), watch=watch, begun=begun)


def test_a_card_is_short_and_read_in_fives(problem: Problem, watch: np.ndarray) -> None:
    found, _ = searched(problem, watch)
    assert len(found.minutes) <= watch.max() + 1 + MOST_EXCEPTIONS
    assert np.all(np.diff(found.minutes, axis=1) <= 0)  # longer only at lower readings
    steps = np.diff(found.minutes, axis=1) != 0
    assert np.all(steps.sum(axis=1) < CARD_RUNGS)
    assert np.all((np.flatnonzero(steps.any(axis=0)) + 1) % BAND_PERCENT == 0)
    assert np.any(found.minutes > 0)


def test_a_watch_apart_from_the_card_saves_what_its_line_must(
    problem: Problem, watch: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cost(solution: Solution) -> float:
        return float(solution.value[0, :, 0].mean())

    monkeypatch.setattr(policy_card, "WORTH_A_LINE", 0.002)
    with_some = searched(problem, watch)
    monkeypatch.setattr(policy_card, "WORTH_A_LINE", np.inf)
    with_none = searched(problem, watch)
    assert with_none[0].of_epoch.tolist() == watch.tolist()
    assert len(with_some[0].minutes) > len(with_none[0].minutes)
    assert cost(with_some[1]) < 0.998 * cost(with_none[1])


def test_later_watches_that_follow_the_card_are_reckoned_with(
    problem: Problem, watch: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first turn takes later watches to follow ladders of their own; the next knows better."""
    _, settled = searched(problem, watch)
    monkeypatch.setattr(policy_card, "MOST_TURNS", 1)
    _, first = searched(problem, watch)
    assert settled.value[0, :, 0].mean() < first.value[0, :, 0].mean() - 0.1


def test_a_day_on_which_few_are_still_at_sea_counts_for_as_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten members would pay 10 minutes each for no run on the first day, the last one 50 for a run on the second."""
    monkeypatch.setattr(policy_card, "WORTH_A_LINE", np.inf)
    stay = np.array([[AT_SEA, *[ARRIVES] * 9], [ARRIVES, *[GONE] * 9]])
    cost = np.zeros((2, 2, 101, 10))
    cost[0, 0], cost[1, 1] = 10.0, 50.0
    problem = Problem(
        minutes=np.array([[0, 60], [0, 60]]),
        run_cost=np.zeros((2, 2, 2, 10)),
        runs_on=np.zeros((2, 2, 10), dtype=np.bool_),
        stay=stay,
        soc_end=np.broadcast_to(np.linspace(0.0, 1.0, 101)[:, None], (2, 2, 101, 10)).copy(),
        member_cost=cost,
        arrival_cost=np.zeros(101),
    )
    found, _ = searched(problem, np.zeros(2, dtype=np.int64))
    assert np.all(found.minutes == 60)


def test_no_card_costs_less_than_ladders_free_of_it(problem: Problem, watch: np.ndarray) -> None:
    """Each watch's own finest ladder, chosen in the knowledge of later ones, can only be better."""
    members = np.arange(problem.stay.shape[1])
    own = optimise_ladder(problem, members, even(problem), rungs=101)
    _, solution = searched(problem, watch)
    assert solution.value[0, :, 0].mean() >= own.value[0, :, 0].mean() - 1e-9


def test_where_every_day_is_the_same_the_card_is_as_good_as_its_own_ladders(problem: Problem) -> None:
    """Of one epoch alone the card has the best ladder: three rungs in fives, by trial of every such ladder's cost."""
    last = problem.soc_end.shape[0] - 2
    alone = problem._replace(
        **{
            name: getattr(problem, name)[last : last + 1]
            for name in ("minutes", "run_cost", "runs_on", "stay", "soc_end", "member_cost")
        }
    )
    found, solution = searched(alone, np.zeros(1, dtype=np.int64))
    members = np.arange(alone.stay.shape[1])
    cost_of = {
        minutes: _fixed(alone, members, choice) for choice, minutes in enumerate(alone.minutes[0].tolist())
        if minutes >= 0
    }  # fmt: skip
    best = min(
        cost
        for first in cost_of
        for second in cost_of
        for third in cost_of
        if first <= second <= third
        for upper in range(0, 101, BAND_PERCENT)
        for lower in range(0, upper + 1, BAND_PERCENT)
        for cost in [_joined(cost_of, ((0, lower, third), (lower, upper, second), (upper, 101, first)))]
    )
    assert solution.value[0, :, 0].mean() == pytest.approx(best, rel=1e-6)
    assert found.of_epoch.tolist() == [0]


def _fixed(problem: Problem, members: np.ndarray, choice: int) -> np.ndarray:
    """Return the expected cost of one choice at every SOC, by hand."""
    nodes = problem.soc_end.shape[2]
    ahead = np.interp(problem.soc_end[0, choice], np.linspace(0.0, 1.0, nodes), problem.arrival_cost)
    total: np.ndarray = (problem.run_cost[0, choice, 0] + problem.member_cost[0, choice] + ahead)[:, members]
    return total.mean(axis=1)


def _joined(cost_of: dict[int, np.ndarray], parts: tuple[tuple[int, int, int], ...]) -> float:
    return sum(float(cost_of[minutes][low:high].sum()) for low, high, minutes in parts) / 101.0


def test_every_day_follows_the_card_but_the_watches_apart() -> None:
    policy = decision_for(make_ensemble(seed=5, days=6.0, members=12)).policy
    track = make_ensemble(seed=5, days=6.0, members=12).track
    of_day = rules_for().changes_of_watch(track)[2]
    ladders = {(*minutes.tolist(), stop) for minutes, stop in zip(policy.minutes, policy.stop_soc, strict=True)}
    assert len(ladders) <= of_day.max() + 1 + MOST_EXCEPTIONS


def test_what_the_card_costs_is_told_by_members_held_out() -> None:
    """Against the plan with a ladder for each watch, the margin held to the card's."""
    planning = make_ensemble(seed=5, days=6.0, members=12)
    by_card = decision_for(planning)
    by_watch = decision_for(planning, wishes=WISHES.model_copy(update={"ladder": "watch"}))
    assert by_watch.card_dearer == 0.0
    assert by_watch.margin == by_card.margin
    assert by_card.card_dearer == pytest.approx(by_card.expected_run_min / by_watch.expected_run_min - 1.0)
    assert -0.05 < by_card.card_dearer < 0.15


# the card of the bill


def by_card(case: Voyage, **wishes: object) -> Voyage:
    passage: Passage = case.passage.model_copy(update={"wishes": case.passage.wishes.model_copy(update=wishes)})
    return replace(case, inputs=replace(case.inputs, passage=passage))


def test_the_card_has_a_line_a_watch_of_the_day_from_midnight_on() -> None:
    case = make_case()
    found = card(case, assemble(case, reserve_kept=KEPT, warnings=()).watches)
    assert found is not None
    assert [line.start for line in found.lines] == sorted(watch.start for watch in case.passage.watches)
    assert found.apart == ()
    policy = case.policy
    for line in found.lines:
        epochs = [
            epoch for epoch in range(case.epochs) if f"{case.ship_time(policy.first_step[epoch]):%H:%M}" == line.start
        ]
        asked = policy.minutes[epochs[-1]]
        for reading in range(101):
            rung = next(rung for rung in line.ladder if reading >= rung.from_percent)
            assert rung.minutes == asked[reading]


def test_a_watch_with_another_ladder_stands_apart() -> None:
    case = make_case()
    minutes = case.policy.minutes.copy()
    odd = case.epochs - 1
    minutes[odd] = np.where(np.arange(101) < 70, 90, 0)
    changed = replace(case, policy=replace(case.policy, minutes=minutes))
    plan = assemble(changed, reserve_kept=KEPT, warnings=())
    assert plan.card is not None
    assert plan.card.apart == (odd,)
    usual = assemble(case, reserve_kept=KEPT, warnings=()).card
    assert usual is not None
    assert [line.ladder for line in plan.card.lines] == [line.ladder for line in usual.lines]


def test_where_each_watch_has_its_own_ladder_there_is_no_card() -> None:
    assert assemble(by_card(make_case(), ladder="watch"), reserve_kept=KEPT, warnings=()).card is None


def test_the_card_leaves_to_the_standing_order_what_is_its_own() -> None:
    case = make_case(run_below_percent=40)  # an hour below 40 %, as the standing order has it up to 39
    order = StandingOrder(39, 45, np.ones(case.steps, dtype=np.bool_))
    held = assemble(replace(case, policy=replace(case.policy, standing=order)), reserve_kept=KEPT, warnings=())
    assert held.card is not None
    assert all(line.ladder == (Rung(0, 0),) for line in held.card.lines)
    under = assemble(
        replace(case, policy=replace(case.policy, standing=replace(order, start_percent=38))),
        reserve_kept=KEPT,
        warnings=(),
    )
    assert under.card is not None
    assert any(line.ladder == (Rung(40, 0), Rung(0, 60)) for line in under.card.lines)


@pytest.mark.parametrize(
    ("quiet", "spans"),
    [
        ((), (("20:00", "00:00"),)),
        ((("22:00", "06:00"),), (("20:00", "22:00"),)),
        ((("18:00", "21:30"),), (("21:30", "00:00"),)),
        ((("21:00", "22:00"),), (("20:00", "21:00"), ("22:00", "00:00"))),
        ((("20:00", "00:00"),), ()),
        ((("00:00", "00:00"),), ()),
    ],
)
def test_a_line_says_when_in_its_watch_the_engine_may_run(
    quiet: tuple[tuple[str, str], ...], spans: tuple[tuple[str, str], ...]
) -> None:
    watches = tuple(
        Watch(role="mate", start=f"{hour:02d}:00", end=f"{(hour + 4) % 24:02d}:00") for hour in range(0, 24, 4)
    )
    passage = make_passage().model_copy(update={"wishes": Wishes(quiet_hours=quiet), "watches": watches})
    case = make_case(passage=passage)
    found = assemble(case, reserve_kept=KEPT, warnings=()).card
    assert found is not None
    line = next(line for line in found.lines if line.start == "20:00")
    assert line.loud == spans


def test_the_amps_of_a_line_are_the_least_of_its_runs() -> None:
    plan = assemble(make_case(run_below_percent=100), reserve_kept=KEPT, warnings=())
    assert plan.card is not None
    for line in plan.card.lines:
        rows = [
            row.charge_current_a
            for row in plan.watches
            if f"{row.start + plan.ship_offset:%H:%M}" == line.start and row.charge_current_a is not None
        ]
        assert line.charge_current_a == (min(rows) if rows else None)
