"""Whether another heading, or the other tack, costs or wins power, and whether it is worth the miles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from functools import partial
from math import ceil
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.results.figures import Count
from planner.domain.results.plan import Plan
from planner.domain.results.studies import MIN_PER_H, HalfDay, HeadingFan, HeadingOption, PanelShift
from planner.domain.utc import from_numpy, to_numpy
from planner.domain.voyage import Course
from planner.studies.causes import LightParts, cause, light_parts
from planner.studies.figures import spread_of
from planner.studies.headings.held import Abreast, Held, HeldSpan, Order, stored_per_engine_min_wh

COMING_UP_DEG: Final = 20.0  # degree, the turn toward the wind that the answer speaks of
EARLY: Final = timedelta(days=2)  # in which a watch is looked for
ALL_ON_CONTROL: Final[Mapping[int, Course]] = MappingProxyType({})
MOST_MEMBERS: Final = 11  # where a fan is not the whole answer: all of 51 would take half a plan's time
BY_THE_LEE_DEG: Final = 165.0  # degree: deeper than this either gybe can be held (common practice)


def headings_fan(
    plan: Plan, *, first: int, end: int, step_deg: float, own: Mapping[int, Course] = ALL_ON_CONTROL
) -> HeadingFan:
    """Hold headings all round over some hours of a plan; ``half_days``, which take as long again, are left empty.

    Each heading is held on the control's track and, where members sail their own, from every member's own place in
    its own wind and light; what it brings there is set against what that member's own track brings as planned. So
    headings differ by nothing else. Those that gain no ground toward the next waypoint on the control's track, or on
    which she lies in irons, are left out.

    Parameters
    ----------
    plan : Plan
        Whose hours are computed.
    first, end : int
        Steps, end exclusive.
    step_deg : float
        From one heading to the next [degree].
    own : mapping of int to Course
        Members, by position, on their own tracks; empty where all sail the control's.

    Returns
    -------
    HeadingFan
        The planned heading's differences are exactly zero.
    """
    hours = HeldSpan(plan, first, end, own)
    per_min_wh = stored_per_engine_min_wh(plan)
    heading, planned_tack = (hours.track[name].values.astype(np.float64) for name in ("heading_deg", "tack"))
    tack = 1 if planned_tack.mean() >= 0.0 else -1
    angle = float(circular_mean_deg(hours.track["true_wind_angle_deg"].values))
    up = COMING_UP_DEG * (1.0 if angle >= 0.0 else -1.0)
    kept, tried = [(0.0, tack, hours.planned)], {(0.0, tack)}
    for turn, side in _turns(angle, tack, step_deg, also=(up,)):
        tracks = hours.steered(_heading(heading + turn, side))
        moot = (turn, -side) in tried and bool(tracks[0]["under_engine"].values.all())
        tried.add((turn, side))
        if moot or hours.lies_in_irons(tracks[0]) or hours.control.made_good_nm(tracks[0]).sum() <= 0.0:
            continue
        kept.append((turn, side, hours.on_tracks(tracks)))
    options = _options(hours, kept, per_min_wh)
    here = options[0]
    ahead = (option for option in options if option.turn_deg == up)
    coming_up = next((option for option in ahead if option.engine_driving_h <= here.engine_driving_h), None)
    leg = int(hours.track["leg"].values[0])
    azimuth = hours.control.sky["sun_azimuth_deg"].values
    return HeadingFan(
        start=from_numpy(hours.track["time"].values[0]),
        hours=heading.size * hours.step_h,
        ship_offset=plan.ship_offset,
        toward=plan.route[leg + 1].name,
        toward_bearing_deg=float(circular_mean_deg(hours.track["leg_bearing_deg"].values)) % 360.0,
        wind_from_deg=float(circular_mean_deg(hours.track["true_wind_from_deg"].values)) % 360.0,
        variation_deg=float(circular_mean_deg(heading - hours.track["heading_magnetic_deg"].values)),
        sun_azimuth_deg=(float(azimuth[0]), float(azimuth[-1])),
        sun_elevation_deg=float(hours.control.sky["sun_elevation_deg"].values.max()),
        changes_tack=bool(np.ptp(planned_tack) > 0.0),
        options=tuple(sorted(options, key=lambda option: (option.turn_deg, -option.tack))),
        planned=here,
        coming_up=coming_up,
        leg=f"{plan.route[leg].name} to {plan.route[leg + 1].name}",
        half_days=(),
        stored_per_engine_min_wh=per_min_wh,
        members=Count(hours.members, plan.ledger.sizes["member"]),
        own_tracks=hours.own_tracks,
    )


def sunniest_watch(plan: Plan) -> tuple[int, int] | None:
    """Return first step and end of the watch of the first two days that brings most sun while the boat is under way.

    There a heading counts for most, and soon enough for its forecast to be worth something.

    Parameters
    ----------
    plan : Plan
        Whose bill is read.

    Returns
    -------
    tuple of int or None
        None where no such watch has sun.
    """
    step = np.timedelta64(round(plan.voyage.step_s), "s")
    begins = plan.track["time"].values[0]
    moves = plan.track["speed_over_ground_kn"].values > 0.0
    best, most_wh = None, 0.0
    for watch in plan.watches:
        if watch.start - plan.passage.departure >= EARLY:
            break
        first, end = (int((to_numpy(each) - begins) / step) for each in (watch.start, watch.end))
        if watch.solar_wh.planned > most_wh and moves[first:end].all():
            best, most_wh = (first, end), watch.solar_wh.planned
    return best


def half_days(plan: Plan, leg: int, own: Mapping[int, Course] = ALL_ON_CONTROL) -> tuple[HalfDay, ...]:
    """Set both tacks side by side on a leg, from sunrise to noon and from noon to sunset, at the planned wind angle.

    Parameters
    ----------
    plan : Plan
        Whose leg is computed.
    leg : int
        Index of the leg.
    own : mapping of int to Course
        Members, by position, on their own tracks; empty where all sail the control's.

    Returns
    -------
    tuple of HalfDay
        Spans of the control's leg with sun, in order. Steps under engine keep their heading on both tacks.
    """
    steps = np.flatnonzero(plan.track["leg"].values == leg)
    elevation = plan.harvest["sun_elevation_deg"].values[steps]
    rows = []
    for rise, fall in _spells(elevation > 0.0):
        noon = rise + int(np.argmax(elevation[rise:fall]))
        for begin, end in ((rise, noon), (noon, fall)):
            if end - begin > 1:
                hours = HeldSpan(plan, int(steps[begin]), int(steps[end - 1]) + 1, own)
                rows.append(_half_day(hours, before_noon=begin == rise))
    return tuple(rows)


def some_of(courses: Sequence[Course]) -> dict[int, Course]:
    """Return members' courses by position: all, or of more than ``MOST_MEMBERS`` some evenly chosen."""
    return dict([*enumerate(courses)][:: max(ceil(len(courses) / MOST_MEMBERS), 1)])


