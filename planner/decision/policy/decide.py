"""Find the policy with the least engine time that keeps the reserve with the asked-for confidence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.decision.policy.by_clock import Rules, allowed_steps, by_clock, possible_steps
from planner.decision.policy.calibrate import (
    MARGIN_STEP,
    folds_of,
    least_margin,
    reserve_kept,
    share_told_as_asked,
)
from planner.decision.policy.card import Card, optimise_card
from planner.decision.policy.choices import choices_of
from planner.decision.policy.full_charge import drift_of, full_charges
from planner.decision.policy.program import GONE, Problem, Solution, optimise, optimise_ladder, visits
from planner.decision.policy.scoring import Scorer, at_once, meters_of
from planner.decision.policy.standing import standing_order
from planner.decision.policy.stops import stop_socs
from planner.decision.policy.table import ChoiceTable, priced, tabulate
from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.domain.policy import Policy, StandingOrder
from planner.domain.results.figures import ReserveKept
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import Course
from planner.simulation.clock import steps_by_clock
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.bus import AtBus, side_by_side
from planner.simulation.ledger.simulate import at_bus

if TYPE_CHECKING:
    import xarray as xr

RUNGS: Final = 4  # most lines that a watch will read at 0300 (common practice)
FAR_WEIGHT: Final = 0.002  # 1, least weight of a SOC in the fit of a ladder, beside the SOCs that are met
MOST_RAISES: Final = 10  # steps by which the margin may rise for the planned course's sake
LEAST_RUN_MIN: Final = 1.0  # min, under which no ladder is told to run less than another


@dataclass(frozen=True, eq=False)
class Decision:
    """The policy and what it promises.

    Attributes
    ----------
    policy : Policy
        The ladders as printed, for as long as any member or the control is at sea; ``by_clock`` lays them along a
        track.
    margin : float
        Margin over the reserve that the policy plans with [0..1].
    reserve_kept : ReserveKept
        Members that stayed above the reserve: by the policies made without them or, where those are fewer, by the
        printed one with its thresholds read up to a percent off; for a forecast of one member, draws of the meter's
        error.
    expected_cost_min : float
        Expected cost from departure: running to charge, starts, depth below reserve and margin, minutes owed on
        arrival [min].
    expected_run_min : float
        Mean running to charge, by the ledger, over the members held out [min].
    card_dearer : float
        Part by which the members held out run the engine longer by a card than by a ladder for each watch of the same
        margin; below 0 where shorter [1].
    """

    policy: Policy
    margin: float
    reserve_kept: ReserveKept
    expected_cost_min: float
    expected_run_min: float
    card_dearer: float


def decide(
    courses: Sequence[Course],
    control: Course,
    *,
    bank: Bank,
    engine: Engine,
    watches: Sequence[Watch],
    wishes: Wishes,
    start_soc: float,
    ship_offset: ShipOffset,
    seed: int,
) -> Decision:
    """Plan with members' energy, calibrate on members left out, and return the ladders.

    Parameters
    ----------
    courses : sequence of Course
        All members along one track, or each along its own, in their order. The decision counts on the charge of the
        engine's driving as these tracks have it.
    control : Course
        That the bill is drawn for: its planned course, in the members' mean weather, keeps the reserve, too.
    bank : Bank
        House bank.
    engine : Engine
        Engine and alternator.
    watches : sequence of Watch
        They fill the day.
    wishes : Wishes
        What the skipper asks.
    start_soc : float
        SOC at departure, as the meter shows it [0..1].
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    seed : int
        Of the folds and the meters' errors.

    Returns
    -------
    Decision
        Where the reserve cannot be kept, the plan goes as far as it can and ``reserve_kept`` says so.
    """
    rules = Rules(engine, watches, wishes, ship_offset)
    first_step, end_step, watch = rules.changes_of_watch(
        max((course.track for course in (*courses, control)), key=lambda track: track.sizes["time"])
    )
    bus = side_by_side([at_bus(course, bank=bank, engine=engine) for course in courses]).padded(int(end_step[-1]))
    params = bank_params(bank)
    choices = choices_of(
        first_step,
        end_step,
        _along(courses, bus, partial(allowed_steps, rules=rules)),
        bus.drives,
        step_s=bus.step_s,
        min_run_min=engine.min_run_min,
        max_run_min=engine.max_run_min,
    )
    table = tabulate(
        choices,
        bus,
        params=params,
        arrival_soc=wishes.arrival_soc,
        full=full_charges(end_step, step_s=bus.step_s, every_days=wishes.full_charge_every_days, params=params),
    )
    standing = standing_order(
        table.half_hour_gain,
        _along(courses, bus, partial(possible_steps, engine=engine)),
        reserve_soc=bank.reserve_soc,
        meter_error=wishes.meter_error,
        min_run_min=engine.min_run_min,
    )
    planner = _Planner(
        table=table,
        wishes=wishes,
        min_run_min=engine.min_run_min,
        reserve_soc=bank.reserve_soc,
        start_soc=start_soc,
        standing=standing,
        watch=watch,
    )
    scorer = Scorer(bus, bank, engine, start_soc, drift_of(bank, wishes))
    on_control = replace(scorer, bus=at_bus(control, bank=bank, engine=engine).mean())
    members = int(bus.steps.size)
    everyone = np.arange(members, dtype=np.int64)
    groups = folds_of(members, seed=seed) if members > 1 else [(everyone, everyone)]
    offsets = meters_of(members, sd=wishes.meter_error, seed=seed)
    asked = share_told_as_asked(wishes.confidence, members if members > 1 else len(offsets))

    planned = cache(lambda margin: planner.plan(planner.problem(margin), everyone))

    def kept_share(margin_steps: int) -> float:
        return float(np.mean(scorer.tried(planner.held_out(groups, margin_steps * MARGIN_STEP), offsets)[0]))

    def kept_as_printed(margin: float) -> bool:
        policy = planned(margin)[0]
        trials = (kept for kept, _ in scorer.as_read(policy, offsets))
        on_course = by_clock(policy, control.track, rules)
        return bool(on_control.score(on_course, np.zeros((1, 1)))[0].all()) and all(
            kept.mean() >= asked for kept in trials
        )

    # a meter that reads high by its error at the asked-for confidence: most of what the margin is for
    guess = wishes.meter_error * NormalDist().inv_cdf(max(wishes.confidence, 0.5))
    margin = 0.0
    if np.any(choices.minutes > 0):
        margin = least_margin(kept_share, asked, guess=guess)
        margin = _as_printed(kept_as_printed, margin)
    # what is reported has meters' errors that the margin was not tuned to
    fresh = meters_of(members, sd=wishes.meter_error, seed=seed + 1)
    kept, run_min = scorer.tried(planner.held_out(groups, margin), fresh)
    own = replace(planner, wishes=wishes.model_copy(update={"ladder": "watch"}))
    own_run_min = scorer.tried(own.held_out(groups, margin), fresh)[1] if wishes.ladder == "card" else run_min
    policy, solution = planned(margin)
    printed = [kept for kept, _ in scorer.as_read(policy, fresh)]
    return Decision(
        policy=policy,
        margin=margin,
        reserve_kept=reserve_kept(kept, *printed, confidence=wishes.confidence),
        expected_cost_min=float(np.interp(start_soc, np.linspace(0.0, 1.0, 101), solution.value[0, :, 0])),
        expected_run_min=float(np.mean(run_min)),
        card_dearer=float(run_min.mean() / max(own_run_min.mean(), LEAST_RUN_MIN)) - 1.0,
    )


def _along(courses: Sequence[Course], bus: AtBus, steps_of: Callable[[xr.Dataset], Bools]) -> Bools:
    """Return flags of the steps of each member's track, (member, time); unset after arrival."""
    rows = [steps_of(course.track) for course in courses]
    padded = np.stack([np.pad(row, (0, bus.drives.shape[1] - row.size)) for row in rows])
    return np.broadcast_to(padded, bus.drives.shape).copy()


