"""Why a panel gains or loses on another heading: sail shadow, boom, gear, heel, open sky, or its string's partner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Model
from planner.domain.inputs.rig import Rig
from planner.domain.results.note import Note
from planner.simulation.clock import step_seconds
from planner.simulation.harvest.collect import plane_light, views
from planner.simulation.harvest.scene import Beam, Shading, beam_on, cast
from planner.studies.boats import without_boom, without_stowed_sail

MAIN: Final = "mainsail_hoist_fraction"
HEAD: Final = "headsail_set_fraction"
SMALL_PART: Final = 0.02  # 1, of a panel's yield: less is no change worth a reason
SMALL_WH: Final = 1.0  # Wh, likewise

NO_CHANGE: Final = Note("as_before")
CAUSES: Final = {
    "aspect": (Note("sun_more"), Note("sun_less")),
    "heel": (Note("heel_toward"), Note("heel_away")),
    "mainsail": (Note("out_of_mainsail"), Note("in_mainsail")),
    "headsail": (Note("out_of_headsail"), Note("in_headsail")),
    "boom": (Note("clear_of_boom"), Note("under_boom")),
    "gear": (Note("clear_of_gear"), Note("in_gear")),
    "sky": (Note("sky_more"), Note("sky_less")),
}
"""What may change, for a panel that gains and for one that loses."""
STRING: Final = (Note("partner_gains"), Note("partner_loses"))


@dataclass(frozen=True, eq=False)
class LightParts:
    """Light on each panel's plane in the members' mean weather, mean over the roll, summed over the hours [Wh/m2].

    Attributes
    ----------
    aspect : array (panel,)
        The beam without any shade.
    shaded : array (panel,)
        What shade takes from it.
    lost : dict of str to array (panel,)
        What gear, mainsail, headsail and boom take: gear by itself, each of the others where gear alone leaves light;
        shadows that overlap are in more than one.
    sky : array (panel,)
        From sky and sea.
    heel_deg : float
        Mean heel [degree].
    """

    aspect: Floats
    shaded: Floats
    lost: dict[str, Floats]
    sky: Floats
    heel_deg: float


def light_parts(
    tracks: Sequence[xr.Dataset], sky: xr.Dataset, shadings: Sequence[Shading], boat: Boat, model: Model
) -> tuple[LightParts, ...]:
    """Part the light on the panels by what takes it, for tracks over the same hours under the same sky.

    Parameters
    ----------
    tracks : sequence of xarray.Dataset
        Each of the hours.
    sky : xarray.Dataset
        Of the hours.
    shadings : sequence of Shading
        As cast on each track.
    boat : Boat
        Whose rig throws the shadows.
    model : Model
        How finely to cast.
    """
    mean_sky = sky.mean("member", keep_attrs=True).expand_dims(member=[0])
    mean_sky = mean_sky.transpose("member", "time", ...)
    step_h = step_seconds(tracks[0]) / 3600.0
    lights = [plane_light(track, mean_sky, shading) for track, shading in zip(tracks, shadings, strict=True)]
    beam, cell_first = lights[0].beam[0], shadings[0].cell_first
    one_after_another = xr.concat(tracks, "time", coords="minimal", compat="override", join="override")
    suns = sky.isel(time=np.tile(np.arange(beam.size), len(tracks)))

    def energy(view: Floats) -> Floats:
        """Return the beam that comes through a view, (track x time, panel) or (time, panel) [Wh/m2]."""
        wh: Floats = np.einsum("t,ktp->kp", beam, view.reshape(-1, beam.size, view.shape[1])) * step_h
        return wh

    def beam_with(changed: xr.Dataset, rig: Rig) -> Floats:
        """Return the beam on each panel with other sails or another boom, (track, panel) [Wh/m2]."""
        return energy(views(beam_of(changed, suns, boat.model_copy(update={"rig": rig}), model), cell_first)[2])

    bare_poles = _furled(_furled(one_after_another, MAIN), HEAD)
    no_boom = without_boom(boat.rig)
    without_sails = beam_with(bare_poles, no_boom)
    left = {
        "mainsail": beam_with(_furled(one_after_another, HEAD), no_boom),
        "headsail": beam_with(_furled(one_after_another, MAIN), no_boom),
        "boom": beam_with(bare_poles, without_stowed_sail(boat.rig)),
    }
    parts = []
    for number, (track, light) in enumerate(zip(tracks, lights, strict=True)):
        aspect = energy(light.open_view)[0]
        gear = aspect - without_sails[number]
        lost = {"gear": gear, **{name: without_sails[number] - beams[number] for name, beams in left.items()}}
        diffuse = (light.sky_on[0] + light.sea_on[0]).sum(axis=0) * step_h
        heel_deg = float(track["heel_deg"].mean())
        parts.append(LightParts(aspect, aspect - energy(light.beam_view)[0], lost, diffuse, heel_deg))
    return tuple(parts)


def cast_on(track: xr.Dataset, sky: xr.Dataset, boat: Boat, model: Model) -> Shading:
    """Return how light reaches the boat's panels on a track under a sky."""
    return cast(
        track,
        sky["sun_azimuth_deg"].to_numpy(),
        sky["sun_elevation_deg"].to_numpy(),
        rig=boat.rig,
        panels=boat.panel,
        points=model.points,
        roll_nodes=model.roll_nodes,
    )


def beam_of(track: xr.Dataset, sky: xr.Dataset, boat: Boat, model: Model) -> Beam:
    """Return how the beam alone reaches the boat's panels on a track under a sky."""
    return beam_on(
        track,
        sky["sun_azimuth_deg"].to_numpy(),
        sky["sun_elevation_deg"].to_numpy(),
        rig=boat.rig,
        panels=boat.panel,
        points=model.points,
        roll_nodes=model.roll_nodes,
    )


def cause(panel: int, now: LightParts, planned: LightParts, *, difference_wh: float, planned_wh: float) -> Note:
    """Return why a panel yields more or less than on the planned heading: the part that changed most the same way.

    Parameters
    ----------
    panel : int
        In boat order.
    now, planned : LightParts
        On this heading and on the planned one.
    difference_wh, planned_wh : float
        Change of its yield, and its yield on the planned heading [Wh].
    """
    if abs(difference_wh) < max(SMALL_WH, SMALL_PART * planned_wh):
        return NO_CHANGE
    sign = 1.0 if difference_wh > 0.0 else -1.0
    turned = float(now.aspect[panel] - planned.aspect[panel])
    aspect = "heel" if abs(now.heel_deg - planned.heel_deg) >= 1.0 else "aspect"
    parts = {aspect: turned, "sky": float(now.sky[panel] - planned.sky[panel])}
    parts |= {name: float(planned.lost[name][panel] - now.lost[name][panel]) for name in now.lost}
    name = max(parts, key=lambda each: sign * parts[each])
    gains, loses = CAUSES[name] if sign * parts[name] > 0.0 else STRING
    return gains if sign > 0.0 else loses


def _furled(track: xr.Dataset, sail: str) -> xr.Dataset:
    """Return the track with a sail taken in."""
    return track.assign({sail: xr.zeros_like(track[sail])})
