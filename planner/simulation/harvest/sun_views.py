"""The boat as the sun sees her at six moments of the first bright day, for drawing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Rig
from planner.domain.results.sun_view import DIM, Kind, Ring, SunOnPanel, SunShape, SunView
from planner.domain.utc import from_numpy
from planner.physics.frames import bearing_vector, earth_to_boat, wrap_180
from planner.simulation.clock import step_seconds
from planner.simulation.harvest import deck
from planner.simulation.harvest.array import cell_grid, cell_places_of
from planner.simulation.harvest.outlines import shadow_outlines
from planner.simulation.harvest.scene import beam_on, trim_of
from planner.simulation.harvest.stances import panels_set, stances_along

if TYPE_CHECKING:
    import xarray as xr
    from shapely.geometry.base import BaseGeometry

VIEWS = 6
CELL_POINTS = 48  # of a cell that is drawn; a panel's points are as many as the kernel takes
LEAST_ELEVATION_DEG = 3.0  # degree; lower suns show the sails and little else
BRIGHT = 0.7  # 1; a day with so much of the brightest day's beam is bright
OVERHEAD = 1e-3  # 1; length of the sky's upright across the sunlight below which the bow points up the page

# the hull that the drawing stands the rig on; the boat file has length and beam alone
STEM_OVER_LENGTH = 0.04  # 1; stem ahead of the forestay over length (recalled)
FREEBOARD_OVER_LENGTH = 0.09  # 1 (recalled)
DECK_STATIONS = ((0.0, 0.0), (0.1, 0.42), (0.25, 0.76), (0.45, 0.98), (0.6, 1.0), (0.8, 0.94), (1.0, 0.76))
# 1; place from the stem over length, half breadth over half beam: a cruising hull's deck (recalled)


def sun_views(track: xr.Dataset, harvest: xr.Dataset, *, boat: Boat) -> tuple[SunView, ...]:
    """Return what the sun sees at six moments spread over the daylight of the first bright day of the passage.

    Parameters
    ----------
    track, harvest : xarray.Dataset
        As the glossary has them.
    boat : Boat
        Whose rig, hull and panels are drawn.

    Returns
    -------
    tuple of SunView
        In order of time; fewer where the day has fewer steps of sun, none where no day has any.
    """
    half_step = np.timedelta64(round(step_seconds(track) * 5e8), "ns")
    stances = stances_along(track, harvest["sun_azimuth_deg"].to_numpy(), boat.panel)
    moments = _moments(harvest)
    if not moments:
        return ()
    shown = harvest.isel(time=moments)
    beam = beam_on(
        track.isel(time=moments),
        shown["sun_azimuth_deg"].to_numpy(),
        shown["sun_elevation_deg"].to_numpy(),
        rig=boat.rig,
        panels=boat.panel,
        points=CELL_POINTS,
        roll_nodes=1,  # the mean heel
    )
    ends = np.cumsum([len(cell_places_of(panel)) for panel in boat.panel])[:-1]
    return tuple(
        _view(
            track.isel(time=[step]),
            harvest.isel(time=step),
            from_numpy(track["time"].to_numpy()[step] + half_step),
            boat,
            panels_set(boat.panel, stances[step]),
            np.split(lit[0], ends),
        )
        for step, lit in zip(moments, beam.cell_lit, strict=True)
    )


def _moments(harvest: xr.Dataset) -> list[int]:
    """Return the steps to draw, spread over the first bright stretch from sunrise to sunset."""
    up = harvest["sun_elevation_deg"].to_numpy() > LEAST_ELEVATION_DEG
    edges = np.flatnonzero(np.diff(up, prepend=False, append=False)).reshape(-1, 2)
    if not edges.size:
        return []
    beam = harvest["dni_w_m2"].to_numpy().mean(axis=0)
    of_day = np.array([beam[sunrise:sunset].sum() for sunrise, sunset in edges])
    sunrise, sunset = edges[np.argmax(of_day >= BRIGHT * of_day.max())]
    places = sunrise + (np.arange(VIEWS) + 0.5) / VIEWS * (sunset - sunrise)
    return [int(step) for step in np.unique(places.astype(np.int64))]


def _view(  # noqa: PLR0917
    track: xr.Dataset,
    harvest: xr.Dataset,
    time: datetime,
    boat: Boat,
    panels: Sequence[Panel],
    cell_lit: Sequence[Floats],
) -> SunView:
    """Return one view; track and harvest of one step, light on each panel's cells."""
    heading, heel, pitch = (float(track[name][0]) for name in ("heading_deg", "heel_deg", "pitch_deg"))
    azimuth, elevation = (float(harvest[name]) for name in ("sun_azimuth_deg", "sun_elevation_deg"))
    sun, upright = (
        earth_to_boat(vector, heading, heel, pitch)
        for vector in (bearing_vector(azimuth, elevation), np.array([0.0, 0.0, 1.0]))
    )
    eye = _eye(sun, upright)
    trim = trim_of(track)
    facing = np.maximum(deck.axes_of(panels)[:, 2] @ sun, 0.0)
    lit = harvest["beam_lit_fraction"].to_numpy().mean(axis=0)
    return SunView(
        time=time,
        sun_azimuth_deg=azimuth,
        sun_elevation_deg=elevation,
        off_bow_deg=float(wrap_180(azimuth - heading)),
        heading_deg=heading,
        heel_deg=heel,
        shapes=(
            *_hull(boat, eye),
            *_rigging(boat.rig, panels, trim, eye),
            *_panels(boat.rig, panels, trim, eye, sun, cell_lit),
        ),
        panels=tuple(
            SunOnPanel(
                panel.name,
                _pair(np.array(panel.centre_m) @ eye[:2].T),
                float(lit[k]),
                float(facing[k]),
                cell_lit[k].size,
                int(np.count_nonzero(cell_lit[k] < DIM)),
            )
            for k, panel in enumerate(panels)
        ),
    )


