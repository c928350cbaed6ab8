"""Find the policy with the least engine time that keeps the reserve with the asked-for confidence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.decision.policy.calibrate import MARGIN_STEP, folds_of, least_margin, meter_offsets, reserve_kept
from planner.decision.policy.choices import choices_of
from planner.decision.policy.full_charge import full_charges
from planner.decision.policy.program import Problem, Solution, optimise, optimise_ladder, visits
from planner.decision.policy.stops import stop_socs
from planner.decision.policy.table import ChoiceTable, priced, tabulate
from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.domain.policy import Policy, Trial
from planner.domain.results.figures import ReserveKept
from planner.domain.ship_clock import ShipOffset
from planner.simulation.clock import changes_of_watch, in_spans, step_seconds
from planner.simulation.ledger.simulate import alternator_limit_w, bank_params, members_mean, simulate
from planner.simulation.ledger.sources import other_offered_w

if TYPE_CHECKING:
    import xarray as xr


RUNGS: Final = 4  # most lines that a watch will read at 0300 (common practice)
DRAWS: Final = 3  # least meter errors for each member while the margin is sought
TRIALS: Final = 150  # least runs by which a margin is judged: few members are tried with more meters
LONE_DRAWS: Final = 20  # the same for a forecast of one member
FAR_WEIGHT: Final = 0.002  # 1, least weight of a SOC in the fit of a ladder, beside the SOCs that are met
MOST_RAISES: Final = 10  # steps by which the margin may rise for the planned course's sake
SOC_SLACK: Final = 1e-9  # 1, rounding that is no breach


@dataclass(frozen=True, eq=False)
class Decision:
    """The policy and what it promises.

    Attributes
    ----------
    policy : Policy
        The ladders as printed, which is what was scored.
    watch_index : int array (epoch,)
        Which of the passage's watches stands each epoch.
    margin : float
        Margin over the reserve that the policy plans with [0..1].
    reserve_kept : ReserveKept
        Members held out that stayed above the reserve; for a forecast of one member, draws of the meter's error.
    trials : tuple of Trial
        The policies and meters with which that was found.
    expected_cost_min : float
        Expected cost from departure: running to charge, starts, depth below reserve and margin, minutes owed on
        arrival [min].
    expected_run_min : float
        Mean running to charge, by the ledger, over the members held out [min].
    """

    policy: Policy
    watch_index: Ints
    margin: float
    reserve_kept: ReserveKept
    trials: tuple[Trial, ...]
    expected_cost_min: float
    expected_run_min: float


def decide(
    harvest: xr.Dataset,
    demand: xr.Dataset,
    track: xr.Dataset,
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
    harvest, demand, track : xarray.Dataset
        As the stages hand them on. The decision counts on the charge of the engine's driving as the track has it;
        where that is the wind's doubt, give it the track ``under_sail``.
    bank : Bank
        House bank.
    engine : Engine
        Engine and alternator.
    watches : sequence of Watch
        They fill the day.
    wishes : Wishes
        What the skipper asks.
    start_soc : float
        SOC at departure [0..1].
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    seed : int
        Of the folds and the meters' errors.

    Returns
    -------
    Decision
        Where the reserve cannot be kept, the plan goes as far as it can and ``reserve_kept`` says so.
    """
    first_step, end_step, watch_index = changes_of_watch(track["time"].values, watches, ship_offset)
    choices = choices_of(
        first_step,
        end_step,
        permitted_steps(track, engine=engine, wishes=wishes, ship_offset=ship_offset),
        track["under_engine"].values.astype(np.bool_),
        step_s=step_seconds(harvest),
        min_run_min=engine.min_run_min,
        max_run_min=engine.max_run_min,
    )
    table = tabulate(
        choices,
        solar_w=harvest["controller_power_w"].values.sum(axis=2) + other_offered_w(track),
        demand_w=demand["demand_power_w"].values,
        alternator_w=alternator_limit_w(track, engine, bank),
        params=bank_params(bank),
        arrival_soc=wishes.arrival_soc,
        full=full_charges(
            end_step, step_s=step_seconds(harvest), every_days=wishes.full_charge_every_days, params=bank_params(bank)
        ),
    )
    planner = _Planner(
        table=table, wishes=wishes, min_run_min=engine.min_run_min, reserve_soc=bank.reserve_soc, start_soc=start_soc
    )
    scorer = Scorer(harvest=harvest, demand=demand, track=track, bank=bank, engine=engine, start_soc=start_soc)
    members = int(harvest.sizes["member"])
    everyone = np.arange(members, dtype=np.int64)
    groups = folds_of(members, seed=seed) if members > 1 else [(everyone, everyone)]
    draws = max(DRAWS, math.ceil(TRIALS / members)) if members > 1 else LONE_DRAWS
    offsets = meter_offsets(members, draws, sd=wishes.meter_error, seed=seed)

    def kept_share(margin: float) -> float:
        return float(np.mean(tried(scorer, _trials(planner, groups, offsets, margin))[0]))

    can_act = bool(np.any(choices.minutes > 0))
    # a meter that reads high by its error at the asked-for confidence: most of what the margin is for
    guess = wishes.meter_error * NormalDist().inv_cdf(max(wishes.confidence, 0.5))
    margin = least_margin(kept_share, confidence=wishes.confidence, guess=guess) if can_act else 0.0
    if can_act:
        margin = _with_mean_weather(planner, _mean_scorer(scorer), everyone, margin)
    # what is reported has meters' errors that the margin was not tuned to
    fresh = meter_offsets(members, 1 if members > 1 else LONE_DRAWS, sd=wishes.meter_error, seed=seed + 1)
    trials = _trials(planner, groups, fresh, margin)
    kept, run_min = tried(scorer, trials)
    policy, solution = planner.plan(planner.problem(margin), everyone)
    return Decision(
        policy=policy,
        watch_index=watch_index,
        margin=margin,
        reserve_kept=reserve_kept(int(kept.sum()), kept.size, confidence=wishes.confidence),
        trials=trials,
        expected_cost_min=float(np.interp(start_soc, np.linspace(0.0, 1.0, 101), solution.value[0, :, 0])),
        expected_run_min=float(np.mean(run_min)),
    )


