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
from planner.simulation.harvest.array import cell_places_of, sky_places_of
from planner.simulation.harvest.stances import panels_set, stances_along

if TYPE_CHECKING:
    import xarray as xr


BRIGHTER = 0.2  # 1, of what the cells of a string see of the sky beyond the dimmest, that adds to its power
LIGHT_STEP = 1.0 / 32.0  # 1, of beam and of sky, so that cells in about the same light count as alike
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
    cell_lit : array (time, node, cell)
        Part of the beam that reaches the cell, light passed by cloth counted [0..1]: panels in boat order, cells as
        ``layout.cell_places`` has them.
    cos_incidence : array (time, node, panel)
        Cosine between sun and panel normal; not above 0 with the sun behind [1].
    """

    node_weight: Floats
    cell_lit: Floats
    cos_incidence: Floats


@dataclass(frozen=True, eq=False)
class Shading(Beam):
    """Geometry of light on the panels, one step after another; the beam as in ``Beam``.

    Attributes
    ----------
    cell_first : int array (panel + 1,)
        Where each panel's cells begin.
    string_share : array (time, string of cells)
        View of an even sky over the panel's mean: that of the string's dimmest patch, and ``BRIGHTER`` of what the
        others see more, in steps of ``LIGHT_STEP`` [1].
    sky_view, overcast_view : array (time, panel)
        Light on the panel from an even and from an overcast sky over that on open level ground: tilt, heel and
        obstruction in it [1].
    sea_view : array (time, panel)
        View of the sea, unobstructed [1].
    """

    cell_first: Ints
    string_share: Floats
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
        Sample points wanted on each cell.
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
    strings = sum(panel.substrings * panel.parallel_strings for panel in panels)
    views, share = np.empty((3, up.size, len(panels))), np.empty((up.size, strings))
    for steps, panels_then in _spells(track, sun_azimuth_deg, panels):
        views[:, steps], share[steps] = _diffuse_views(track.isel(time=steps), up[steps], rig, panels_then)
    return Shading(
        node_weight=beam.node_weight,
        cell_lit=beam.cell_lit,
        cos_incidence=beam.cos_incidence,
        cell_first=np.cumsum([0, *(panel.cells * panel.parallel_strings for panel in panels)]),
        string_share=share,
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
    trim, places = trim_of(track), [cell_places_of(panel) for panel in panels]
    lit = np.zeros((heading.size, roll_nodes, sum(len(cells) for cells in places)))
    cosine = np.empty((heading.size, roll_nodes, len(panels)))
    for steps, panels_then in _spells(track, sun_azimuth_deg, panels):
        cosine[steps] = sun_aboard[steps] @ deck.axes_of(panels_then)[:, 2].T
        day = steps[up[steps]]
        if day.size:
            samples = deck.cell_samples(panels_then, places, points=points)
            lit[day] = _light(sun_aboard[day], rig, panels_then, trim.take(day), samples)
    lit = _in_steps(lit)
    return Beam(weight, lit, cosine)


def _in_steps(light: Floats) -> Floats:
    """Return parts of the light in whole steps; a figure half way goes up, also where its last digit is lost."""
    return np.asarray(LIGHT_STEP * np.floor(light / LIGHT_STEP + 0.5 + 1e-9), dtype=np.float64)


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


def _diffuse_views(track: xr.Dataset, up: Bools, rig: Rig, panels: Sequence[Panel]) -> tuple[Floats, Floats]:
    """Return the panels' views of an even sky, an overcast one and the sea, (3, time, panel), and strings' shares.

    The sky is looked at on some steps, and what the rig leaves of it read linearly between. These skies have no
    north, so the directions turn with the heading and the views depend on trim alone. The shares, (time, string of
    cells), are those of the look before.
    """
    steps = _by_day(_looks(track), up)
    heel, pitch = (track[name].values for name in ("heel_deg", "pitch_deg"))
    level, solid_angle = skyview.sky_directions(SKY_DIRECTIONS)
    # of heading 90 the earth's axes east, north are a boat's ahead, to port
    direction = earth_to_boat(level[None], 90.0, heel[steps][:, None], pitch[steps][:, None])
    places = [sky_places_of(panel) for panel in panels]
    patches = np.array([len(of_panel) for of_panel in places])
    first = np.cumsum(patches) - patches
    lit = _light(
        direction, deck.glowing(rig), panels, trim_of(track).take(steps), deck.middle_samples(panels, places)
    )
    normal = deck.axes_of(panels)[:, 2]
    # the normal's height does not depend on the heading
    normal_up = boat_to_earth(0.0, heel, pitch)[:, 2] @ normal.T
    every = np.arange(heel.size)

    def seen(weight: Floats) -> Floats:
        """Return the part of the sky's light that each patch gets past the rig, (look, patch)."""
        return skyview.seen_part(direction=direction, weight=weight, normal=normal, lit=lit, patches=patches)

    def left(of_patches: Floats) -> Floats:
        share = np.add.reduceat(of_patches, first, axis=1) / patches
        return np.stack([np.interp(every, steps, share[:, panel]) for panel in range(len(panels))], axis=1)

    even = seen(solid_angle)
    views = np.stack(
        [
            left(even) * skyview.open_view(normal_up),
            left(seen(solid_angle * skyview.overcast_radiance(level[:, 2]))) * skyview.open_overcast_view(normal_up),
            skyview.sea_view(normal_up),
        ]
    )
    mean = np.repeat(np.add.reduceat(even, first, axis=1) / patches, patches, axis=1)
    share = np.divide(even, mean, out=np.ones_like(even), where=mean > 0.0)
    strings = np.array([panel.substrings * panel.parallel_strings for panel in panels])
    in_string = np.repeat(patches // strings, strings)
    string_first = np.cumsum(in_string) - in_string
    dimmest = np.minimum.reduceat(share, string_first, axis=1)
    own = dimmest + BRIGHTER * (np.add.reduceat(share, string_first, axis=1) / in_string - dimmest)
    own = _in_steps(own)
    return views, own[np.maximum(np.searchsorted(steps, every, side="right") - 1, 0)]


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
