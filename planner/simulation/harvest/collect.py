"""What each controller could deliver along the track: sky, shade, panels, strings, controllers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.arrays import Floats, Ints
from planner.domain.glossary import HARVEST, SKY
from planner.domain.inputs.power import Controller, Panel, Soiling
from planner.domain.inputs.rig import Rig
from planner.domain.schema import to_dataset
from planner.domain.units import M_S_PER_KN, SECONDS_PER_HOUR
from planner.simulation.clock import step_seconds
from planner.simulation.harvest.array import Array, build_array

if TYPE_CHECKING:
    from planner.simulation.harvest.scene import Beam, Shading


def collect(
    track: xr.Dataset,
    forecast: xr.Dataset,
    *,
    rig: Rig,
    panels: Sequence[Panel],
    controllers: Sequence[Controller],
    soiling: Soiling,
    bus_v: float,
    points: int,
    roll_nodes: int,
    outcomes: Sequence[int] | None = None,
) -> xr.Dataset:
    """Return the harvest along a track: what each controller could deliver to the bus.

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it, with the step in its attribute ``step_s`` [s].
    forecast : xarray.Dataset
        As the glossary has it.
    rig : Rig
        What throws shadows.
    panels, controllers : sequence
        In boat order, passed by ``array_faults``.
    soiling : Soiling
        Dirt and salt on them.
    bus_v : float
        Voltage that the controllers charge at [V].
    points, roll_nodes : int
        Shade sample points a cell, about; quadrature nodes over the roll.
    outcomes : sequence of int, optional
        Which of the forecast's outcomes, by position; all when None. Their light is the same either way.

    Returns
    -------
    xarray.Dataset
        The glossary's harvest, with coordinates member, time, panel and controller.
    """
    from planner.simulation.sky.weather import sky_along

    sky = sky_along(track, forecast)
    if outcomes is not None:  # chosen only now: how far outcomes lie apart is a matter of all of them
        sky = sky.isel(member=list(outcomes))
    return collect_under(
        track,
        sky,
        rig=rig,
        panels=panels,
        controllers=controllers,
        soiling=soiling,
        bus_v=bus_v,
        points=points,
        roll_nodes=roll_nodes,
    )


def collect_under(
    track: xr.Dataset,
    sky: xr.Dataset,
    *,
    rig: Rig,
    panels: Sequence[Panel],
    controllers: Sequence[Controller],
    soiling: Soiling,
    bus_v: float,
    points: int,
    roll_nodes: int,
) -> xr.Dataset:
    """Return the harvest along a track under a sky; the other parameters as for ``collect``.

    Parameters
    ----------
    track, sky : xarray.Dataset
        As the glossary has them.
    """
    from planner.simulation.harvest.scene import cast

    shading = cast(
        track,
        sky["sun_azimuth_deg"].to_numpy(),
        sky["sun_elevation_deg"].to_numpy(),
        rig=rig,
        panels=panels,
        points=points,
        roll_nodes=roll_nodes,
    )
    arrays: dict[str, Any] = {name: sky[name].to_numpy() for name in SKY}
    array = build_array(panels, controllers, bus_v=bus_v, soiling=soiling, rig=rig)
    arrays |= panel_harvest(track, sky, shading, array)
    harvest = to_dataset(
        arrays,
        HARVEST,
        coords={
            "member": sky["member"] if "member" in sky.coords else np.arange(sky.sizes["member"]),
            "time": track["time"],
            "panel": [panel.name for panel in panels],
            "controller": [controller.name for controller in controllers],
        },
        door="harvest",
    )
    harvest.attrs["step_s"] = step_seconds(track)
    return harvest


@dataclass(frozen=True, eq=False)
class PlaneLight:
    """Light that reaches the panels' planes.

    Attributes
    ----------
    beam : array (member, time)
        On a plane that faces the sun [W/m2].
    sky_on, sea_on : array (member, time, panel)
        On the panels, from a sky without a bright side and from the sea [W/m2].
    facing : array (time, node, panel)
        Cosine of incidence, 0 with the sun behind [1].
    open_view, beam_view : array (time, panel)
        Cosine of incidence, mean over the roll: without shade, and times the part that is lit [1].
    poa : array (member, time, panel)
        In the plane of the panel, after shade [W/m2].
    """

    beam: Floats
    sky_on: Floats
    sea_on: Floats
    facing: Floats
    open_view: Floats
    beam_view: Floats
    poa: Floats


def plane_light(track: xr.Dataset, sky: xr.Dataset, shading: Shading) -> PlaneLight:
    """Return the light on the panels.

    Parameters
    ----------
    track, sky : xarray.Dataset
        As the glossary has them.
    shading : Shading
        What reaches each cell.
    """
    from planner.physics.deck.skyview import gradation

    elevation = sky["sun_elevation_deg"].to_numpy()
    ghi, dni, dhi = (sky[name].to_numpy() for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"))
    beam, isotropic, sea = sky_light(track, elevation, ghi, dni, dhi)
    facing, open_view, beam_view = views(shading, shading.cell_first)
    # an even sky's light, and what its brightening with height adds or takes
    graded = isotropic * gradation(dni, dhi, elevation)
    sky_on = isotropic[:, :, None] * shading.sky_view
    sky_on += graded[:, :, None] * (shading.overcast_view - shading.sky_view)
    sea_on = sea[:, :, None] * shading.sea_view
    poa = beam[:, :, None] * beam_view + sky_on + sea_on
    return PlaneLight(beam, sky_on, sea_on, facing, open_view, beam_view, poa)


def views(beam: Beam | Shading, cell_first: Ints) -> tuple[Floats, Floats, Floats]:
    """Return the panels' view of the beam: ``facing``, ``open_view`` and ``beam_view`` of ``PlaneLight``.

    Parameters
    ----------
    beam : Beam or Shading
        How the beam reaches the cells.
    cell_first : int array (panel + 1,)
        Where each panel's cells begin, and the end of the last.
    """
    facing = np.maximum(beam.cos_incidence, 0.0)
    panel_lit = np.add.reduceat(beam.cell_lit, cell_first[:-1], axis=2) / np.diff(cell_first)
    beam_view = np.einsum("n,tnp->tp", beam.node_weight, facing * panel_lit)
    open_view = np.einsum("n,tnp->tp", beam.node_weight, facing)
    return facing, open_view, beam_view


def sky_light(
    track: xr.Dataset, sun_elevation_deg: Floats, ghi_w_m2: Floats, dni_w_m2: Floats, dhi_w_m2: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the light from the sun's direction, from all of the sky, and off the sea.

    Parameters
    ----------
    track : xarray.Dataset
        For its times.
    sun_elevation_deg : array (time,)
        At mid-step [degree].
    ghi_w_m2, dni_w_m2, dhi_w_m2 : array (member, time)
        Global, direct normal and diffuse irradiance [W/m2].

    Returns
    -------
    beam, isotropic, sea : array (member, time)
        On a plane that faces the sun; from a sky without a bright side; on a plane that sees all of the sea [W/m2].
    """
    from planner.physics.sky.sun import day_of_year, extraterrestrial_w_m2
    from planner.physics.sky.transposition import SEA_ALBEDO, split_sky

    start: npt.NDArray[np.datetime64] = track["time"].to_numpy()
    middle = start + np.timedelta64(round(step_seconds(track) * 5e8), "ns")
    beam, isotropic = split_sky(dni_w_m2, dhi_w_m2, sun_elevation_deg, extraterrestrial_w_m2(day_of_year(middle)))
    return beam, isotropic, np.where(sun_elevation_deg > 0.0, SEA_ALBEDO * ghi_w_m2, 0.0)


