"""Whether another heading, or the other tack, costs or wins power, and whether it is worth the miles."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.results.plan import Plan
from planner.domain.results.studies import HalfDay, HeadingFan, HeadingOption, PanelShift
from planner.domain.utc import from_numpy, to_numpy
from planner.studies.causes import LightParts, cause, light_parts
from planner.studies.figures import spread_of
from planner.studies.headings.held import Held, HeldSpan, stored_per_engine_min_wh

COMING_UP_DEG: Final = 20.0  # degree, the turn toward the wind that the answer speaks of
EARLY: Final = timedelta(days=2)  # in which a watch is looked for
BY_THE_LEE_DEG: Final = 165.0  # degree: deeper than this either gybe can be held (common practice)


def headings_fan(plan: Plan, *, first: int, end: int, step_deg: float) -> HeadingFan:
    """Hold headings all round over some hours of a plan; ``half_days``, which take as long again, are left empty.

    Sun, cloud and wind are those at the planned positions, so that headings differ by nothing else. Headings that
    gain no ground toward the next waypoint, or on which she lies in irons, are left out.

    Parameters
    ----------
    plan : Plan
        Whose hours are computed.
    first, end : int
        Steps, end exclusive.
    step_deg : float
        From one heading to the next [degree].

    Returns
    -------
    HeadingFan
        The planned heading's differences are exactly zero.
    """
    hours = HeldSpan(plan, first, end)
    planned = hours.on_track(hours.track)
    per_min_wh = stored_per_engine_min_wh(plan)
    heading, planned_tack = (hours.track[name].values.astype(np.float64) for name in ("heading_deg", "tack"))
    tack = 1 if planned_tack.mean() >= 0.0 else -1
    angle = circular_mean_deg(hours.track["true_wind_angle_deg"].values)
    up = COMING_UP_DEG * (1.0 if angle >= 0.0 else -1.0)
    kept, tried = [(0.0, tack, planned)], {(0.0, tack)}
    for turn, side in _turns(angle, tack, step_deg, also=(up,)):
        off_bow = (hours.track["true_wind_angle_deg"].values - turn + 180.0) % 360.0 - 180.0
        # deep downwind either side is held throughout; else each step has the side that its wind comes over
        deep = abs(circular_mean_deg(off_bow)) >= BY_THE_LEE_DEG
        track = hours.steered(heading + turn, np.where(deep, side, np.where(off_bow >= 0.0, 1.0, -1.0)))
        moot = (turn, -side) in tried and bool(track["under_engine"].values.all())
        tried.add((turn, side))
        if moot or hours.lies_in_irons(track) or hours.made_good_nm(track).sum() <= 0.0:
            continue
        kept.append((turn, side, hours.on_track(track)))
    options = _options(hours, kept, per_min_wh)
    here = options[0]
    ahead = (option for option in options if option.turn_deg == up)
    coming_up = next((option for option in ahead if option.engine_driving_h <= here.engine_driving_h), None)
    leg = int(hours.track["leg"].values[0])
    azimuth = hours.sky["sun_azimuth_deg"].values
    return HeadingFan(
        start=from_numpy(hours.track["time"].values[0]),
        hours=heading.size * hours.step_h,
        ship_offset=plan.ship_offset,
        toward=plan.route[leg + 1].name,
        toward_bearing_deg=circular_mean_deg(hours.track["leg_bearing_deg"].values) % 360.0,
        wind_from_deg=circular_mean_deg(hours.track["true_wind_from_deg"].values) % 360.0,
        variation_deg=circular_mean_deg(heading - hours.track["heading_magnetic_deg"].values),
        sun_azimuth_deg=(float(azimuth[0]), float(azimuth[-1])),
        sun_elevation_deg=float(hours.sky["sun_elevation_deg"].values.max()),
        changes_tack=bool(np.ptp(planned_tack) > 0.0),
        options=tuple(sorted(options, key=lambda option: (option.turn_deg, -option.tack))),
        planned=here,
        coming_up=coming_up,
        leg=f"{plan.route[leg].name} to {plan.route[leg + 1].name}",
        half_days=(),
        stored_per_engine_min_wh=per_min_wh,
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


def half_days(plan: Plan, leg: int) -> tuple[HalfDay, ...]:
    """Set both tacks side by side on a leg, from sunrise to noon and from noon to sunset, at the planned wind angle.

    Parameters
    ----------
    plan : Plan
        Whose leg is computed.
    leg : int
        Index of the leg.

    Returns
    -------
    tuple of HalfDay
        Spans with sun, in order. Steps under engine keep their heading on both tacks.
    """
    steps = np.flatnonzero(plan.track["leg"].values == leg)
    hours = HeldSpan(plan, int(steps[0]), int(steps[-1]) + 1)
    sides = {side: _on_tack(hours, side) for side in (1, -1)}
    elevation = hours.sky["sun_elevation_deg"].values
    rows = []
    for rise, fall in _spells(elevation > 0.0):
        noon = rise + int(np.argmax(elevation[rise:fall]))
        for begin, end in ((rise, noon), (noon, fall)):
            if end - begin > 1:
                rows.append(_half_day(hours, sides, slice(begin, end), before_noon=begin == rise))
    return tuple(rows)


def circular_mean_deg(angles_deg: npt.ArrayLike) -> float:
    """Return the direction of the sum of unit vectors, in (-180, 180] [degree]."""
    radians = np.radians(np.asarray(angles_deg, dtype=np.float64))
    return float(np.degrees(np.arctan2(np.sin(radians).sum(), np.cos(radians).sum())))


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
    parts = light_parts(tracks, hours.sky, shadings, hours.plan.boat, hours.plan.passage.model)
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
        heading_deg=circular_mean_deg(track["heading_deg"].values) % 360.0,
        heading_magnetic_deg=circular_mean_deg(track["heading_magnetic_deg"].values) % 360.0,
        tack=tack,
        true_wind_angle_deg=circular_mean_deg(track["true_wind_angle_deg"].values),
        speed_kn=float(track["speed_through_water_kn"].mean()),
        heel_deg=float(track["heel_deg"].mean()),
        boom_angle_deg=float(track["boom_angle_deg"].mean()),
        engine_driving_h=float(track["under_engine"].sum()) * hours.step_h,
        lit_fraction=1.0 - taken / open_light if open_light > 0.0 else 0.0,
        solar_wh=spread_of(held.solar_wh.sum(axis=1)),
        solar_difference_wh=spread_of((held.solar_wh - planned.solar_wh).sum(axis=1)),
        difference_wh=spread_of((held.net_wh - planned.net_wh).sum(axis=1)),
        kept_wh=spread_of(kept),
        engine_min=spread_of(-kept / per_min_wh if per_min_wh > 0.0 else np.zeros(kept.size)),
        made_good_nm=float(held.made_good_nm.sum()),
        lost_nm=float(planned.made_good_nm.sum() - held.made_good_nm.sum()),
        panels=shifts,
    )


def _on_tack(hours: HeldSpan, side: int) -> Held:
    """Return the hours on one tack at the size of the planned wind angle; under engine as planned."""
    track = hours.track
    size = np.abs(track["true_wind_angle_deg"].values)
    sailing = track["under_engine"].values == 0
    heading = np.where(sailing, track["true_wind_from_deg"].values - side * size, track["heading_deg"].values)
    return hours.hold(heading, np.where(sailing, float(side), track["tack"].values))


def _spells(flag: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first step and end of each unbroken spell of a flag."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flag, [False]]).astype(np.int8)))
    return [(int(first), int(end)) for first, end in edges.reshape(-1, 2)]


def _half_day(hours: HeldSpan, sides: dict[int, Held], span: slice, *, before_noon: bool) -> HalfDay:
    net = {side: held.net_wh[:, span].sum(axis=1) for side, held in sides.items()}
    step = np.timedelta64(round(hours.step_h * 3600.0), "s")
    time = hours.track["time"].values
    return HalfDay(
        start=from_numpy(time[span.start]),
        end=from_numpy(time[span.stop - 1] + step),
        before_noon=before_noon,
        starboard_wh=spread_of(net[1]),
        port_wh=spread_of(net[-1]),
        advantage_wh=spread_of(net[1] - net[-1]),
        starboard_made_good_nm=float(sides[1].made_good_nm[span].sum()),
        port_made_good_nm=float(sides[-1].made_good_nm[span].sum()),
        planned_tack=1 if hours.track["tack"].values[span].mean() >= 0.0 else -1,
    )
