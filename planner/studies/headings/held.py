"""The hours of a plan with other headings held: what the sun brings, what steering takes, what the bank keeps."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.decision.bill.prices import charging_power_w
from planner.domain.arrays import Floats
from planner.domain.glossary import SKY
from planner.domain.policy import Policy
from planner.domain.results.plan import Plan
from planner.domain.voyage import Course
from planner.simulation.clock import step_seconds
from planner.simulation.harvest.array import Array, build_array
from planner.simulation.harvest.collect import panel_harvest
from planner.simulation.harvest.in_service import left_of
from planner.simulation.harvest.scene import Shading
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.bus import AtBus
from planner.simulation.ledger.demand import steering_w
from planner.simulation.ledger.simulate import FLOWS, march
from planner.simulation.ledger.sources import other_offered_w
from planner.simulation.track.steer import fixed_speeds, steer
from planner.studies.causes import cast_on


@dataclass(frozen=True, eq=False)
class Held:
    """What the hours bring on one set of headings; the last row of each array is the planned course in mean weather.

    Attributes
    ----------
    track : xarray.Dataset
        The control's, as sailed.
    shading : Shading
        As cast on it.
    panel_wh : array (panel,)
        Of each panel on the control's track, mean over members [Wh].
    solar_wh : array (member + 1, time)
        What the controllers could deliver, by step [Wh].
    net_wh : array (member + 1, time)
        The same less what steering draws [Wh].
    kept_wh : array (member + 1,)
        Put into the bank over the hours with the alternator left out; negative when drawn [Wh].
    made_good_nm : array (member + 1, time)
        Along the leg, by step [nm].
    driving_h : array (member + 1,)
        Hours in which the engine drives the boat [h].
    """

    track: xr.Dataset
    shading: Shading
    panel_wh: Floats
    solar_wh: Floats
    net_wh: Floats
    kept_wh: Floats
    made_good_nm: Floats
    driving_h: Floats


class Abreast:
    """The same steps of one course or of several, computed at once: their tracks stand end to end along ``time``.

    Either one course of many members or courses of one member each. Arrays by row hold a member a row.

    Parameters
    ----------
    plan : Plan
        Whose boat and passage count.
    courses : sequence of Course
        All under way in these steps.
    span : slice
        Of steps.
    """

    def __init__(self, plan: Plan, courses: Sequence[Course], span: slice) -> None:
        tracks = [course.track.isel(time=span) for course in courses]
        self.steps = span.stop - span.start
        self.track = _end_to_end(tracks).assign_attrs(
            step_s=step_seconds(plan.track),
            pace=np.repeat([float(track.attrs.get("pace", 1.0)) for track in tracks], self.steps),
        )
        harvest = _end_to_end([course.harvest[[*SKY, "soiled_fraction"]].isel(time=span) for course in courses])
        self.sky = harvest[list(SKY)].assign_attrs(step_s=step_seconds(plan.track))
        self._soiled = harvest["soiled_fraction"].values
        self._plan = plan
        asked_w = np.concatenate([course.demand["demand_power_w"].values[:, span] for course in courses])
        self._others_w = asked_w - self.by_row(steering_w(self.track, plan.boat.autopilot))
        self._fixed_kn = fixed_speeds(self.track, plan.route, plan.passage.legs)
        self._driven_h = np.full(self.steps * len(courses), np.nan)
        self._driven_h[:: self.steps] = [_driven_h(course.track, span.start) for course in courses]
        self._array: Array = build_array(
            plan.boat.panel,
            plan.boat.controller,
            bus_v=bank_params(plan.boat.bank).absorption_v,
            soiling=plan.boat.soiling,
            rig=plan.boat.rig,
        )

    def by_row(self, values: npt.NDArray[np.generic]) -> Floats:
        """Return what stands along the tracks, (time of all tracks,), by row, (track, time)."""
        return np.asarray(values, dtype=np.float64).reshape(-1, self.steps)

    def steered(self, heading_deg: Floats, tack: Floats) -> xr.Dataset:
        """Return the tracks on other headings, true [degree], and tacks, both (time of all tracks,)."""
        return steer(
            self.track,
            heading_deg,
            tack,
            sailing=self._plan.boat.sailing,
            current=self._plan.passage.current,
            fixed_kn=self._fixed_kn,
            driven_h=self._driven_h,
        )

    def made_good_nm(self, track: xr.Dataset) -> Floats:
        """Return what tracks make good along their legs, (track, time) [nm]."""
        off_bow = np.radians(track["course_deg"].values - track["leg_bearing_deg"].values)
        return self.by_row(track["speed_over_ground_kn"].values * np.cos(off_bow) * self._plan.voyage.step_h)

    def on_tracks(self, track: xr.Dataset) -> Brought:
        """Return what the steps bring on tracks of theirs."""
        plan = self._plan
        shading = cast_on(track, self.sky, plan.boat, plan.passage.model)
        sound = panel_harvest(track, self.sky, shading, self._array, soiled=self._soiled)
        powers = left_of(sound, panels=plan.boat.panel, controllers=plan.boat.controller)
        offered_w = powers["controller_power_w"].sum(axis=2).reshape(-1, self.steps)
        steering = np.broadcast_to(self.by_row(steering_w(track, plan.boat.autopilot)), offered_w.shape)

        def for_each(values: Floats) -> Floats:
            return np.broadcast_to(values, offered_w.shape)

        return Brought(
            shading=shading,
            panel_wh=powers["panel_power_w"].mean(axis=0).sum(axis=0) * plan.voyage.step_h,
            by_row={
                "offered_w": offered_w,
                "steering_w": steering,
                "demand_w": self._others_w + steering,
                "other_w": for_each(self.by_row(other_offered_w(track))),
                "made_good_nm": for_each(self.made_good_nm(track)),
                "driving": for_each(self.by_row(track["under_engine"].values)),
            },
        )


@dataclass(frozen=True, eq=False)
class Brought:
    """What some steps bring on tracks of theirs.

    Attributes
    ----------
    shading : Shading
        As cast.
    panel_wh : array (panel,)
        Of each panel over all tracks, mean over members [Wh].
    by_row : dict of str to array (row, time)
        Offered by the controllers, drawn by steering, asked for in all, offered by other sources [W], made good [nm],
        and whether the engine drives.
    """

    shading: Shading
    panel_wh: Floats
    by_row: dict[str, Floats]


Order = Callable[[Abreast], tuple[Floats, Floats]]
"""Headings, true [degree], and tacks, (time of all tracks,), for tracks abreast."""


class HeldSpan:
    """A span of a plan's steps, its sky read once, on which headings are computed.

    Every member that sails all of the span stands in its own wind and at its own place where courses are given; else,
    or where none does, all are on the control's track.

    Parameters
    ----------
    plan : Plan
        Whose sky, demand and bank are taken.
    first, end : int
        Steps, end exclusive.
    own : mapping of int to Course
        Members, by position, on their own tracks; empty where all sail the control's.
    """

    def __init__(self, plan: Plan, first: int, end: int, own: Mapping[int, Course]) -> None:
        span = slice(first, end)
        self.plan = plan
        self.step_h = plan.voyage.step_h
        self.control = Abreast(plan, [plan.voyage.course], span)
        soc = plan.ledger["bank_soc"].values[:, first]
        at_sea = [member for member, course in own.items() if course.track.sizes["time"] >= end]
        self.own_tracks = bool(at_sea)
        self._abreast = [self.control]
        if plan.own_tracks is not None and at_sea:
            self._abreast.append(Abreast(plan, [own[member] for member in at_sea], span))
            tracks = plan.own_tracks.tracks
            begins = np.append(0, np.cumsum(tracks["row_size"].values))[at_sea]
            soc = tracks["bank_soc"].values[begins + first]
        self._start_soc = np.append(soc, plan.planned["bank_soc"].values[0, first])
        self.members = int(soc.size)

    @property
    def track(self) -> xr.Dataset:
        """The control's, as planned."""
        return self.control.track

    @property
    def planned(self) -> Held:
        """What the hours bring as planned."""
        return self.on_tracks([each.track for each in self._abreast])

    def steered(self, order: Order) -> list[xr.Dataset]:
        """Return the tracks on ordered headings, the control's first, then those of the members if they have any."""
        return [each.steered(*order(each)) for each in self._abreast]

    def lies_in_irons(self, track: xr.Dataset) -> bool:
        """Return whether the control's track has steps without way, where the plan has some."""
        through, planned = (each["speed_through_water_kn"].values for each in (track, self.track))
        return bool(((through <= 0.0) & (planned > 0.0)).any())

    def on_tracks(self, tracks: Sequence[xr.Dataset]) -> Held:
        """Return what the hours bring on tracks of theirs, as ``steered`` gives them."""
        found = [each.on_tracks(track) for each, track in zip(self._abreast, tracks, strict=True)]
        drawn, members = found[0].by_row, found[-1].by_row
        rows = {name: np.concatenate([members[name], drawn[name].mean(axis=0, keepdims=True)]) for name in drawn}
        return Held(
            track=tracks[0],
            shading=found[0].shading,
            panel_wh=found[0].panel_wh,
            solar_wh=rows["offered_w"] * self.step_h,
            net_wh=(rows["offered_w"] - rows["steering_w"]) * self.step_h,
            kept_wh=self._kept_wh(rows),
            made_good_nm=rows["made_good_nm"],
            driving_h=rows["driving"].sum(axis=1) * self.step_h,
        )

    def _kept_wh(self, rows: dict[str, Floats]) -> Floats:
        shape = rows["offered_w"].shape
        bus = AtBus(
            offered_w=rows["offered_w"],
            alternator_w=np.zeros(shape),
            other_w=rows["other_w"],
            demand_w=rows["demand_w"],
            drives=np.zeros(shape, dtype=np.bool_),
            steps=np.full(shape[0], shape[1], dtype=np.int64),
            step_s=self.plan.voyage.step_s,
        )
        rest = Policy.never(shape[1])
        boat = self.plan.boat
        flows, _, _ = march(
            bus, params=bank_params(boat.bank), engine=boat.engine, policy=rest, start_soc=self._start_soc
        )
        kept: Floats = flows[FLOWS.index("stored_power_w")].sum(axis=1) * self.step_h
        return kept


def stored_per_engine_min_wh(plan: Plan) -> float:
    """Return what a minute of engine stores in a half-full bank that carries the mean load [Wh]."""
    return charging_power_w(plan.voyage) / 60.0


def _end_to_end(datasets: Sequence[xr.Dataset]) -> xr.Dataset:
    return xr.concat(datasets, "time", data_vars="minimal", coords="minimal", compat="override", join="override")


def _driven_h(track: xr.Dataset, step: int) -> float:
    """Return how long the engine has driven without a break as a step begins [h]."""
    stopped = np.flatnonzero(track["under_engine"].values[:step] == 0)
    since = int(stopped[-1]) + 1 if stopped.size else 0
    return (step - since) * step_seconds(track) / 3600.0