def panel_harvest(
    track: xr.Dataset, sky: xr.Dataset, shading: Shading, array: Array, *, soiled: Floats | None = None
) -> dict[str, Floats]:
    """Return light, cell temperature and power of panels and controllers, by the glossary's names.

    Parameters
    ----------
    track, sky : xarray.Dataset
        As the glossary has them.
    shading : Shading
        What reaches each cell.
    array : Array
        Panels and controllers.
    soiled : array (member, time, panel), optional
        Part of the light that dirt and salt take; gathered from the first step on when None [0..1].
    """
    from planner.physics.array.cells import cell_temperature_c
    from planner.physics.sky.transposition import beam_modifier, diffuse_modifiers
    from planner.simulation.harvest.delivery import deliver

    light = plane_light(track, sky, shading)
    poa, facing = light.poa, light.facing
    lit = np.where(
        light.open_view > 0.0, light.beam_view / np.where(light.open_view > 0.0, light.open_view, 1.0), 0.0
    )
    heat, wind_per_s_m, cell_over_back = array.mounting.T
    cell_temp = cell_temperature_c(
        poa,
        sky["air_temp_c"].to_numpy()[:, :, None],
        wind_on_panels_m_s(track, array),
        heat=heat,
        wind_per_s_m=wind_per_s_m,
        cell_over_back_c=cell_over_back,
    )
    sky_passed, sea_passed = diffuse_modifiers(shading.sea_view)
    if soiled is None:
        soiled = _soiled(sky, array, step_h=step_seconds(track) / SECONDS_PER_HOUR)
    panel_power, controller_power, wire_loss, cell_light = deliver(
        np.ascontiguousarray(light.beam),
        facing * beam_modifier(facing) * array.aged,
        np.ascontiguousarray(shading.cell_lit),
        light.sky_on * sky_passed * array.aged,
        np.ascontiguousarray(shading.string_share),
        light.sea_on * sea_passed * array.aged,
        1.0 - soiled,
        cell_temp,
        shading.node_weight,
        array.wiring,
        array.load,
        array.efficiency,
        array.rated_w,
    )
    members = poa.shape[0]
    return {
        "poa_w_m2": poa,
        "beam_lit_fraction": np.repeat(lit[None], members, axis=0),
        "sky_view_fraction": np.repeat(shading.sky_view[None], members, axis=0),
        "beam_view_fraction": light.open_view,
        "sea_view_fraction": shading.sea_view,
        "soiled_fraction": soiled,
        "cell_light_w_m2": cell_light,
        "cell_temp_c": cell_temp,
        "panel_power_w": panel_power,
        "controller_power_w": controller_power,
        "wire_loss_power_w": wire_loss,
    }


