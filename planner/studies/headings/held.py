"""The hours of a plan with other headings held: what the sun brings, what steering takes, what the bank keeps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from planner.decision.bill.prices import charging_power_w
from planner.domain.arrays import Floats
from planner.domain.glossary import SKY
from planner.domain.policy import Policy
from planner.domain.results.plan import Plan
from planner.simulation.clock import step_seconds
from planner.simulation.harvest.array import Array, build_array
from planner.simulation.harvest.collect import panel_harvest
from planner.simulation.harvest.in_service import left_of
from planner.simulation.harvest.scene import Shading
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.demand import steering_w
from planner.simulation.ledger.simulate import simulate
from planner.simulation.track.steer import fixed_speeds, steer
from planner.studies.causes import cast_on


@dataclass(frozen=True, eq=False)
class Held:
    """What the hours bring on one set of headings; the members' mean weather is the last row of each array.

    Attributes
    ----------
    track : xarray.Dataset
        As sailed.
    shading : Shading
        As cast.
    solar_wh : array (member + 1, time)
        What the controllers could deliver, by step [Wh].
    net_wh : array (member + 1, time)
        The same less what steering draws [Wh].
    panel_wh : array (panel,)
        Of each panel, mean over members [Wh].
    kept_wh : array (member + 1,)
        Put into the bank over the hours with the alternator left out; negative when drawn [Wh].
    made_good_nm : array (time,)
        Along the leg, by step [nm].
    """

    track: xr.Dataset
    shading: Shading
    solar_wh: Floats
    net_wh: Floats
    panel_wh: Floats
    kept_wh: Floats
    made_good_nm: Floats


class HeldSpan:
    """A span of a plan's steps, its sky read once, on which headings are computed.

    Parameters
    ----------
    plan : Plan
        Whose sky, demand and bank are taken.
    first, end : int
        Steps, end exclusive.
    """

    def __init__(self, plan: Plan, first: int, end: int) -> None:
        span = slice(first, end)
        self.plan = plan
        self.step_h = plan.voyage.step_h
        self.track = _cut(plan.track, span)
        self.harvest = _cut(plan.harvest, span)
        self.sky = self.harvest[list(SKY)]
        self._demand_w = _with_mean(plan.demand["demand_power_w"].values[:, span])
        self._planned_steering_w = steering_w(self.track, plan.boat.autopilot)
        self._start_soc = np.append(
            plan.ledger["bank_soc"].values[:, first], plan.planned["bank_soc"].values[0, first]
        )
        self._fixed_kn = fixed_speeds(self.track, plan.route, plan.passage.legs)
        self._driven_h = _driven_h(plan.track, first)
        self._idle = plan.boat.engine.model_copy(update={"available": False})
        self._array: Array = build_array(
            plan.boat.panel,
            plan.boat.controller,
            bus_v=bank_params(plan.boat.bank).absorption_v,
            soiling=plan.boat.soiling,
            rig=plan.boat.rig,
        )

    def hold(self, heading_deg: Floats, tack: Floats) -> Held:
        """Return what these headings bring, (time,) true [degree], on these tacks, (time,)."""
        return self.on_track(self.steered(heading_deg, tack))

    def steered(self, heading_deg: Floats, tack: Floats) -> xr.Dataset:
        """Return the track on these headings, (time,) true [degree], on these tacks, (time,)."""
        return steer(
            self.track,
            heading_deg,
            tack,
            sailing=self.plan.boat.sailing,
            current=self.plan.passage.current,
            fixed_kn=self._fixed_kn,
            driven_h=self._driven_h,
        )

    def lies_in_irons(self, track: xr.Dataset) -> bool:
        """Return whether a track has steps without way, where the plan has some."""
        through, planned = (each["speed_through_water_kn"].values for each in (track, self.track))
        return bool(((through <= 0.0) & (planned > 0.0)).any())

    def made_good_nm(self, track: xr.Dataset) -> Floats:
        """Return what a track makes good along the leg, (time,) [nm]."""
        off_bow = np.radians(track["course_deg"].values - track["leg_bearing_deg"].values)
        made_good: Floats = track["speed_over_ground_kn"].values * np.cos(off_bow) * self.step_h
        return made_good

    def on_track(self, track: xr.Dataset) -> Held:
        """Return what the hours bring on a track of theirs."""
        plan = self.plan
        shading = cast_on(track, self.sky, plan.boat, plan.passage.model)
        sound = panel_harvest(track, self.sky, shading, self._array)
        powers = left_of(sound, panels=plan.boat.panel, controllers=plan.boat.controller)
        offered_w = _with_mean(powers["controller_power_w"])
        solar_w = offered_w.sum(axis=2)
        steering = steering_w(track, plan.boat.autopilot)
        demand_w = self._demand_w - self._planned_steering_w + steering
        return Held(
            track=track,
            shading=shading,
            solar_wh=solar_w * self.step_h,
            net_wh=(solar_w - steering) * self.step_h,
            panel_wh=powers["panel_power_w"].mean(axis=0).sum(axis=0) * self.step_h,
            kept_wh=self._kept_wh(track, offered_w, demand_w),
            made_good_nm=self.made_good_nm(track),
        )

    def _kept_wh(self, track: xr.Dataset, offered_w: Floats, demand_w: Floats) -> Floats:
        member = np.arange(offered_w.shape[0])
        steps = track.sizes["time"]
        rest = Policy.never(steps)
        coords = {"member": member, "time": track["time"].values}
        ledger = simulate(
            xr.Dataset({"controller_power_w": (("member", "time", "controller"), offered_w)}, coords=coords),
            xr.Dataset({"demand_power_w": (("member", "time"), demand_w)}, coords=coords),
            track,
            bank=self.plan.boat.bank,
            engine=self._idle,
            policy=rest,
            start_soc=self._start_soc,
        )
        kept: Floats = ledger["stored_power_w"].values.sum(axis=1) * self.step_h
        return kept


def stored_per_engine_min_wh(plan: Plan) -> float:
    """Return what a minute of engine stores in a half-full bank that carries the mean load [Wh]."""
    return charging_power_w(plan.voyage) / 60.0


def _cut(dataset: xr.Dataset, span: slice) -> xr.Dataset:
    return dataset.isel(time=span).assign_attrs(step_s=step_seconds(dataset))


def _driven_h(track: xr.Dataset, step: int) -> float:
    """Return how long the engine has driven without a break as a step begins [h]."""
    stopped = np.flatnonzero(track["under_engine"].values[:step] == 0)
    since = int(stopped[-1]) + 1 if stopped.size else 0
    return (step - since) * step_seconds(track) / 3600.0


def _with_mean(values: Floats) -> Floats:
    """Return members' values with their mean as one member more, at the end."""
    return np.concatenate([values, values.mean(axis=0, keepdims=True)])