def _mean_scorer(scorer: Scorer) -> Scorer:
    """Return the scorer of the planned course: the members' mean weather alone."""
    harvest, demand = members_mean(scorer.harvest[["controller_power_w"]], scorer.demand[["demand_power_w"]])
    return replace(scorer, harvest=harvest, demand=demand)


def _with_mean_weather(planner: _Planner, scorer: Scorer, everyone: Ints, margin: float) -> float:
    """Return the least margin from one on at which the planned course keeps the reserve, too, or else that one.

    A course in mean weather is no member, and a ladder's rungs may part it from all of them; a bill that is drawn
    for it must not be seen to break its own promise.
    """
    only = np.zeros(1, dtype=np.int64)
    for step in range(MOST_RAISES + 1):
        raised = margin + step * MARGIN_STEP
        policy, _ = planner.plan(planner.problem(raised), everyone)
        if scorer.score(policy, only, np.zeros((1, 1)))[0].all():
            return raised
    return margin


def permitted_steps(track: xr.Dataset, *, engine: Engine, wishes: Wishes, ship_offset: ShipOffset) -> Bools:
    """Return the steps in which nothing forbids charging: engine in order, no quiet hours, heel within its limit.

    Parameters
    ----------
    track : xarray.Dataset
        With ``heel_deg``.
    engine, wishes, ship_offset
        As for ``decide``.

    Returns
    -------
    bool array (time,)
        Steps under engine may be among them.
    """
    quiet = in_spans(track["time"].values, wishes.quiet_hours, ship_offset)
    upright: Bools = np.abs(track["heel_deg"].values) <= engine.max_heel_deg
    return upright & ~quiet & engine.available