def circular_mean_deg(angles_deg: npt.ArrayLike) -> Floats:
    """Return the direction of the sum of unit vectors along the last axis, in (-180, 180] [degree]."""
    radians = np.radians(np.asarray(angles_deg, dtype=np.float64))
    mean: Floats = np.degrees(np.arctan2(np.sin(radians).sum(axis=-1), np.cos(radians).sum(axis=-1)))
    return mean


def _heading(heading_deg: Floats, side: int) -> Order:
    """Return the order to hold headings, (time,) true [degree], on the tack that the wind of each track asks for.

    Where it is deep downwind on a track, either side can be held, and ``side`` is throughout.
    """

    def order(abreast: Abreast) -> tuple[Floats, Floats]:
        off_bow = abreast.by_row(abreast.track["true_wind_from_deg"].values) - heading_deg
        off_bow = (off_bow + 180.0) % 360.0 - 180.0
        deep = np.abs(circular_mean_deg(off_bow)) >= BY_THE_LEE_DEG
        tack = np.where(deep[:, None], float(side), np.where(off_bow >= 0.0, 1.0, -1.0))
        return np.tile(heading_deg, len(tack)), tack.reshape(-1)

    return order


def _on_tack(side: int) -> Order:
    """Return the order to keep to a tack at the size of each track's wind angle; under engine as planned."""

    def order(abreast: Abreast) -> tuple[Floats, Floats]:
        track = abreast.track
        sailing = track["under_engine"].values == 0
        turned = track["true_wind_from_deg"].values - side * np.abs(track["true_wind_angle_deg"].values)
        heading = np.where(sailing, turned, track["heading_deg"].values)
        return heading, np.where(sailing, float(side), track["tack"].values)

    return order


def _turns(angle: float, tack: int, step_deg: float, *, also: Sequence[float]) -> list[tuple[float, int]]:
    """Return turns from the planned heading with their tacks; the planned heading on its own tack is left out.

    They are the circle, the other tack at the same wind angle, and either gybe where one is by the lee.
    """
    circle = np.arange(-np.floor(180.0 / step_deg), np.ceil(180.0 / step_deg)) * step_deg
    mirrored = round((2.0 * angle + 180.0) % 360.0 - 180.0, 1)
    turns = sorted({float(turn) for turn in (*circle, mirrored, *also)})
    pairs = []
    for turn in turns:
        off = (angle - turn + 180.0) % 360.0 - 180.0
        natural = 1 if off >= 0.0 else -1
        if turn == 0.0:
            natural = tack
        sides = (natural, -natural) if abs(off) >= BY_THE_LEE_DEG else (natural,)
        pairs += [(turn, side) for side in sides if (turn, side) != (0.0, tack)]
    return pairs