def _as_printed(kept: Callable[[float], bool], margin: float) -> float:
    """Return the least margin from one on at which what is printed keeps the reserve, or else that one.

    Its thresholds are read up to a percent off, and it must not be seen to break its own promise on the bill: the
    planned course in mean weather is no member, and a ladder's rungs may part it from all of them.
    """
    raised = (margin + step * MARGIN_STEP for step in range(MOST_RAISES + 1))
    return next((each for each in raised if kept(each)), margin)


@dataclass(frozen=True, eq=False)
class _Planner:
    """Makes a policy for a margin from some of the members."""

    table: ChoiceTable
    wishes: Wishes
    min_run_min: int
    reserve_soc: float
    start_soc: float
    standing: StandingOrder | None
    watch: Ints

    def problem(self, margin: float) -> Problem:
        """Return the problem of all members at a margin."""
        return priced(self.table, floor_soc=self.reserve_soc + margin, start_cost_min=self.wishes.start_cost_min)

    def plan(self, problem: Problem, members: Ints) -> tuple[Policy, Solution]:
        """Return the ladders that these members suggest, and their cost to go."""
        free = optimise(problem, members)
        met = visits(problem, free, members, start_soc=self.start_soc, spread=self.wishes.meter_error)
        weight = FAR_WEIGHT / problem.ages + met
        weight[:, : self.standing_percent] *= FAR_WEIGHT  # no rung is spent where the standing order holds
        solution = optimise_ladder(problem, members, weight, rungs=RUNGS)
        choices = self.table.choices
        if self.wishes.ladder == "card":
            card, solution = optimise_card(problem, members, weight, watch=self.watch, begun=solution)
        else:
            minutes = np.take_along_axis(choices.minutes, solution.choice[:, :, 0], axis=1)
            card = Card(minutes=minutes, of_epoch=np.arange(len(minutes)))
        stops = stop_socs(
            _value_after(solution, problem, met, self.table.full.soc),
            card,
            self.table.half_hour_gain,
            at_sea=(problem.stay[:, members] != GONE).mean(axis=1),
            min_run_min=self.min_run_min,
        )
        stops[stops >= self.table.full.soc] = 1.0  # a meter may round up to full: the amps end the run
        minutes = card.minutes
        if self.standing is not None:
            stops = np.maximum(stops, self.standing.stop_percent / 100.0)
            minutes = self._near_reserve(card)
        followed = card.of_epoch[self._known_epochs(members)]
        policy = Policy(
            first_step=choices.first_step,
            end_step=choices.end_step,
            minutes=minutes[followed],
            stop_soc=stops[followed],
            allowed=choices.allowed,
            standing=self.standing,
        )
        return policy, solution

    def held_out(self, groups: Sequence[tuple[Ints, Ints]], margin: float) -> list[tuple[Policy, Ints]]:
        """Return for each group the policy made of its first members, and those left out."""
        problem = self.problem(margin)
        policies = at_once(lambda group: self.plan(problem, group[0])[0], groups)
        return [(policy, left_out) for policy, (_, left_out) in zip(policies, groups, strict=True)]

    @property
    def standing_percent(self) -> int:
        """Highest reading at which the standing order holds; 0 where there is none [%]."""
        return self.standing.start_percent if self.standing is not None else 0

    def _near_reserve(self, card: Card) -> Ints:
        """Return ladders that ask the same wherever the standing order holds, and skip no open run there."""
        if self.standing is None or not card.minutes.any():
            return card.minutes
        shortest = np.zeros((len(card.minutes), 1), dtype=np.int64)
        np.maximum.at(shortest[:, 0], card.of_epoch, self.table.choices.minutes[:, 1])
        asked = np.maximum(card.minutes[:, [self.standing_percent]], shortest)
        return np.where(np.arange(card.minutes.shape[1]) <= self.standing_percent, asked, card.minutes)

    def _known_epochs(self, members: Ints) -> Ints:
        """Return each epoch, or once all members have arrived the one of the last day with its time of day."""
        choices = self.table.choices
        last = int(np.flatnonzero((self.table.stay[:, members] != GONE).any(axis=1))[-1])
        rows = steps_by_clock(int(choices.end_step[-1]), int(choices.end_step[last]), step_s=choices.step_s)
        known: Ints = np.searchsorted(choices.first_step, rows[choices.first_step], side="right") - 1
        return known


def _value_after(ladder: Solution, problem: Problem, met: Floats, full_soc: float) -> Floats:
    """Return the cost from each SOC at an epoch's end on, (epoch + 1, soc), in the likeliest age: full makes it 0."""
    value = ladder.value[:, :, 0].copy()
    if problem.ages == 1:
        return value
    full = np.linspace(0.0, 1.0, value.shape[1]) >= full_soc
    oldest = problem.ages - 1
    for epoch, tick in enumerate(problem.ticks.tolist()):
        aged = min(int(met[epoch].sum(axis=0).argmax()) + tick, oldest)
        overdue = problem.overdue_cost if tick and aged == oldest else 0.0
        value[epoch + 1] = np.where(
            full, ladder.value[epoch + 1, :, 2 * tick], ladder.value[epoch + 1, :, 2 * aged] + overdue
        )
    return value