def _eye(sun: Floats, upright: Floats) -> Floats:
    """Return the axes of the sun's view in the boat frame, (3, 3): right, up the page, toward the sun."""
    up = upright - (upright @ sun) * sun
    if np.linalg.norm(up) < OVERHEAD:
        up = np.array([1.0, 0.0, 0.0]) - sun[0] * sun
    up /= np.linalg.norm(up)
    return np.stack([np.cross(up, sun), up, sun])


def _hull(boat: Boat, eye: Floats) -> Iterator[SunShape]:
    from shapely.geometry import MultiPoint

    stem = boat.rig.j_m + STEM_OVER_LENGTH * boat.length_m
    along, across = np.array(DECK_STATIONS).T
    x, y = stem - along * boat.length_m, across * boat.beam_m / 2.0
    level = np.zeros_like(x)
    edge = np.concatenate([np.stack([x, y, level], axis=1), np.stack([x, -y, level], axis=1)[::-1]])
    waterline = edge * [0.94, 0.85, 1.0] - [0.0, 0.0, FREEBOARD_OVER_LENGTH * boat.length_m]
    yield _shape("hull", MultiPoint(np.concatenate([edge, waterline]) @ eye[:2].T).convex_hull)
    yield _shape("deck", _joined([edge @ eye[:2].T]))


