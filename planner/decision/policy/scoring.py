"""Ladders scored: who keeps the reserve by them, on which meters, and how long the engine runs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np

from planner.decision.policy.calibrate import meter_offsets, reserve_kept
from planner.decision.policy.full_charge import drift_of
from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.passage import Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.domain.policy import Policy
from planner.domain.results.figures import ReserveKept
from planner.domain.voyage import Course
from planner.physics.bank import MeterDrift
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.bus import AtBus, side_by_side
from planner.simulation.ledger.simulate import at_bus, march

Item = TypeVar("Item")
Result = TypeVar("Result")

DRAWS: Final = 3  # least meter errors for each member while the margin is sought
TRIALS: Final = 150  # least runs by which a margin is judged: few members are tried with more meters
LONE_DRAWS: Final = 20  # the same for a forecast of one member
JITTERS: Final = (0.01, 0.0, -0.01)  # 1, a printed threshold is read one percent off either way; mostly worst first
SOC_SLACK: Final = 1e-9  # 1, rounding that is no breach


def try_out(
    policy: Policy,
    courses: Sequence[Course],
    *,
    bank: Bank,
    engine: Engine,
    wishes: Wishes,
    start_soc: float,
    seed: int,
) -> tuple[ReserveKept, float]:
    """Return who keeps the reserve by ladders that are given, each with many meters, and the running to charge.

    Parameters
    ----------
    policy : Policy
        As ``decide`` returns it for these courses, or with other ladders.
    courses, bank, engine, wishes, start_soc, seed
        As for ``decide``.

    Returns
    -------
    ReserveKept, float
        By thresholds read up to a percent off, the least; mean over members and meters [min].
    """
    bus = side_by_side([at_bus(course, bank=bank, engine=engine) for course in courses])
    scorer = Scorer(bus.padded(int(policy.end_step[-1])), bank, engine, start_soc, drift_of(bank, wishes))
    trials = list(scorer.as_read(policy, meters_of(int(bus.steps.size), sd=wishes.meter_error, seed=seed)))
    kept = reserve_kept(*(each for each, _ in trials), confidence=wishes.confidence)
    return kept, float(np.mean([run_min for _, run_min in trials]))


def meters_of(members: int, *, sd: float, seed: int) -> Floats:
    """Return enough errors of meters to judge ladders by, (draw, member); arguments as for ``meter_offsets``."""
    draws = max(DRAWS, math.ceil(TRIALS / members)) if members > 1 else LONE_DRAWS
    return meter_offsets(members, draws, sd=sd, seed=seed)


def at_once(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """Return what comes of each item, worked at on all cores: the kernels let go of the interpreter's lock."""
    with ThreadPoolExecutor() as pool:
        return list(pool.map(work, items))


@dataclass(frozen=True, eq=False)
class Scorer:
    """Runs the full ledger under a policy on chosen members with chosen meters."""

    bus: AtBus
    bank: Bank
    engine: Engine
    start_soc: float
    drift: MeterDrift

    def as_read(self, policy: Policy, offsets: Floats) -> Iterator[tuple[Bools, Floats]]:
        """Give what ``score`` does of all members, thresholds read up to a percent off: mostly the worst first."""
        return (self.score(policy, offsets + jitter) for jitter in JITTERS)

    def score(self, policy: Policy, offsets: Floats, members: Ints | None = None) -> tuple[Bools, Floats]:
        """Return whether each kept the reserve, and its running to charge [min], arrays (draw, member).

        What she leaves with is read on the meter, too: the truth lies beside it by the meter's error.
        """
        draws = offsets.shape[0]
        rows = np.tile(np.arange(self.bus.steps.size) if members is None else members, draws)
        bus = self.bus.rows(rows)
        _, soc, engine_on = march(
            bus,
            params=bank_params(self.bank),
            engine=self.engine,
            policy=policy.rows(rows),
            start_soc=np.clip(self.start_soc - offsets.ravel(), 0.0, 1.0),
            meter_offset=offsets.ravel(),
            drift=self.drift,
        )
        run_min = (engine_on.astype(np.bool_) & ~bus.drives).sum(axis=1) * bus.step_s / 60.0
        kept = soc.min(axis=1) >= self.bank.reserve_soc - SOC_SLACK
        return kept.reshape(draws, -1), run_min.reshape(draws, -1)

    def tried(self, policies: Sequence[tuple[Policy, Ints]], offsets: Floats) -> tuple[Bools, Floats]:
        """Return the same for every member under the policy made without it, (draw, member)."""
        kept, run_min = np.zeros(offsets.shape, dtype=np.bool_), np.zeros(offsets.shape)

        def scored(trial: tuple[Policy, Ints]) -> None:
            policy, left_out = trial
            kept[:, left_out], run_min[:, left_out] = self.score(policy, offsets[:, left_out], left_out)

        at_once(scored, policies)
        return kept, run_min
