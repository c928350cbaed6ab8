"""A computed passage: what it was computed from, what the stages found, and the ship's clock along it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage
from planner.domain.policy import Policy
from planner.domain.ship_clock import ShipOffset
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.utc import from_numpy

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, eq=False)
class Course:
    """One track, and what members of the weather bring along it.

    Attributes
    ----------
    track, harvest, demand : xarray.Dataset
        As the glossary has them: of one member on a track of its own, or of all on one.
    """

    track: xr.Dataset
    harvest: xr.Dataset
    demand: xr.Dataset


@dataclass(frozen=True, eq=False)
class Voyage:
    """One computed passage.

    Attributes
    ----------
    inputs : Inputs
    ship_offset : timedelta or ShipClock
        Ship's time less UTC, as it changes under way.
    track, harvest, demand, ledger, planned : xarray.Dataset
        As the glossary has them; ``planned`` is a ledger of one member, on the members' mean weather.
    policy : Policy
        The ladders that the ledgers followed.
    roles : tuple of str (epoch,)
        Who stands each watch.
    """

    inputs: Inputs
    ship_offset: ShipOffset
    track: xr.Dataset
    harvest: xr.Dataset
    demand: xr.Dataset
    ledger: xr.Dataset
    planned: xr.Dataset
    policy: Policy
    roles: tuple[str, ...]

    @property
    def course(self) -> Course:
        """The track with what all members bring along it."""
        return Course(self.track, self.harvest, self.demand)

    @property
    def passage(self) -> Passage:
        """The passage that was computed."""
        return self.inputs.passage

    @property
    def boat(self) -> Boat:
        """The boat that sails it."""
        return self.inputs.boat

    @cached_property
    def steps(self) -> int:
        """Number of inner steps."""
        return int(self.track.sizes["time"])

    @property
    def step_h(self) -> float:
        """Length of a step [h]."""
        return self.step_s / SECONDS_PER_HOUR

    @property
    def step_s(self) -> float:
        """Length of a step [s]."""
        return 60.0 * self.passage.model.step_min

    @property
    def epochs(self) -> int:
        """Number of watches to be stood."""
        return int(self.policy.first_step.size)

    @cached_property
    def under_engine(self) -> Bools:
        """Steps in which the engine drives the boat, (time,)."""
        return np.asarray(self.track["under_engine"].values, dtype=bool)

    @cached_property
    def sun_up(self) -> Bools:
        """Steps in which the sun stands above the horizon, (time,)."""
        return np.asarray(self.harvest["sun_elevation_deg"].values > 0.0)

    @cached_property
    def planned_charging(self) -> Bools:
        """Steps of a charging run on the planned course, (time,)."""
        return np.asarray(self.planned["engine_on"].values[0], dtype=bool) & ~self.under_engine

    @cached_property
    def planned_soc(self) -> Floats:
        """SOC on the planned course at the start of each step and at arrival, (time + 1,) [0..1]."""
        return _only_member(soc_course(self.planned))

    @cached_property
    def planned_solar_w(self) -> Floats:
        """What the sun offers on the planned course, taken or not, (time,) [W]."""
        return _only_member(offered_solar_w(self.planned))

    @cached_property
    def planned_demand_w(self) -> Floats:
        """What the loads ask for on the planned course, served or not, (time,) [W]."""
        return _only_member(asked_demand_w(self.planned))

    def epoch_steps(self, epoch: int) -> slice:
        """Return the steps of a watch."""
        return slice(int(self.policy.first_step[epoch]), int(self.policy.end_step[epoch]))

    def epoch_of(self, step: int) -> int:
        """Return the watch in which a step lies."""
        return int(np.searchsorted(self.policy.first_step, step, side="right")) - 1

    @cached_property
    def _first_moment(self) -> datetime:
        return from_numpy(self.track["time"].values[0])

    def at(self, step: int) -> datetime:
        """Return the start of a step; of the step after the last, arrival [UTC]."""
        return self._first_moment + timedelta(seconds=self.step_s * int(step))

    def ship_time(self, step: int) -> datetime:
        """Return the start of a step as the ship's clock shows it."""
        return self.at(step) + self.ship_offset

    def next_step_where(self, wanted: Bools, first: int) -> int:
        """Return the first step from ``first`` on where a flag, (time,), is set; the number of steps if none is."""
        found = np.flatnonzero(wanted[first:])
        return first + int(found[0]) if found.size else self.steps


def soc_course(ledger: xr.Dataset) -> Floats:
    """Return the SOC at the start of each step and after the last, (member, time + 1) [0..1]."""
    return np.concatenate([ledger["bank_soc"].values, ledger["bank_soc_end"].values[:, None]], axis=1)


def offered_solar_w(ledger: xr.Dataset) -> Floats:
    """Return the sun's offer at the bus, taken and curtailed, (member, time) [W]."""
    return np.asarray(ledger["solar_power_w"].values + ledger["curtailed_power_w"].values, dtype=float)


def asked_demand_w(ledger: xr.Dataset) -> Floats:
    """Return what the loads ask for, served and not, (member, time) [W]."""
    return np.asarray(ledger["load_power_w"].values + ledger["unserved_power_w"].values, dtype=float)


def _only_member(values: Floats) -> Floats:
    only: Floats = values[0]
    return only
