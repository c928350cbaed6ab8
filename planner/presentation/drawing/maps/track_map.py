"""The map: the track on a Mercator chart with its own coastline, whole across the 180th meridian."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.plan import Plan
from planner.presentation.drawing.labels import Lettering
from planner.presentation.drawing.maps.graticule import draw_graticule
from planner.presentation.drawing.maps.map_sheet import WIDE_PX, MapSheet, sheet_for, sheets_with_land
from planner.presentation.drawing.plots import engine_runs
from planner.presentation.drawing.svg import add, dot, markup, path, polyline, readable, rings
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import engine_words, hours_of
from planner.presentation.words.wording import bearing, latitude, longitude, percent, ship_clock

ROOMY_PX = 400.0  # a sheet this wide has room for dates
CLEAR_PX, OVERCAST_PX = 1.5, 13.0  # half the breadth of the cloud ribbon
TANGENT_HOURS = 6  # the ribbon follows the track's way over so many hours, not each tack
ROW_HOURS = 6


def track_map(plan: Plan) -> Figure:
    """Return the map: land, track with day marks, cloud along it as a ribbon, engine runs."""
    lon, lat = np.unwrap(plan.track["lon"].values, period=360.0), plan.track["lat"].values
    ends = [waypoint.name for waypoint in (plan.route[0], plan.route[-1])]
    label = f"Map of the track from {ends[0]} to {ends[1]}: a mark each day, cloud, engine runs. Its table follows."
    drawings = tuple(
        _draw(plan, sheet, sheet.begun(land, label=label), sheet.place(lon, lat))
        for sheet, land in sheets_with_land(lambda width: sheet_for(lon, lat, width))
    )
    texts = _texts(plan)
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


def _texts(plan: Plan) -> list[list[str]]:
    hours, cloud = hours_of(plan), _cloud(plan)
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


def _draw(plan: Plan, sheet: MapSheet, root: ET.Element, course: Floats) -> Markup:
    hours = hours_of(plan)
    hourly = course[hours.first_steps]
    draw_graticule(root, sheet)
    path(root, "area cloud", _ribbon(hourly, _half_breadth(sheet, _cloud(plan))))
    path(root, "line track", polyline(course))
    for run in engine_runs(plan, hours):
        first, last = round(run.start_h / hours.step_h), round(run.stop_h / hours.step_h)
        path(root, f"line {run.css}", polyline(course[first : last + 1]))
    _marks(root, plan, sheet, course)
    readable(root, hourly, radius=6.0)
    return markup(root)


def _cloud(plan: Plan) -> Floats:
    """Return hourly means of cloud over the members (hour,)."""
    return hours_of(plan).mean(plan.harvest["cloud_cover"].values.mean(axis=0))


def _half_breadth(sheet: MapSheet, cloud: Floats) -> Floats:
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


def _marks(root: ET.Element, plan: Plan, sheet: MapSheet, course: Floats) -> None:
    """Mark days and waypoints, then name both ends, the days and, where there is room, the waypoints between."""
    group = add(root, "g", {"class": "marks"})
    hours = hours_of(plan)
    begins = [round(hours.since_start(day.start) / hours.step_h) for day in plan.days]
    days = [(float(x), float(y)) for x, y in course[begins]]
    for at in days:
        dot(group, "day-mark", at, 4.0)
    lat, lon = (np.array([getattr(waypoint, name) for waypoint in plan.route]) for name in ("lat", "lon"))
    turned = lon + 360.0 * np.round((sheet.middle_lon - lon) / 360.0)  # counted as the sheet counts
    places = [(float(x), float(y)) for x, y in sheet.place(turned, lat)]
    waypoints = [(waypoint.name, at) for waypoint, at in zip(plan.route, places, strict=True)]
    for _, (x, y) in waypoints:
        path(group, "waypoint", f"M{x - 4:.1f} {y:.1f}h8M{x:.1f} {y - 4:.1f}v8")
    lettering = Lettering(sheet.edges)
    for name, at in (waypoints[0], waypoints[-1]):
        lettering.write(group, "waypoint-name", at, name)
    for day, at in zip(plan.days[1:], days[1:], strict=True):  # the first begins where the waypoint's name stands
        date = ship_clock(day.start, hours.offset)
        name = f"day {day.day}, {date:%a} {date.day}" if sheet.width > ROOMY_PX else f"day {day.day}"
        lettering.write(group, "day-name", at, name)
    for name, at in waypoints[1:-1]:
        lettering.write(group, "waypoint-name", at, name)