@dataclass(frozen=True, eq=False)
class _Planner:
    """Makes a policy for a margin from some of the members."""

    table: ChoiceTable
    wishes: Wishes
    min_run_min: int
    reserve_soc: float
    start_soc: float

    def problem(self, margin: float) -> Problem:
        """Return the problem of all members at a margin."""
        return priced(self.table, floor_soc=self.reserve_soc + margin, start_cost_min=self.wishes.start_cost_min)

    def plan(self, problem: Problem, members: Ints) -> tuple[Policy, Solution]:
        """Return the ladders that these members suggest, and their cost to go."""
        free = optimise(problem, members)
        met = visits(problem, free, members, start_soc=self.start_soc, spread=self.wishes.meter_error)
        weight = FAR_WEIGHT / problem.ages + met
        ladder = optimise_ladder(problem, members, weight, rungs=RUNGS)
        choices = self.table.choices
        minutes = np.take_along_axis(choices.printed_minutes, ladder.choice[:, :, 0], axis=1)
        policy = Policy(
            first_step=choices.first_step,
            end_step=choices.end_step,
            minutes=minutes,
            stop_soc=stop_socs(
                _value_after(ladder, problem, met, self.table.full.soc),
                minutes,
                self.table.half_hour_gain,
                min_run_min=self.min_run_min,
            ),
            allowed=choices.allowed,
        )
        return policy, ladder


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


@dataclass(frozen=True, eq=False)
class Scorer:
    """Runs the full ledger under a policy on chosen members with chosen meters.

    Attributes
    ----------
    harvest, demand, track : xarray.Dataset
        As the glossary has them, of the same members.
    bank, engine
        From the boat file.
    start_soc : float
        SOC at departure [0..1].
    """

    harvest: xr.Dataset
    demand: xr.Dataset
    track: xr.Dataset
    bank: Bank
    engine: Engine
    start_soc: float

    def score(self, policy: Policy, members: Ints, offsets: Floats) -> tuple[Bools, Floats]:
        """Return whether each kept the reserve, and its running to charge [min], arrays (draw, member)."""
        draws = offsets.shape[0]
        rows = np.tile(members, draws)
        ledger = simulate(
            self.harvest[["controller_power_w"]].isel(member=rows),
            self.demand[["demand_power_w"]].isel(member=rows),
            self.track,
            bank=self.bank,
            engine=self.engine,
            policy=policy,
            start_soc=self.start_soc,
            meter_offset=offsets.ravel(),
        )
        lowest = np.minimum(ledger["bank_soc"].values.min(axis=1), ledger["bank_soc_end"].values)
        charging = ledger["engine_on"].values.astype(np.bool_) & ~self.track["under_engine"].values.astype(np.bool_)
        run_min = charging.sum(axis=1) * step_seconds(self.harvest) / 60.0
        kept = lowest >= self.bank.reserve_soc - SOC_SLACK
        return kept.reshape(draws, -1), run_min.reshape(draws, -1)


def _trials(planner: _Planner, groups: list[tuple[Ints, Ints]], offsets: Floats, margin: float) -> tuple[Trial, ...]:
    """Return for each group the policy made of its first members, to be tried on those left out."""
    problem = planner.problem(margin)
    return tuple(
        Trial(planner.plan(problem, planned_on)[0], left_out, offsets[:, left_out]) for planned_on, left_out in groups
    )


def tried(scorer: Scorer, trials: Sequence[Trial]) -> tuple[Bools, Floats]:
    """Return whether each member kept the reserve under the policy made without it, and its running to charge.

    Parameters
    ----------
    scorer : Scorer
        Of all members.
    trials : sequence of Trial
        Together they leave out every member once.

    Returns
    -------
    kept, run_min : bool array, float array (draw, member)
        The latter [min].
    """
    shape = trials[0].meter_offset.shape[0], sum(trial.members.size for trial in trials)
    kept = np.zeros(shape, dtype=np.bool_)
    run_min = np.zeros(shape)
    for trial in trials:
        outcome = scorer.score(trial.policy, trial.members, trial.meter_offset)
        kept[:, trial.members], run_min[:, trial.members] = outcome
    return kept, run_min