def _options(hours: HeldSpan, kept: Sequence[tuple[float, int, Held]], per_min_wh: float) -> list[HeadingOption]:
    """Return options for turns, tacks and what they bring, the planned heading first."""
    tracks, shadings = [held.track for _, _, held in kept], [held.shading for _, _, held in kept]
    parts = light_parts(tracks, hours.control.sky, shadings, hours.plan.boat, hours.plan.passage.model)
    option_of = partial(_option, hours, planned=kept[0][2], planned_parts=parts[0], per_min_wh=per_min_wh)
    return [
        option_of(held, here, turn_deg=turn, tack=side) for (turn, side, held), here in zip(kept, parts, strict=True)
    ]


def _option(
    hours: HeldSpan,
    held: Held,
    parts: LightParts,
    *,
    planned: Held,
    planned_parts: LightParts,
    turn_deg: float,
    tack: int,
    per_min_wh: float,
) -> HeadingOption:
    track = held.track
    kept = held.kept_wh - planned.kept_wh
    engine_min = -kept / per_min_wh if per_min_wh > 0.0 else np.zeros(kept.size)
    good_nm, planned_nm = (each.made_good_nm.sum(axis=1) for each in (held, planned))
    whole_min = MIN_PER_H * hours.step_h * planned.made_good_nm.shape[1]
    late = np.divide(planned_nm - good_nm, planned_nm, out=np.zeros(kept.size), where=planned_nm > 0.0) * whole_min
    shifts = tuple(
        PanelShift(
            name=panel.name,
            wh=float(held.panel_wh[index]),
            difference_wh=float(held.panel_wh[index] - planned.panel_wh[index]),
            cause=cause(
                index,
                parts,
                planned_parts,
                difference_wh=float(held.panel_wh[index] - planned.panel_wh[index]),
                planned_wh=float(planned.panel_wh[index]),
            ),
        )
        for index, panel in enumerate(hours.plan.boat.panel)
    )
    area = np.array([panel.length_m * panel.width_m for panel in hours.plan.boat.panel])
    open_light = float(parts.aspect @ area)
    taken = float(parts.shaded @ area)
    return HeadingOption(
        turn_deg=turn_deg,
        heading_deg=float(circular_mean_deg(track["heading_deg"].values)) % 360.0,
        heading_magnetic_deg=float(circular_mean_deg(track["heading_magnetic_deg"].values)) % 360.0,
        tack=tack,
        true_wind_angle_deg=float(circular_mean_deg(track["true_wind_angle_deg"].values)),
        speed_kn=float(track["speed_through_water_kn"].mean()),
        heel_deg=float(track["heel_deg"].mean()),
        boom_angle_deg=float(track["boom_angle_deg"].mean()),
        engine_driving_h=float(held.driving_h[-1]),
        drives_more_h=spread_of(held.driving_h - planned.driving_h),
        lit_fraction=1.0 - taken / open_light if open_light > 0.0 else 0.0,
        solar_wh=spread_of(held.solar_wh.sum(axis=1)),
        solar_difference_wh=spread_of((held.solar_wh - planned.solar_wh).sum(axis=1)),
        difference_wh=spread_of((held.net_wh - planned.net_wh).sum(axis=1)),
        kept_wh=spread_of(kept),
        engine_min=spread_of(engine_min),
        made_good_nm=spread_of(good_nm),
        lost_nm=spread_of(planned_nm - good_nm),
        later_min=spread_of(late),
        gain_min=spread_of(-engine_min - late),
        gains_in=int((engine_min + late < 0.0)[:-1].sum()),
        panels=shifts,
    )


def _spells(flag: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first step and end of each unbroken spell of a flag."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flag, [False]]).astype(np.int8)))
    return [(int(first), int(end)) for first, end in edges.reshape(-1, 2)]


def _half_day(hours: HeldSpan, *, before_noon: bool) -> HalfDay:
    starboard, port = (hours.on_tracks(hours.steered(_on_tack(side))) for side in (1, -1))
    net = [held.net_wh.sum(axis=1) for held in (starboard, port)]
    time = hours.track["time"].values
    return HalfDay(
        start=from_numpy(time[0]),
        end=from_numpy(time[-1] + np.timedelta64(round(hours.step_h * 3600.0), "s")),
        before_noon=before_noon,
        starboard_wh=spread_of(net[0]),
        port_wh=spread_of(net[1]),
        advantage_wh=spread_of(net[0] - net[1]),
        starboard_made_good_nm=float(starboard.made_good_nm[-1].sum()),
        port_made_good_nm=float(port.made_good_nm[-1].sum()),
        planned_tack=1 if hours.track["tack"].values.mean() >= 0.0 else -1,
        members=hours.members,
    )
