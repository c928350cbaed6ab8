"""Maps of a forecast at a few times: cloud or sunlight as a hatch that thickens, wind as barbs, our own coastline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET

import numpy as np
from markupsafe import Markup

from planner.domain.arrays import Floats
from planner.domain.results.forecast import ForecastAccount
from planner.domain.units import M_S_PER_KN
from planner.domain.utc import from_numpy, to_numpy
from planner.presentation.drawing.maps.coastline import land_within
from planner.presentation.drawing.maps.graticule import Graticule, draw_graticule
from planner.presentation.drawing.maps.track_map import (
    MARGIN_PX,
    NARROW_PX,
    WIDE_PX,
    Sheet,
    land_path,
    sheet_for,
    sheet_of_box,
)
from planner.presentation.drawing.maps.wind_barbs import draw_barbs
from planner.presentation.drawing.svg import add, markup, picture, polyline
from planner.presentation.words.content import Column, Picture, Table
from planner.presentation.words.wording import bearing, latitude, longitude, percent

if TYPE_CHECKING:
    import xarray as xr

MOST_TIMES = 3
HATCH_PX = 4.5  # from line to line where the hatch is thickest
ALONG_PX = 3.0  # at which the field is looked up along a line
BARBS_PX = {WIDE_PX: 52.0, NARROW_PX: 44.0}
EDGE_DEG = 0.25  # degree, drawn on either side of a single row or column
ROUND_DEG = 250.0  # degree; a wider grid is drawn as a chart of the world
HIGHEST_LAT = 68.0  # degree, of a chart of the world
COVER: Final = (0.2, 0.4, 0.6, 0.8)  # 1, cover from which on each set of lines is drawn
LIGHT_W_M2: Final = (60.0, 140.0, 220.0, 300.0)  # W/m2, the same of a day's mean light
DAY: Final = np.timedelta64(24, "h")
BARB_WORDS = (
    "Barbs point to where the wind comes from: half a feather is 5 kn, a whole one 10, a filled one 50, a ring calm."
)


@dataclass(frozen=True, eq=False)
class _Field:
    """What is hatched at one time.

    Attributes
    ----------
    values : array (lat, lon)
    levels : tuple of float
        From which on each set of lines is drawn.
    css, words, unit : str
        Its style, what it is, and how its figures are written.
    """

    values: Floats
    levels: tuple[float, ...]
    css: str
    words: str


def weather_pictures(account: ForecastAccount) -> tuple[tuple[Picture, ...], tuple[Table, ...]]:
    """Return maps of a forecast and what they show in figures; none where there is nothing to draw.

    Parameters
    ----------
    account : ForecastAccount
    """
    joined = account.joined
    if joined is None or not _times(account):
        return (), ()
    sheets = [_sheet(joined, width) for width in (WIDE_PX, NARROW_PX)]
    within = land_within(*sheets[0].box())
    land = [land_path(sheet, within) for sheet in sheets]
    pictures, rows = [], []
    for moment in _times(account):
        field = _field(joined, moment)
        wind = _wind(joined, moment)
        if field is None and wind is None:
            continue
        name = _named(moment)
        told = _figures(joined, field, wind)
        label = f"Map at {name} UTC: {_span_words(told)}. Its table follows."
        drawings = tuple(
            _draw(joined, sheet, path, field=field, wind=wind, label=label, css=css)
            for sheet, path, css in zip(sheets, land, ("wide", "narrow"), strict=True)
        )
        pictures.append(Picture(f"{name} UTC", _caption(joined, field, wind), (), drawings))
        rows += [(f"{name}", *row) for row in told]
    columns = ("When, UTC", "Where", "Sky", "Wind")
    table = Table("The maps in figures", tuple(Column(words, "left") for words in columns), tuple(rows))
    return tuple(pictures), (table,)


def _times(account: ForecastAccount) -> list[np.datetime64]:
    """Return departure or the first time, the last, and one between."""
    assert account.joined is not None
    joined = account.joined
    time = joined["time"].to_numpy()
    if not time.size and "interval_end" in joined.coords:
        time = joined["interval_end"].to_numpy()
    if not time.size:
        return []
    first = time[0]
    if account.departure is not None:
        departure = to_numpy(account.departure)
        first = time[int(np.argmin(np.abs(time - departure)))]
    left = time[time >= first]
    return list(dict.fromkeys(left[np.linspace(0, left.size - 1, MOST_TIMES).round().astype(int)]))


def _sheet(joined: xr.Dataset, width: float) -> Sheet:
    lat, lon = joined["lat"].to_numpy(), joined["lon"].to_numpy()
    if np.ptp(lon) < ROUND_DEG:
        return sheet_for(lon, np.clip(lat, -HIGHEST_LAT - 10.0, HIGHEST_LAT + 10.0), width)
    middle = float(np.round(lon.mean()))
    edges = np.array([middle - 179.9, middle + 179.9]), np.clip(lat[[0, -1]], -HIGHEST_LAT, HIGHEST_LAT)
    return sheet_of_box(*edges, width)


def _field(joined: xr.Dataset, moment: np.datetime64) -> _Field | None:
    if "cloud_cover" in joined:
        cover = joined["cloud_cover"].sel(time=moment, method="nearest").mean("member").to_numpy()
        return _Field(cover.astype(np.float64), COVER, "hatch", "cloud")
    if "ghi_w_m2" not in joined:
        return None
    begin, end = joined["interval"].to_numpy(), joined["interval_end"].to_numpy()
    day = np.flatnonzero((begin >= moment - DAY / 2) & (end <= moment + DAY / 2))
    if not day.size:
        day = np.array([int(np.argmin(np.abs(end - moment)))])
    hours = np.maximum((end - begin)[day] / np.timedelta64(1, "s"), 1.0)
    light = joined["ghi_w_m2"].isel(interval=day).mean("member").to_numpy()
    return _Field(np.average(light, axis=0, weights=hours), LIGHT_W_M2, "hatch sunlight", "light")


def _wind(joined: xr.Dataset, moment: np.datetime64) -> tuple[Floats, Floats] | None:
    names = ("wind_east_m_s", "wind_north_m_s")
    if not all(name in joined for name in names):
        return None
    east, north = (
        joined[name].isel(member=0).sel(time=moment, method="nearest").to_numpy().astype(np.float64) for name in names
    )
    return east, north


def _draw(
    joined: xr.Dataset,
    sheet: Sheet,
    land: str,
    *,
    field: _Field | None,
    wind: tuple[Floats, Floats] | None,
    label: str,
    css: str,
) -> Markup:
    root = picture(sheet.width, sheet.height, label=label, css=f"map {css}")
    add(root, "rect", {"class": "open-sea", "x": 0.0, "y": 0.0, "width": sheet.width, "height": sheet.height})
    add(root, "path", {"class": "land", "d": land, "fill-rule": "evenodd"})
    if field is not None:
        _hatch(root, joined, sheet, field)
    lon_low, lon_high, lat_low, lat_high = sheet.box()
    size = (sheet.width, sheet.height)
    draw_graticule(
        root, Graticule(lon=(lon_low, lon_high), lat=(lat_low, lat_high), size=size, inset=MARGIN_PX), sheet.place
    )
    _outline(root, joined, sheet)
    if wind is not None:
        at = _stations(joined, sheet)
        lon, lat = sheet.position(at)
        east, north = (_looked_up(joined, part, lon, lat) for part in wind)
        draw_barbs(root, at, east, north, lat)
    return markup(root)


def _hatch(root: ET.Element, joined: xr.Dataset, sheet: Sheet, field: _Field) -> None:
    """Draw slanting lines where the field is above their level: every fourth from the lowest on."""
    width, height = sheet.width - 2 * MARGIN_PX, sheet.height - 2 * MARGIN_PX
    offsets = np.arange(0.0, width + height, HATCH_PX * np.sqrt(2.0))
    order = (0, 2, 1, 3)  # of four neighbours, which comes when
    drawn = []
    for number, offset in enumerate(offsets):
        x = np.arange(max(0.0, offset - height), min(width, offset) + 1e-9, ALONG_PX)
        if x.size < 2:
            continue
        points = np.column_stack([MARGIN_PX + x, MARGIN_PX + offset - x])
        value = _looked_up(joined, field.values, *sheet.position(points))
        thick = np.nan_to_num(value, nan=-np.inf) >= field.levels[order[number % 4]]
        edges = np.flatnonzero(np.diff(np.concatenate([[False], thick, [False]]).astype(np.int8)))
        drawn += [polyline(*points[[first, end - 1]].T) for first, end in edges.reshape(-1, 2) if end - first > 1]
    if drawn:
        add(root, "path", {"class": field.css, "d": "".join(drawn)})


def _outline(root: ET.Element, joined: xr.Dataset, sheet: Sheet) -> None:
    """Draw how far the forecast reaches."""
    lat, lon = joined["lat"].to_numpy(), joined["lon"].to_numpy()
    if np.ptp(lon) >= ROUND_DEG:
        return
    corners = sheet.place(lon[[0, -1, -1, 0]], np.clip(lat[[0, 0, -1, -1]], -HIGHEST_LAT - 10.0, HIGHEST_LAT + 10.0))
    add(root, "path", {"class": "edge", "d": f"{polyline(corners[:, 0], corners[:, 1])}Z"})


def _stations(joined: xr.Dataset, sheet: Sheet) -> Floats:
    """Return where barbs stand on the paper: evenly apart, or at the grid's own points where these are fewer."""
    apart = BARBS_PX[sheet.width]
    across, down = (max(1, int((size - 2 * MARGIN_PX) // apart)) for size in (sheet.width, sheet.height))
    lat, lon = joined["lat"].to_numpy(), joined["lon"].to_numpy()
    if lon.size <= across and lat.size <= down:
        return sheet.place(*(axis.ravel() for axis in np.meshgrid(lon, lat)))
    x = MARGIN_PX + (np.arange(across) + 0.5) * (sheet.width - 2 * MARGIN_PX) / across
    y = MARGIN_PX + (np.arange(down) + 0.5) * (sheet.height - 2 * MARGIN_PX) / down
    return np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])


def _looked_up(joined: xr.Dataset, values: Floats, lon: Floats, lat: Floats) -> Floats:
    """Return a field (lat, lon) at places, on a line between its points; NaN beyond them."""
    from scipy.interpolate import RegularGridInterpolator

    axes = []
    for axis, name in enumerate(("lat", "lon")):
        nodes = joined[name].to_numpy().astype(np.float64)
        if nodes.size == 1:
            nodes, values = nodes[0] + np.array([-EDGE_DEG, EDGE_DEG]), np.repeat(values, 2, axis=axis)
        elif name == "lon" and nodes[-1] < nodes[0] + 360.0 <= nodes[-1] + 1.5 * (nodes[1] - nodes[0]):
            nodes, values = np.append(nodes, nodes[0] + 360.0), np.concatenate([values, values[:, :1]], axis=1)
        axes.append(nodes)
    turned = lon if axes[1][-1] - axes[1][0] < 359.0 else axes[1][0] + (lon - axes[1][0]) % 360.0
    found = RegularGridInterpolator(axes, values, bounds_error=False)(np.column_stack([lat, turned]))
    return np.asarray(found, dtype=np.float64)


def _figures(
    joined: xr.Dataset, field: _Field | None, wind: tuple[Floats, Floats] | None
) -> list[tuple[str, str, str]]:
    """Return where, sky and wind at corners, sides and middle of the grid."""
    lat, lon = joined["lat"].to_numpy(), joined["lon"].to_numpy()
    rows = dict.fromkeys((lat.size - 1, lat.size // 2, 0))
    columns = dict.fromkeys((0, lon.size // 2, lon.size - 1))
    told = []
    for row in rows:
        for column in columns:
            sky = _sky_words(field, float(field.values[row, column])) if field is not None else ""
            blows = _wind_words(float(wind[0][row, column]), float(wind[1][row, column])) if wind is not None else ""
            told.append((f"{latitude(lat[row])} {longitude(lon[column])}", sky, blows))
    return told


def _sky_words(field: _Field, value: float) -> str:
    if not np.isfinite(value):
        return "no value"
    return f"cloud {percent(value)}" if field.words == "cloud" else f"light {value:.0f} W/m2"


def _wind_words(east: float, north: float) -> str:
    if not np.isfinite(east + north):
        return "no value"
    return f"from {bearing(np.degrees(np.arctan2(-east, -north)))} {np.hypot(east, north) / M_S_PER_KN:.0f} kn"


def _span_words(told: Sequence[tuple[str, str, str]]) -> str:
    where, sky, wind = told[len(told) // 2]
    return f"in the middle, {where}, {' and wind '.join(part for part in (sky, wind) if part)}"


def _caption(joined: xr.Dataset, field: _Field | None, wind: tuple[Floats, Floats] | None) -> str:
    members = joined.sizes["member"]
    words = []
    if field is not None:
        mean = ", mean of the members" if members > 1 else ""
        levels = [percent(each) if field.words == "cloud" else f"{each:.0f}" for each in field.levels]
        kind = f"cloud{mean}" if field.words == "cloud" else f"the day's mean light{mean}, in W/m2"
        words.append(f"Slanting lines: {kind}; thicker from {', '.join(levels[:-1])} and {levels[-1]} on.")
    if wind is not None:
        words.append(BARB_WORDS + (" Wind is the first member's." if members > 1 else ""))
    return " ".join([*words, "Not for navigation."])


def _named(moment: np.datetime64) -> str:
    when = from_numpy(moment)
    return f"{when:%a} {when.day} {when:%b %Y %H:%M}"
