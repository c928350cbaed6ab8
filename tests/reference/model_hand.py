"""Weather as a bulletin tells it, laid out row by row: the same everywhere, and steady until the next row begins."""

from __future__ import annotations

from datetime import UTC, timedelta

import numpy as np
import xarray as xr
from model_track import cos, sin

OKTAS = {"clear": 0.0, "few": 1.5, "scattered": 3.5, "broken": 6.0, "overcast": 8.0}
COMPASS = {"N": 0.0, "NE": 45.0, "E": 90.0, "SE": 135.0, "S": 180.0, "SW": 225.0, "W": 270.0, "NW": 315.0}


def forecast_of(rows: list[dict]) -> xr.Dataset:
    """One member on the four corners of the world; each row at its beginning and a second before the next one's."""
    times, states, air = [], [], next(row["air_temp_c"] for row in rows if "air_temp_c" in row)
    for row, following in zip(rows, [*rows[1:], None], strict=True):
        air = row.get("air_temp_c", air)
        from_deg = row["wind_from_deg"] if "wind_from_deg" in row else COMPASS[row["wind_from"]]
        m_s = row["wind_kn"] * 1852.0 / 3600.0
        oktas = row["oktas"] if "oktas" in row else OKTAS[row["sky"]]
        state = (-m_s * sin(from_deg), -m_s * cos(from_deg), air, row.get("rain_mm_h", 0.0), oktas / 8.0)
        end = row["until"] if following is None else following["from"] - timedelta(seconds=1)
        times += [moment.astimezone(UTC).replace(tzinfo=None) for moment in (row["from"], end)]
        states += [state, state]
    names = ("wind_east_m_s", "wind_north_m_s", "air_temp_c", "rain_mm_h", "observed")
    grid = {"member": [0], "time": np.array(times, "M8[ns]"), "lat": [-90.0, 90.0], "lon": [-180.0, 180.0]}
    fields = {
        name: (tuple(grid), np.array(column)[None, :, None, None] * np.ones((1, 1, 2, 2)))
        for name, column in zip(names, zip(*states, strict=True), strict=True)
    }
    return xr.Dataset(fields, grid)
