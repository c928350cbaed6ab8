"""A failure card of our own figures, for tests of what presents it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from plan_fixture import make_plan

from planner.domain.inputs.failure import Failure
from planner.domain.results.bill import Lasts
from planner.domain.results.failures import Diversion, FailureCard, FailureLine, ShedStep
from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note
from planner.domain.results.plan import Plan

NO_RUN = Spread(0.0, 0.0, 0.0, 0.0)
SUN = Spread(1541.0, 1438.0, 1530.0, 1660.0)


def step(
    *loads: str,
    saves: float = 0.0,
    draws: float = 2000.0,
    kept: int = 5,
    lit: int = 5,
    lasts: Lasts = Lasts(None, None),  # noqa: B008 - frozen
    gained_h: float = 0.0,
    lit_h: float = 24.0,
    charging: Spread = NO_RUN,
) -> ShedStep:
    return ShedStep(loads, saves, draws, Count(kept, 5), Count(lit, 5), lasts, gained_h, lit_h, charging)


DEAD = (
    step(kept=0, lit=0, lasts=Lasts(39.0, 59.0)),
    step("watermaker", saves=455.0, draws=1545.0, kept=0, lit=0, lasts=Lasts(47.0, 69.0), gained_h=10.0),
    step("fridge", saves=480.0, draws=1065.0, kept=2, lasts=Lasts(80.0, None), gained_h=99.0),
    step("radar", saves=102.0, draws=963.0, gained_h=88.0),
)
LINES = (
    FailureLine(Failure("engine"), Note("first_engine"), Note("assumed_engine"), SUN, DEAD, True, "control", 2.8),
    FailureLine(
        Failure("alternator"), Note("first_alternator"), Note("assumed_alternator"), SUN, DEAD[:2], False, "own", 0.0
    ),
    FailureLine(
        Failure("controller", ("arch",)),
        Note("first_controller"),
        Note("assumed_controller", {"panels": ["arch port", "arch starboard"]}),
        SUN,
        (step(charging=Spread(15.6, 12.0, 15.0, 18.0)),),
        True,
        "own",
        0.0,
    ),
    FailureLine(
        Failure("bank"),
        Note("first_bank_managed"),
        Note("assumed_bank"),
        SUN,
        (
            step(lit=0, lasts=Lasts(None, 0.0), lit_h=5.1),
            step("watermaker", saves=455.0, lit=0, lasts=Lasts(None, 0.0), lit_h=6.0),
            step("steering", saves=827.0, draws=388.0, lit=0, lasts=Lasts(None, 7.0), gained_h=7.0, lit_h=6.0),
        ),
        False,
        "own",
        0.0,
    ),
)
NOWHERE = FailureLine(
    Failure("engine"), Note("first_engine"), Note("assumed_engine"), NO_RUN, (), False, "control", 0.0
)


def with_failures(plan: Plan, *lines: FailureLine) -> Plan:
    """Return a plan with a failure card, and a refuge that is nearer on the first two days."""
    diversions = tuple(
        Diversion(
            day, plan.passage.departure + timedelta(days=day - 1), 1100.0 - 149.0 * day, "the haven", 210.0 * day
        )
        for day in range(1, 5)
    )
    kept = replace(plan.reserve_kept, wind="own")
    return replace(plan, reserve_kept=kept, failures=FailureCard((), lines or LINES, diversions))


def plan_with_failures() -> Plan:
    return with_failures(make_plan())
