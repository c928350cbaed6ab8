"""Shade along a passage: the beam that reaches each substring and the sky that each panel sees."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Rig
from planner.physics import shade
from planner.physics.deck import roll, skyview
from planner.physics.frames import bearing_vector, boat_to_earth, earth_to_boat
from planner.simulation.harvest import deck
from planner.simulation.harvest.stances import panels_set, stances_along

if TYPE_CHECKING:
    import xarray as xr


SKY_POINTS = 8  # points on each panel at which the sky is looked at
SKY_DIRECTIONS = 160  # directions over the sky
SKY_EVERY = 6  # steps from one look at the sky to the next; between them the view is read linearly
STEADY = {  # change from one step to the next beyond which the view is not read across
    "heel_deg": 5.0,  # degree
    "pitch_deg": 5.0,  # degree
    "boom_angle_deg": 10.0,  # degree
    "headsail_angle_deg": 10.0,  # degree
    "mainsail_hoist_fraction": 0.1,  # 1
    "headsail_set_fraction": 0.1,  # 1
    "tack": 1.0,  # 1
}


@dataclass(frozen=True, eq=False)
class Beam:
    """How the sun's beam reaches the panels, one step after another.

    Attributes
    ----------
    node_weight : array (node,)
        Weights of the roll's nodes; they sum to 1.
    substring_lit : array (time, node, substring)
        Part of the beam that reaches the substring, light passed by cloth counted [0..1].
    cos_incidence : array (time, node, panel)
        Cosine between sun and panel normal; not above 0 with the sun behind [1].
    """

    node_weight: Floats
    substring_lit: Floats
    cos_incidence: Floats


@dataclass(frozen=True, eq=False)
class Shading(Beam):
    """Geometry of light on the panels, one step after another; the beam as in ``Beam``.

    Attributes
    ----------
    substring_panel : array (substring,)
        Panel of each substring: panels in boat order, substrings from aft forward or from starboard to port along
        the side they divide, before tilting.
    sky_view, overcast_view : array (time, panel)
        Light on the panel from an even and from an overcast sky over that on open level ground: tilt, heel and
        obstruction in it [1].
    sea_view : array (time, panel)
        View of the sea, unobstructed [1].
    """

    substring_panel: Ints
    sky_view: Floats
    overcast_view: Floats
    sea_view: Floats


def cast(
    track: xr.Dataset,
    sun_azimuth_deg: Floats,
    sun_elevation_deg: Floats,
    *,
    rig: Rig,
    panels: Sequence[Panel],
    points: int,
    roll_nodes: int,
) -> Shading:
    """Return how sun and sky reach the panels along a track.

    Parameters
    ----------
    track : xarray.Dataset
        With the glossary's ``TRACK`` over ``time``.
    sun_azimuth_deg, sun_elevation_deg : array (time,)
        The sun at mid-step [degree].
    rig : Rig
        Spars, sails, deck gear.
    panels : sequence of Panel
        In boat order.
    points : int
        Sample points wanted on each panel.
    roll_nodes : int
        Heel angles over the roll.

    Returns
    -------
    Shading
        With no beam while the sun is below the horizon; what the rig leaves of the sky is read across the nights.
    """
    beam = beam_on(
        track, sun_azimuth_deg, sun_elevation_deg, rig=rig, panels=panels, points=points, roll_nodes=roll_nodes
    )
    up = np.asarray(sun_elevation_deg) > 0.0
    views = np.empty((3, track.sizes["time"], len(panels)))
    for steps, panels_then in _spells(track, sun_azimuth_deg, panels):
        views[:, steps] = _diffuse_views(track.isel(time=steps), up[steps], rig, panels_then)
    return Shading(
        node_weight=beam.node_weight,
        substring_lit=beam.substring_lit,
        cos_incidence=beam.cos_incidence,
        substring_panel=np.repeat(np.arange(len(panels)), [panel.substrings for panel in panels]),
        sky_view=views[0],
        overcast_view=views[1],
        sea_view=views[2],
    )


def beam_on(
    track: xr.Dataset,
    sun_azimuth_deg: Floats,
    sun_elevation_deg: Floats,
    *,
    rig: Rig,
    panels: Sequence[Panel],
    points: int,
    roll_nodes: int,
) -> Beam:
    """Return how the beam alone reaches the panels along a track; parameters as for ``cast``."""
    heading, heel, pitch = (track[name].values for name in ("heading_deg", "heel_deg", "pitch_deg"))
    node_heel, weight = roll.roll_nodes(heel, track["roll_amplitude_deg"].values, nodes=roll_nodes)
    sun = bearing_vector(sun_azimuth_deg, sun_elevation_deg)[:, None, :]
    sun_aboard = earth_to_boat(sun, heading[:, None], node_heel, pitch[:, None])
    up = np.asarray(sun_elevation_deg) > 0.0
    trim, substrings = trim_of(track), [panel.substrings for panel in panels]
    lit = np.zeros((heading.size, roll_nodes, sum(substrings)))
    cosine = np.empty((heading.size, roll_nodes, len(panels)))
    for steps, panels_then in _spells(track, sun_azimuth_deg, panels):
        cosine[steps] = sun_aboard[steps] @ deck.axes_of(panels_then)[:, 2].T
        day = steps[up[steps]]
        if day.size:
            samples = deck.samples_of(panels_then, points=points, substrings=substrings)
            lit[day] = _light(sun_aboard[day], rig, panels_then, trim.take(day), samples)
    return Beam(weight, lit, cosine)


def trim_of(track: xr.Dataset) -> deck.Trim:
    """Return how the sails stand at each step of a track with the glossary's ``TRACK``."""
    return deck.Trim(
        boom_angle_deg=track["boom_angle_deg"].values,
        headsail_angle_deg=track["headsail_angle_deg"].values,
        hoist_fraction=track["mainsail_hoist_fraction"].values,
        set_fraction=track["headsail_set_fraction"].values,
        tack=track["tack"].values,
    )