def _rigging(rig: Rig, panels: Sequence[Panel], trim: deck.Trim, eye: Floats) -> list[SunShape]:
    """Return sails, canvas, shapes of the boat's own, spars and stays, the farthest from the sun first."""
    surfaces, tubes = deck.surfaces_of(rig, panels, trim), deck.tubes_of(rig, panels, trim)
    kinds: list[Kind] = ["sail", "sail"]
    kinds.extend("canvas" for gear in (rig.sprayhood, rig.bimini) if gear is not None)
    kinds.extend("gear" for _ in (*rig.polygons, *rig.radomes))
    found: list[tuple[float, SunShape]] = []
    for surface, kind in enumerate(kinds):
        passed = float(surfaces.passed[0, surface])
        if passed >= 1.0:
            continue
        pieces = range(surfaces.surface_first[surface], surfaces.surface_first[surface + 1])
        corners = [
            surfaces.corner_m[0, surfaces.piece_first[k] : surfaces.piece_first[k + 1]] @ eye.T for k in pieces
        ]
        depth = float(np.mean([piece[:, 2].mean() for piece in corners]))
        found.append((depth, _shape(kind, _joined(piece[:, :2] for piece in corners), passed)))
    for ends, radius in zip(tubes.end_m[0] @ eye.T, tubes.radius_m[0], strict=True):
        run = ends[1, :2] - ends[0, :2]
        length = float(np.hypot(*run))
        aside = np.array([-run[1], run[0]]) / length * radius if length > 0.0 else np.zeros(2)
        band = np.array([ends[0, :2] + aside, ends[1, :2] + aside, ends[1, :2] - aside, ends[0, :2] - aside])
        found.append((float(ends[:, 2].mean()), _shape("spar", _joined([band]))))
    return [shape for _, shape in sorted(found, key=lambda one: one[0]) if shape.rings]


def _panels(  # noqa: PLR0917
    rig: Rig, panels: Sequence[Panel], trim: deck.Trim, eye: Floats, sun: Floats, cell_lit: Sequence[Floats]
) -> Iterator[SunShape]:
    """Yield each panel, its cells, its substrings and the shadows on it, the farthest panel first."""
    axes, centres = deck.axes_of(panels), np.array([panel.centre_m for panel in panels])
    thrown = shadow_outlines(sun, trim, rig=rig, panels=panels)
    outlines = deck.outlines_of(panels) @ eye[:2].T
    for index in np.argsort(centres @ sun):
        faces_sun = axes[index, 2] @ sun > 0.0
        yield _shape("panel" if faces_sun else "back", _joined([outlines[index]]))
        if faces_sun:
            yield from _cells(panels[index], axes[index] @ eye[:2].T, centres[index] @ eye[:2].T, cell_lit[index])
        on_it = (outline for outline in thrown if outline.panel == index)
        for (_, passed), parts in groupby(on_it, key=lambda one: (one.surface, one.passed)):
            flat = (centres[index] + part.corners_m @ axes[index, :2] for part in parts)
            shadow = _shape("shadow", _joined(corners @ eye[:2].T for corners in flat), passed)
            if shadow.rings:
                yield shadow


def _cells(panel: Panel, axes: Floats, centre: Floats, lit: Floats) -> Iterator[SunShape]:
    """Yield a panel's cells, those in the same light together, and its substrings; axes and centre in the view."""
    size = np.array([panel.length_m, panel.width_m]) / cell_grid(panel)
    low = cell_places_of(panel) * size - [panel.length_m / 2.0, panel.width_m / 2.0]

    def ring(corner: Floats, sides: Floats) -> Ring:
        square = corner + sides * [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
        return tuple(_pair(at) for at in centre + square @ axes[:2])

    for light in np.unique(lit)[::-1]:
        yield SunShape("cell", tuple(ring(cell, size) for cell in low[lit == light]), float(light))
    for cells in np.split(low, panel.substrings):
        yield SunShape("substring", (ring(cells.min(axis=0), np.ptp(cells, axis=0) + size),))


def _joined(outlines: Iterable[Floats]) -> BaseGeometry:
    """Return the union of outlines (corner, 2)."""
    from shapely import union_all
    from shapely.geometry import Polygon

    return union_all([Polygon(outline).buffer(0.0) for outline in outlines])


def _shape(kind: Kind, area: BaseGeometry, passed: float = 0.0) -> SunShape:
    from shapely.geometry import MultiPolygon, Polygon

    parts = [area] if isinstance(area, Polygon) else list(area.geoms) if isinstance(area, MultiPolygon) else []
    rings = (ring for part in parts if not part.is_empty for ring in (part.exterior, *part.interiors))
    return SunShape(kind, tuple(_ring(np.asarray(ring.coords)) for ring in rings), passed)


def _ring(corners: Floats) -> Ring:
    return tuple(_pair(corner) for corner in corners[:-1])


def _pair(corner: npt.NDArray[np.float64]) -> tuple[float, float]:
    return float(corner[0]), float(corner[1])
