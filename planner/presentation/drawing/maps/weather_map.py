"""Maps of a forecast at a few times: cloud or sunlight as a hatch that thickens, wind as barbs, our own coastline."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.forecast import ForecastAccount
from planner.domain.units import M_S_PER_KN
from planner.domain.utc import from_numpy, to_numpy
from planner.presentation.drawing.maps.graticule import draw_graticule
from planner.presentation.drawing.maps.map_sheet import (
    MARGIN_PX,
    NARROW_PX,
    WIDE_PX,
    MapSheet,
    sheet_for,
    sheet_of_box,
    sheets_with_land,
)
from planner.presentation.drawing.maps.wind_barbs import draw_barbs
from planner.presentation.drawing.svg import markup, path, polyline, rings, stretches
from planner.presentation.words.content import Column, Picture, Table
from planner.presentation.words.weather import date_and_time
from planner.presentation.words.wording import bearing, latitude, longitude, percent
from planner.presentation.words.wording import joined as listed

if TYPE_CHECKING:
    import xarray as xr

MOST_TIMES = 3
HATCH_PX = 4.5  # from line to line where the hatch is thickest
ALONG_PX = 3.0  # at which the field is looked up along a line
BARBS_PX = {WIDE_PX: 52.0, NARROW_PX: 44.0}
EDGE_DEG = 0.25  # degree, drawn on either side of a single row or column
ROUND_DEG = 250.0  # degree; a wider grid is drawn as a chart of the world
HIGHEST_LAT = 68.0  # degree, of a chart of the world
FAR_LAT = (-78.0, 78.0)  # degree, of any other: Mercator has no poles
COVER: Final = (0.2, 0.4, 0.6, 0.8)  # 1, cover from which on each set of lines is drawn
LIGHT_W_M2: Final = (60.0, 140.0, 220.0, 300.0)  # W/m2, the same of a day's mean light
DAY: Final = np.timedelta64(24, "h")
BARB_WORDS = (
    "Barbs point to where the wind comes from: half a feather is 5 kn, a whole one 10, a filled one 50, a ring calm."
)


@dataclass(frozen=True, eq=False)
class _Shown:
    """What the grid of a forecast shows at one time; what it does not hold is None.

    Attributes
    ----------
    lat, lon : array (lat,), array (lon,)
        [degree].
    many : bool
        Whether there are several members.
    cloud, light : array (lat, lon) or None
        Cover [0..1]; where there is none, the day's mean light [W/m2].
    wind : tuple of array (lat, lon) or None
        Toward east and north [m/s].
    """

    lat: Floats
    lon: Floats
    many: bool
    cloud: Floats | None
    light: Floats | None
    wind: tuple[Floats, ...] | None


def weather_pictures(account: ForecastAccount) -> tuple[tuple[Picture, ...], tuple[Table, ...]]:
    """Return maps of a forecast and what they show in figures; none where there is nothing to draw.

    Parameters
    ----------
    account : ForecastAccount
    """
    joined = account.joined
    times = [] if joined is None else _times(joined, account.departure)
    if joined is None or not times:
        return (), ()
    lat, lon = joined["lat"].to_numpy(), joined["lon"].to_numpy()
    sheets = sheets_with_land(lambda width: _sheet(lat, lon, width))
    pictures, rows = [], []
    for moment in times:
        sky = _cloud(joined, moment), _light(joined, moment)
        shown = _Shown(lat, lon, joined.sizes["member"] > 1, *sky, _wind(joined, moment))
        if all(part is None for part in (*sky, shown.wind)):
            continue
        name = date_and_time(from_numpy(moment))
        figures = _figures(shown)
        label = f"Map at {name} UTC: {_span_words(figures)}. Its table follows."
        drawings = tuple(_draw(shown, sheet, sheet.begun(land, label=label)) for sheet, land in sheets)
        pictures.append(Picture(f"{name} UTC", _caption(shown), (), drawings))
        rows += [(f"{name}", *row) for row in figures]
    columns = ("When, UTC", "Where", "Sky", "Wind")
    table = Table("The maps in figures", tuple(Column(words, "left") for words in columns), tuple(rows))
    return tuple(pictures), (table,)


def _times(joined: xr.Dataset, departure: datetime | None) -> list[np.datetime64]:
    """Return departure or the first time, the last, and one between."""
    held = (joined[name].to_numpy() for name in ("time", "interval_end") if name in joined.coords)
    time = next((each for each in held if each.size), None)
    if time is None:
        return []
    first = time[0] if departure is None else time[int(np.argmin(np.abs(time - to_numpy(departure))))]
    left = time[time >= first]
    return list(dict.fromkeys(left[np.linspace(0, left.size - 1, MOST_TIMES).round().astype(int)]))


def _sheet(lat: Floats, lon: Floats, width: float) -> MapSheet:
    if np.ptp(lon) < ROUND_DEG:
        return sheet_for(lon, np.clip(lat, *FAR_LAT), width)
    middle = float(np.round(lon.mean()))
    edges = np.array([middle - 179.9, middle + 179.9]), np.clip(lat[[0, -1]], -HIGHEST_LAT, HIGHEST_LAT)
    return sheet_of_box(*edges, width)


def _cloud(joined: xr.Dataset, moment: np.datetime64) -> Floats | None:
    if "cloud_cover" not in joined:
        return None
    return joined["cloud_cover"].sel(time=moment, method="nearest").mean("member").to_numpy().astype(np.float64)


def _light(joined: xr.Dataset, moment: np.datetime64) -> Floats | None:
    """Return the mean light of the day about a moment, where light is forecast and no cloud."""
    if "ghi_w_m2" not in joined or "cloud_cover" in joined:
        return None
    begin, end = joined["interval"].to_numpy(), joined["interval_end"].to_numpy()
    day = np.flatnonzero((begin >= moment - DAY / 2) & (end <= moment + DAY / 2))
    if not day.size:
        day = np.array([int(np.argmin(np.abs(end - moment)))])
    hours = np.maximum((end - begin)[day] / np.timedelta64(1, "s"), 1.0)
    return np.asarray(np.average(joined["ghi_w_m2"].isel(interval=day).mean("member"), axis=0, weights=hours))


def _wind(joined: xr.Dataset, moment: np.datetime64) -> tuple[Floats, ...] | None:
    names = ("wind_east_m_s", "wind_north_m_s")
    if not all(name in joined for name in names):
        return None
    now = joined.isel(member=0).sel(time=moment, method="nearest")
    return tuple(now[name].to_numpy().astype(np.float64) for name in names)


def _draw(shown: _Shown, sheet: MapSheet, root: ET.Element) -> Markup:
    for values, levels, css in ((shown.cloud, COVER, "hatch"), (shown.light, LIGHT_W_M2, "hatch sunlight")):
        if values is not None:
            path(root, css, _hatch(shown, sheet, values, levels))
    draw_graticule(root, sheet)
    if np.ptp(shown.lon) < ROUND_DEG:  # how far the forecast reaches
        west, east, south, north = *shown.lon[[0, -1]], *np.clip(shown.lat[[0, -1]], *FAR_LAT)
        corners = sheet.place(np.array([west, east, east, west]), np.array([south, south, north, north]))
        path(root, "edge", rings([corners]))
    if shown.wind is not None:
        at = _stations(shown, sheet)
        lon, lat = sheet.position(at)
        east_m_s, north_m_s = (_looked_up(shown, part, lon, lat) for part in shown.wind)
        draw_barbs(root, at, east_m_s, north_m_s, lat)
    return markup(root)


def _hatch(shown: _Shown, sheet: MapSheet, values: Floats, levels: Sequence[float]) -> str:
    """Return slanting lines where values (lat, lon) are above their level: every fourth from the lowest on."""
    width, height = sheet.width - 2 * MARGIN_PX, sheet.height - 2 * MARGIN_PX
    offsets = np.arange(0.0, width + height, HATCH_PX * np.sqrt(2.0))
    order = (0, 2, 1, 3)  # of four neighbours, which comes when
    drawn = []
    for number, offset in enumerate(offsets):
        x = np.arange(max(0.0, offset - height), min(width, offset) + 1e-9, ALONG_PX)
        if x.size < 2:
            continue
        points = np.column_stack([MARGIN_PX + x, MARGIN_PX + offset - x])
        value = _looked_up(shown, values, *sheet.position(points))
        lines = [points[part] for part in stretches(value >= levels[order[number % 4]])]  # never where none is
        drawn += [polyline(line[[0, -1]]) for line in lines if len(line) > 1]
    return "".join(drawn)


def _stations(shown: _Shown, sheet: MapSheet) -> Floats:
    """Return where barbs stand on the paper: evenly apart, or at the grid's own points where these are fewer."""
    apart = BARBS_PX[sheet.width]
    room = np.array([sheet.width, sheet.height]) - 2 * MARGIN_PX
    across, down = np.maximum(1, room // apart).astype(int)
    if shown.lon.size <= across and shown.lat.size <= down:
        return sheet.place(*(axis.ravel() for axis in np.meshgrid(shown.lon, shown.lat)))
    x, y = (
        MARGIN_PX + (np.arange(count) + 0.5) * size / count for count, size in zip((across, down), room, strict=True)
    )
    return np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])