def _light(direction: Floats, rig: Rig, panels: Sequence[Panel], trim: deck.Trim, samples: shade.Samples) -> Floats:
    """Return the kernel's answer for one direction set a setting."""
    surfaces, tubes = deck.surfaces_of(rig, panels, trim), deck.tubes_of(rig, panels, trim)
    light: Floats = shade.lit_fraction(np.ascontiguousarray(direction), surfaces, tubes, samples)
    return light


def _spells(
    track: xr.Dataset, sun_azimuth_deg: Floats, panels: Sequence[Panel]
) -> Iterator[tuple[Ints, Sequence[Panel]]]:
    """Yield the steps that share the panels' stances, and the panels as they then stand."""
    if not any(panel.stances for panel in panels):
        yield np.arange(track.sizes["time"]), panels
        return
    stances, spell = np.unique(stances_along(track, sun_azimuth_deg, panels), axis=0, return_inverse=True)
    for number, stances_then in enumerate(stances):
        yield np.flatnonzero(spell.reshape(-1) == number), panels_set(panels, stances_then)


def _diffuse_views(track: xr.Dataset, up: Bools, rig: Rig, panels: Sequence[Panel]) -> Floats:
    """Return each panel's views of an even sky, an overcast one and the sea, (3, time, panel).

    The sky is looked at on some steps, and what the rig leaves of it read linearly between. These skies have no
    north, so the directions turn with the heading and the views depend on trim alone.
    """
    steps = _by_day(_looks(track), up)
    heel, pitch = (track[name].values for name in ("heel_deg", "pitch_deg"))
    level, solid_angle = skyview.sky_directions(SKY_DIRECTIONS)
    # of heading 90 the earth's axes east, north are a boat's ahead, to port
    direction = earth_to_boat(level[None], 90.0, heel[steps][:, None], pitch[steps][:, None])
    samples = deck.samples_of(panels, points=SKY_POINTS, substrings=[1] * len(panels))
    lit = _light(direction, deck.glowing(rig), panels, trim_of(track).take(steps), samples)
    normal = deck.axes_of(panels)[:, 2]
    # the normal's height does not depend on the heading
    normal_up = boat_to_earth(0.0, heel, pitch)[:, 2] @ normal.T
    every = np.arange(heel.size)

    def left(weight: Floats) -> Floats:
        share = skyview.seen_part(direction=direction, weight=weight, normal=normal, lit=lit)
        return np.stack([np.interp(every, steps, share[:, panel]) for panel in range(len(panels))], axis=1)

    return np.stack(
        [
            left(solid_angle) * skyview.open_view(normal_up),
            left(solid_angle * skyview.overcast_radiance(level[:, 2])) * skyview.open_overcast_view(normal_up),
            skyview.sea_view(normal_up),
        ]
    )


def _looks(track: xr.Dataset) -> Ints:
    """Return the steps at which the sky is looked at: both ends of every steady spell and each sixth step within."""
    count = track.sizes["time"]
    jump = np.zeros(max(count - 1, 0), dtype=np.bool_)
    for name, limit in STEADY.items():
        jump |= np.abs(np.diff(track[name].values)) > limit
    first = np.concatenate([[0], np.flatnonzero(jump) + 1])
    start = np.zeros(count, dtype=np.int64)
    start[first] = first
    start = np.maximum.accumulate(start)
    every = np.arange(count)
    look = (every - start) % SKY_EVERY == 0
    look[first[1:] - 1] = True
    look[count - 1] = True
    return np.flatnonzero(look)


def _by_day(looks: Ints, up: Bools) -> Ints:
    """Return the looks that some step with the sun up (time,) is read from; one where there is none."""
    days = np.concatenate([[0], np.cumsum(up)])
    sunny = days[looks[1:] + 1] > days[looks[:-1]]  # from each look to the next, both counted
    needed = np.append(sunny, False) | np.append(False, sunny)
    return looks[needed] if needed.any() else looks[:1]
