"""One failure: how the boat fares as she is, and with one load after the other shed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby
from typing import Final

import numpy as np

from planner.decision.bill.dead.engine_dead import NEVER, poor
from planner.decision.bill.summary import spread
from planner.decision.policy.calibrate import meter_offsets
from planner.decision.policy.full_charge import drift_of
from planner.decision.policy.scoring import SOC_SLACK
from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.domain.policy import Policy
from planner.domain.results.bill import Lasts
from planner.domain.results.failures import ShedStep
from planner.domain.results.figures import Count, Spread
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.voyage import Course
from planner.physics.bank import MeterDrift
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.bus import AtBus, side_by_side
from planner.simulation.ledger.demand import STEERING
from planner.simulation.ledger.simulate import FLOWS, HOURS_PER_DAY, at_bus, march

DARK_W: Final = 1e-6  # W not served that is no rounding


@dataclass(frozen=True, eq=False)
class Failing:
    """Members with a failure, each on the track that it sails.

    Attributes
    ----------
    inputs : Inputs
        Changed by the failure.
    courses : sequence of Course
        Of all members on one track, or one a member.
    policy : Policy
        The ladders in hand on these tracks.
    """

    inputs: Inputs
    courses: Sequence[Course]
    policy: Policy

    @cached_property
    def bus(self) -> AtBus:
        """What meets at the bus, on the steps of the policy."""
        boat = self.inputs.boat
        along = side_by_side([at_bus(course, bank=boat.bank, engine=boat.engine) for course in self.courses])
        return along.padded(self.policy.allowed.shape[-1])

    @cached_property
    def drift(self) -> MeterDrift:
        """How the meter drifts."""
        return drift_of(self.inputs.boat.bank, self.inputs.passage.wishes)


def sun_wh_per_day(failing: Failing) -> Spread:
    """Return what the sun offers the bus over a mean day at sea [Wh/d]; ``planned`` is the members' mean."""
    bus = failing.bus
    return _spread(_per_day(bus, bus.offered_w))


def shed_steps(failing: Failing) -> tuple[tuple[ShedStep, ...], bool]:
    """Return what shedding wins, up to where the reserve is kept as surely as asked for and all that is on is lit.

    Every member's meter errs by its own draw, as when a policy is scored. Loads are shed from the start on, those of
    one shedding order together, and the autopilot's last; no vital load is. What they drew is taken off the demand of
    the plan: the loads that can wait stay where they are.

    Parameters
    ----------
    failing : Failing

    Returns
    -------
    steps : tuple of ShedStep
        The first sheds nothing.
    enough : bool
        Whether the last of them keeps the reserve so, and all lit.
    """
    wishes = failing.inputs.passage.wishes
    bus = failing.bus
    steps: list[ShedStep] = []
    demand_w, saved_w = bus.demand_w, np.zeros_like(bus.demand_w)
    enough = False
    for loads in ((), *_turns(failing)):
        saves_w = _draw_w(failing, loads, bus.demand_w.shape)
        saved_w = saved_w + saves_w
        bus = replace(bus, demand_w=np.maximum(demand_w - saved_w, 0.0))
        step = _fares(failing, bus)
        before = steps[-1].lasts if steps else step.lasts
        steps.append(
            replace(
                step,
                loads=loads,
                saves_wh_per_day=float(_per_day(bus, saves_w).mean()),
                gained_h=_gained_h(before, step.lasts, float(bus.steps.max()) * bus.step_s / SECONDS_PER_HOUR),
            )
        )
        enough = step.kept.k >= round(wishes.confidence * step.kept.n, 9) and step.lit.k == step.lit.n
        if enough:
            break
    return tuple(steps), enough


def _turns(failing: Failing) -> Iterator[tuple[str, ...]]:
    """Yield the loads to shed in their turn; last the autopilot, where it draws."""
    for _, loads in groupby(_in_order(failing.inputs.boat), key=lambda load: load[0]):
        yield tuple(name for _, name in loads)
    if any(_items_w(course, (STEERING,)).any() for course in failing.courses):
        yield (STEERING,)


