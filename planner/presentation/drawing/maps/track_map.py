"""The map: the track on a Mercator chart with its own coastline, whole across the 180th meridian."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.inputs.route import Waypoint
from planner.domain.results.plan import Plan
from planner.presentation.drawing.labels import Lettering
from planner.presentation.drawing.maps.coastline import land_within
from planner.presentation.drawing.maps.graticule import Graticule, draw_graticule
from planner.presentation.drawing.plots import engine_runs
from planner.presentation.drawing.svg import add, markup, numbers, picture, polyline, rings
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import Hours, engine_words, hours_of
from planner.presentation.words.wording import bearing, latitude, longitude, percent, ship_clock

if TYPE_CHECKING:
    from cartopy.crs import CRS
    from shapely.geometry.base import BaseGeometry

LEAST_PAD_DEG = 0.5
PAD_OF_SPAN = 0.08
TALLEST, FLATTEST = 1.35, 0.6  # height over width of the sheet
WIDE_PX, NARROW_PX = 720.0, 360.0
MARGIN_PX = 30.0
ROOMY_PX = 400.0  # a sheet this wide has room for dates
CLEAR_PX, OVERCAST_PX = 1.5, 13.0  # half the breadth of the cloud ribbon
TANGENT_HOURS = 6  # the ribbon follows the track's way over so many hours, not each tack
ROW_HOURS = 6


@dataclass(frozen=True, eq=False)
class Sheet:
    """A rectangle of a Mercator chart and its place on the paper.

    Longitudes count unwrapped from the track's first, so that no meridian is special.

    Attributes
    ----------
    middle_lon : float
        Meridian that the projection is centred on [degree].
    x, y : (float, float)
        Edges of the rectangle, projected [m].
    width : float
        Of the paper, margins included [px].
    """

    middle_lon: float
    x: tuple[float, float]
    y: tuple[float, float]
    width: float

    @property
    def height(self) -> float:
        """Height of the paper [px]."""
        return MARGIN_PX * 2 + self.scale * (self.y[1] - self.y[0])

    @property
    def scale(self) -> float:
        """Paper to projected metres [px/m]."""
        return (self.width - 2 * MARGIN_PX) / (self.x[1] - self.x[0])

    def place(self, lon: Floats, lat: Floats) -> Floats:
        """Return paper coordinates (n, 2)."""
        metres = _mercator(lon, lat, self.middle_lon)
        return np.column_stack(
            [MARGIN_PX + self.scale * (metres[:, 0] - self.x[0]), MARGIN_PX + self.scale * (self.y[1] - metres[:, 1])]
        )

    def position(self, points: Floats) -> tuple[Floats, Floats]:
        """Return longitudes, unwrapped, and latitudes (n,) of points on the paper (n, 2)."""
        projection, degrees = _projections(self.middle_lon)
        x = self.x[0] + (points[:, 0] - MARGIN_PX) / self.scale
        y = self.y[1] - (points[:, 1] - MARGIN_PX) / self.scale
        there = degrees.transform_points(projection, x, y)
        return self.middle_lon + there[:, 0], np.asarray(there[:, 1])

    def box(self) -> tuple[float, float, float, float]:
        """Return lon_low, lon_high, lat_low, lat_high of the sheet."""
        projection, degrees = _projections(self.middle_lon)
        corners = degrees.transform_points(projection, np.array(self.x), np.array(self.y))
        low, high = corners[0], corners[1]
        return self.middle_lon + low[0], self.middle_lon + high[0], float(low[1]), float(high[1])


@lru_cache(maxsize=4)  # a projection takes milliseconds to make, and a sheet asks for it with every line
def _projections(middle_lon: float) -> tuple[CRS, CRS]:
    """Return Mercator about a meridian, and plain degrees counted from it."""
    import cartopy.crs as ccrs

    return ccrs.Mercator(central_longitude=middle_lon), ccrs.PlateCarree(central_longitude=middle_lon)


def _mercator(lon: Floats, lat: Floats, middle_lon: float) -> Floats:
    projection, degrees = _projections(middle_lon)
    return np.asarray(projection.transform_points(degrees, np.asarray(lon) - middle_lon, np.asarray(lat))[:, :2])


def sheet_for(lon: Floats, lat: Floats, width: float) -> Sheet:
    """Return a sheet that holds the track with a margin of sea round it, neither too tall nor too flat.

    Parameters
    ----------
    lon, lat : array (point,)
        Of the track, longitudes unwrapped [degree].
    width : float
        Of the paper [px].
    """
    pad = max(LEAST_PAD_DEG, PAD_OF_SPAN * float(max(np.ptp(lon), np.ptp(lat))))
    return sheet_of_box(
        np.array([lon.min() - pad, lon.max() + pad]), np.array([lat.min() - pad, lat.max() + pad]), width
    )


def sheet_of_box(lon: Floats, lat: Floats, width: float) -> Sheet:
    """Return a sheet that holds a box, neither too tall nor too flat.

    Parameters
    ----------
    lon, lat : array (2,)
        Lowest and highest, longitudes unwrapped [degree].
    width : float
        Of the paper [px].
    """
    middle = float(np.round((lon[0] + lon[1]) / 2))
    (x_low, y_low), (x_high, y_high) = _mercator(lon, lat, middle)
    across, up = x_high - x_low, y_high - y_low
    wider, taller = max(0.0, up / TALLEST - across) / 2, max(0.0, across * FLATTEST - up) / 2
    return Sheet(middle, (x_low - wider, x_high + wider), (y_low - taller, y_high + taller), width)


def track_map(plan: Plan) -> Figure:
    """Return the map: land, track with day marks, cloud along it as a ribbon, engine runs."""
    hours = hours_of(plan)
    lon, lat = np.unwrap(plan.track["lon"].values, period=360.0), plan.track["lat"].values
    cloud = hours.mean(plan.harvest["cloud_cover"].values.mean(axis=0))
    wide = sheet_for(lon, lat, WIDE_PX)
    narrow = sheet_for(lon, lat, NARROW_PX)
    land = land_within(*wide.box())
    ends = [waypoint.name for waypoint in (plan.route[0], plan.route[-1])]
    label = f"Map of the track from {ends[0]} to {ends[1]}: a mark each day, cloud, engine runs. Its table follows."
    drawings = tuple(
        _draw(plan, hours, sheet, label=label, css=css, land=land, cloud=cloud)
        for sheet, css in ((wide, "wide"), (narrow, "narrow"))
    )
    texts = _texts(plan, hours, cloud)
    return Figure(
        key="map",
        title="The track",
        caption="Mercator, true north up; not for navigation. A minute of latitude in the side margin is a sea mile. "
        "A ring marks the start of each day of the passage.",
        legend=(
            ("line track", "track"),
            ("area cloud", "cloud, mean of the forecasts: the broader, the more"),
            ("line charges", "engine charges"),
            ("line drives", "engine drives the boat"),
        ),
        drawings=drawings,
        readings=tuple(f"{name}: " + ", ".join(part for part in parts if part) for name, *parts in texts),
        table=Table(
            "The track every six hours",
            (
                Column("Ship's time", "left"),
                Column("Position", "left"),
                Column("Heading, magnetic", "left"),
                Column("True wind over the water", "left"),
                Column("Cloud", "left"),
                Column("Engine", "left"),
            ),
            tuple(tuple(row) for row in texts[::ROW_HOURS]),
        ),
    )


def _texts(plan: Plan, hours: Hours, cloud: Floats) -> list[list[str]]:
    track = {name: plan.track[name].values[hours.first_steps] for name in plan.track.data_vars}
    return [
        [
            name,
            f"{latitude(track['lat'][i])} {longitude(track['lon'][i])}",
            f"heading {bearing(track['heading_magnetic_deg'][i])} magnetic",
            f"wind from {bearing(track['true_wind_from_deg'][i])} true, {track['true_wind_speed_kn'][i]:.0f} kn",
            f"cloud {percent(cloud[i])}",
            f"engine {runs}" if runs else "",
        ]
        for i, (name, runs) in enumerate(zip(hours.names(), engine_words(plan, hours), strict=True))
    ]


def _draw(
    plan: Plan, hours: Hours, sheet: Sheet, *, label: str, css: str, land: BaseGeometry, cloud: Floats
) -> Markup:
    lon, lat = np.unwrap(plan.track["lon"].values, period=360.0), plan.track["lat"].values
    course = sheet.place(lon, lat)
    hourly = course[hours.first_steps]
    root = picture(sheet.width, sheet.height, label=label, css=f"map {css}")
    root.set("data-x", numbers(hourly[:, 0]))
    root.set("data-y", numbers(hourly[:, 1]))
    add(root, "path", {"class": "land", "d": land_path(sheet, land), "fill-rule": "evenodd"})
    lon_low, lon_high, lat_low, lat_high = sheet.box()
    draw_graticule(
        root,
        Graticule(
            lon=(lon_low, lon_high), lat=(lat_low, lat_high), size=(sheet.width, sheet.height), inset=MARGIN_PX
        ),
        sheet.place,
    )
    add(root, "path", {"class": "area cloud", "d": _ribbon(hourly, _half_breadth(sheet, cloud))})
    add(root, "path", {"class": "line track", "d": polyline(course[:, 0], course[:, 1])})
    for run in engine_runs(plan, hours):
        first, last = round(run.start_h / hours.step_h), round(run.stop_h / hours.step_h)
        part = course[first : last + 1]
        add(root, "path", {"class": f"line {run.css}", "d": polyline(part[:, 0], part[:, 1])})
    _marks(root, plan, hours, sheet, course)
    cursor = add(root, "g", {"class": "cursor"})
    add(cursor, "circle", {"cx": 0.0, "cy": 0.0, "r": 6.0})
    return markup(root)


def land_path(sheet: Sheet, land: BaseGeometry) -> str:
    """Return the path of the land (from ``land_within``) on a sheet, thinned to what the paper shows."""
    import shapely

    lon_low, lon_high, *_ = sheet.box()
    thinned = land.simplify((lon_high - lon_low) / sheet.width / 2, preserve_topology=True)
    outlines = []
    for polygon in shapely.get_parts(thinned):
        if polygon.geom_type == "Polygon":
            outlines += [
                sheet.place(*np.asarray(ring.coords).T[:2]) for ring in (polygon.exterior, *polygon.interiors)
            ]
    return rings(outlines)


def _half_breadth(sheet: Sheet, cloud: Floats) -> Floats:
    """Return half the ribbon's breadth [px] for cloud (hour,), slimmer on a narrow sheet."""
    return np.asarray((CLEAR_PX + (OVERCAST_PX - CLEAR_PX) * cloud) * np.sqrt(sheet.width / WIDE_PX))