def _looked_up(shown: _Shown, values: Floats, lon: Floats, lat: Floats) -> Floats:
    """Return a field (lat, lon) at places, on a line between its points; NaN beyond them."""
    from scipy.interpolate import RegularGridInterpolator

    axes = []
    for axis, name in enumerate(("lat", "lon")):
        nodes = getattr(shown, name).astype(np.float64)
        if nodes.size == 1:
            nodes, values = nodes[0] + np.array([-EDGE_DEG, EDGE_DEG]), np.repeat(values, 2, axis=axis)
        elif name == "lon" and nodes[-1] < nodes[0] + 360.0 <= nodes[-1] + 1.5 * (nodes[1] - nodes[0]):
            nodes, values = np.append(nodes, nodes[0] + 360.0), np.concatenate([values, values[:, :1]], axis=1)
        axes.append(nodes)
    turned = lon if axes[1][-1] - axes[1][0] < 359.0 else axes[1][0] + (lon - axes[1][0]) % 360.0
    found = RegularGridInterpolator(axes, values, bounds_error=False)(np.column_stack([lat, turned]))
    return np.asarray(found, dtype=np.float64)


def _figures(shown: _Shown) -> list[tuple[str, str, str]]:
    """Return where, sky and wind at corners, sides and middle of the grid."""
    rows, columns = (dict.fromkeys((0, axis.size // 2, axis.size - 1)) for axis in (shown.lat, shown.lon))
    return [
        (
            f"{latitude(shown.lat[row])} {longitude(shown.lon[column])}",
            _value_words(shown.cloud, row, column, lambda cover: f"cloud {percent(cover)}")
            + _value_words(shown.light, row, column, lambda light: f"light {light:.0f} W/m2"),
            "" if shown.wind is None else _wind_words(*(float(part[row, column]) for part in shown.wind)),
        )
        for row in reversed(rows)
        for column in columns
    ]


def _value_words(values: Floats | None, row: int, column: int, words: Callable[[float], str]) -> str:
    if values is None:
        return ""
    return words(float(values[row, column])) if np.isfinite(values[row, column]) else "no value"


def _wind_words(east: float, north: float) -> str:
    if not np.isfinite(east + north):
        return "no value"
    return f"from {bearing(np.degrees(np.arctan2(-east, -north)))} {np.hypot(east, north) / M_S_PER_KN:.0f} kn"


def _span_words(figures: Sequence[tuple[str, str, str]]) -> str:
    where, sky, wind = figures[len(figures) // 2]
    return f"in the middle, {where}, {' and wind '.join(part for part in (sky, wind) if part)}"


def _caption(shown: _Shown) -> str:
    mean = ", mean of the members" if shown.many else ""
    words = []
    if shown.cloud is not None:
        words.append(f"Slanting lines: cloud{mean}; {_thicker(map(percent, COVER))}")
    if shown.light is not None:
        levels = (f"{level:.0f}" for level in LIGHT_W_M2)
        words.append(f"Slanting lines: the day's mean light{mean}, in W/m2; {_thicker(levels)}")
    if shown.wind is not None:
        words.append(BARB_WORDS + (" Wind is the first member's." if shown.many else ""))
    return " ".join([*words, "Not for navigation."])


def _thicker(levels: Iterable[str]) -> str:
    return f"thicker from {listed(list(levels))} on."