def wind_on_panels_m_s(track: xr.Dataset, array: Array) -> Floats:
    """Return the apparent wind at each panel's height, sheltered by the sprayhood, (time, panel) [m/s].

    Parameters
    ----------
    track : xarray.Dataset
        As the glossary has it.
    array : Array
        Panels, sprayhood and the deck's height.
    """
    from planner.physics.deck.shelter import wind_left
    from planner.physics.sailing.wind import apparent_wind, wind_at_height

    true_kn, angle_deg, speed_kn, leeway_deg = (
        track[name].to_numpy()[:, None]
        for name in ("true_wind_speed_kn", "true_wind_angle_deg", "speed_through_water_kn", "leeway_deg")
    )
    there_kn = wind_at_height(true_kn, array.deck_height_m + array.centre_m[:, 2])
    wind: Floats = apparent_wind(there_kn, angle_deg, speed_kn, leeway_deg)[0] * M_S_PER_KN
    hood = array.sprayhood
    if hood is None:
        return wind
    return wind * wind_left(
        track["apparent_wind_angle_deg"].to_numpy(),
        array.centre_m,
        front_x_m=hood.front_x_m,
        aft_x_m=hood.aft_x_m,
        width_m=hood.width_m,
        height_m=hood.height_m,
    )


def _soiled(sky: xr.Dataset, array: Array, *, step_h: float) -> Floats:
    """Return the part of the light that dirt and salt take, (member, time, panel) [0..1]."""
    from planner.physics.array.soiling import soiled_fraction

    soiling = array.soiling
    return soiled_fraction(
        array.soiled,
        sky["rain_mm_h"].to_numpy(),
        step_h=step_h,
        per_day=soiling.per_day,
        at_most=soiling.at_most,
        rain_cleans_mm=soiling.rain_cleans_mm,
        left_after=soiling.left_after,
        wash_every_days=soiling.wash_every_days or math.inf,
    )