def _ribbon(points: Floats, half: Floats) -> str:
    """Return an outline about the track (hour, 2), so far to each side (hour,)."""
    span = min(TANGENT_HOURS, len(points) - 1)
    index = np.arange(len(points))
    way = points[np.minimum(index + span, len(points) - 1)] - points[np.maximum(index - span, 0)]
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    across = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, None]
    off = half[:, None] * across
    return rings([np.concatenate([points + off, (points - off)[::-1]])])


def _marks(root: ET.Element, plan: Plan, hours: Hours, sheet: Sheet, course: Floats) -> None:
    """Mark days and waypoints, then name both ends, the days and, where there is room, the waypoints between."""
    group = add(root, "g", {"class": "marks"})
    begins = [round(hours.since_start(day.start) / hours.step_h) for day in plan.days]
    days = [(float(x), float(y)) for x, y in course[begins]]
    for x, y in days:
        add(group, "circle", {"class": "day-mark", "cx": x, "cy": y, "r": 4.0})
    waypoints = [(waypoint.name, _waypoint(sheet, waypoint)) for waypoint in plan.route]
    for _, (x, y) in waypoints:
        add(group, "path", {"class": "waypoint", "d": f"M{x - 4:.1f} {y:.1f}h8M{x:.1f} {y - 4:.1f}v8"})
    lettering = Lettering((MARGIN_PX, MARGIN_PX, sheet.width - MARGIN_PX, sheet.height - MARGIN_PX))
    for name, at in (waypoints[0], waypoints[-1]):
        lettering.write(group, "waypoint-name", at, name)
    for day, at in zip(plan.days[1:], days[1:], strict=True):  # the first begins where the waypoint's name stands
        date = ship_clock(day.start, hours.offset)
        words = f"day {day.day}, {date:%a} {date.day}" if sheet.width > ROOMY_PX else f"day {day.day}"
        lettering.write(group, "day-name", at, words)
    for name, at in waypoints[1:-1]:
        lettering.write(group, "waypoint-name", at, name)


def _waypoint(sheet: Sheet, waypoint: Waypoint) -> tuple[float, float]:
    """Return a waypoint's place on the paper, its longitude counted as the sheet counts."""
    lon = waypoint.lon + 360.0 * np.round((sheet.middle_lon - waypoint.lon) / 360.0)
    x, y = sheet.place(np.array([lon]), np.array([waypoint.lat]))[0]
    return float(x), float(y)