def _in_order(boat: Boat) -> list[tuple[int, str]]:
    may = [load for load in boat.load if load.shed_order is not None and not load.is_vital]
    return sorted(((load.shed_order or 0, load.name) for load in may), key=lambda turn: turn[0])


def _items_w(course: Course, loads: Sequence[str]) -> Floats:
    """Return what some loads draw along a course, (time,) [W]."""
    items = course.demand["load_item_power_w"].transpose("time", "load")
    drawn: Floats = items.values[:, np.isin(items["load"].values, list(loads))].sum(axis=1)
    return drawn


def _draw_w(failing: Failing, loads: Sequence[str], shape: tuple[int, ...]) -> Floats:
    """Return what some loads draw, (member, time) [W]."""
    rows = [_items_w(course, loads) for course in failing.courses]
    padded = np.stack([np.pad(row, (0, shape[1] - row.size)) for row in rows])
    return np.broadcast_to(padded, shape)


def _fares(failing: Failing, bus: AtBus) -> ShedStep:
    """Return how the members fare with what stays on; what is shed is left to the caller.

    What she begins with is read on the meter, too: the truth lies beside it by the meter's error.
    """
    passage, boat = failing.inputs.passage, failing.inputs.boat
    members = int(bus.steps.size)
    off = meter_offsets(members, 1, sd=passage.wishes.meter_error, seed=passage.model.seed + 1)[0]
    flows, soc, engine_on = march(
        bus,
        params=bank_params(boat.bank),
        engine=boat.engine,
        policy=failing.policy,
        start_soc=np.clip(passage.start.state_of_charge - off, 0.0, 1.0),
        meter_offset=off,
        drift=failing.drift,
    )
    under = soc[:, 1:] < boat.bank.reserve_soc - SOC_SLACK
    dark = flows[FLOWS.index("unserved_power_w")] > DARK_W
    step_h = bus.step_s / SECONDS_PER_HOUR
    days = bus.steps * step_h / HOURS_PER_DAY
    there = np.concatenate(
        [
            np.full(course.harvest.sizes["member"], bool(course.track.attrs.get("arrival", True)))
            for course in failing.courses
        ]
    )
    charging_h = ((engine_on > 0) & ~bus.drives).sum(axis=1) * step_h
    return ShedStep(
        loads=(),
        saves_wh_per_day=0.0,
        draws_wh_per_day=float(_per_day(bus, bus.demand_w).mean()),
        kept=Count(int((~under.any(axis=1)).sum()), members),
        lit=Count(int((~dark.any(axis=1) & there).sum()), members),
        lasts=Lasts(_poor_h(under, step_h), _poor_h(dark, step_h)),
        gained_h=0.0,
        lit_h_per_day=float(((~dark & bus.at_sea).sum(axis=1) * step_h / days).mean()),
        charging_h=_spread(charging_h),
    )


def _poor_h(flags: Bools, step_h: float) -> float | None:
    """Return after how long a flag, (member, time), is first set in the poor tenth of the members [h]."""
    first: Ints = np.where(flags.any(axis=1), flags.argmax(axis=1), NEVER)
    step = poor(first)
    return None if step == NEVER else step * step_h


def _gained_h(before: Lasts, after: Lasts, whole_h: float) -> float:
    """Return by how much later it goes dark; where it does not, by how much later the reserve is reached [h]."""
    if before.lights_out_h is not None:
        return (whole_h if after.lights_out_h is None else after.lights_out_h) - before.lights_out_h
    if before.reserve_h is not None:
        return (whole_h if after.reserve_h is None else after.reserve_h) - before.reserve_h
    return 0.0


def _per_day(bus: AtBus, power_w: Floats) -> Floats:
    """Return the energy of a mean day at sea, (member,) [Wh/d]."""
    at_sea: Floats = np.where(bus.at_sea, power_w, 0.0).sum(axis=1) / bus.steps * HOURS_PER_DAY
    return at_sea


def _spread(values: Floats) -> Spread:
    return spread(values.mean(), values)
