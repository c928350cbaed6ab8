"""GRIB messages to write in many grids, of a wind that is known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

U10, V10 = {"shortName": "10u"}, {"shortName": "10v"}
COVER = {"shortName": "tcc"}
AIR = {"shortName": "2t"}
LIGHT = {"shortName": "ssrd"}
RAIN = {"shortName": "tp"}
LEVELS_1 = {
    **{name: {"typeOfLevel": "heightAboveGround", "level": 10} for name in ("10u", "10v")},
    "2t": {"typeOfLevel": "heightAboveGround", "level": 2},
    **{name: {"typeOfLevel": "surface", "level": 0} for name in ("tcc", "ssrd", "tp", "fdir")},
}
"""Where GRIB 1 has the quantities; GRIB 2 knows by their names."""
GRID_RELATIVE = 8  # bit 5 of the resolution and component flags, WMO flag table 3.3
RADIUS_M = 6371229.0  # m, of the sphere that GRIB calls shape 6


@dataclass(frozen=True)
class Message:
    """One GRIB message.

    Attributes
    ----------
    what : mapping
        Keys that name the quantity.
    values : array (n,) or float
        In scanning order.
    step : str
        Range of steps [h].
    keys : mapping
        More keys, set before the values.
    """

    what: Mapping[str, Any]
    values: Floats | float
    step: str = "0"
    keys: Mapping[str, Any] | None = None


def write_grib(
    path: Path, grid: Mapping[str, Any], messages: Sequence[Message], *, edition: int = 2, date: int = 20270508
) -> Path:
    """Write messages on one grid and return the file's path.

    Parameters
    ----------
    path : Path
    grid : mapping
        Keys of the grid, set in order; ``pl`` as an array.
    messages : sequence of Message
    edition : {1, 2}
    date : int
        Of the start, at 12 UTC.
    """
    import eccodes

    with path.open("wb") as file:
        for message in messages:
            handle = _on_grid(grid, edition)
            levels = LEVELS_1[message.what["shortName"]] if edition == 1 else {}
            keys = {"dataDate": date, "dataTime": 1200, **message.what, **levels, **(message.keys or {})}
            for key, value in keys.items():
                eccodes.codes_set(handle, key, value)
            if message.step != "0":
                eccodes.codes_set(handle, "stepRange", message.step)
            size = eccodes.codes_get_size(handle, "values")
            eccodes.codes_set_values(handle, np.broadcast_to(np.asarray(message.values, dtype=float), size).copy())
            eccodes.codes_write(handle, file)
            eccodes.codes_release(handle)
    return path


def places(grid: Mapping[str, Any], *, edition: int = 2) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes of a grid's nodes in scanning order, longitudes 0 to 360 [degree]."""
    import eccodes

    handle = _on_grid(grid, edition)
    found = eccodes.codes_get_array(handle, "latitudes"), eccodes.codes_get_array(handle, "longitudes") % 360.0
    eccodes.codes_release(handle)
    return found


def _on_grid(grid: Mapping[str, Any], edition: int) -> Any:
    import eccodes

    handle = eccodes.codes_grib_new_from_samples(f"GRIB{edition}")
    for key, value in grid.items():
        if edition == 1 and key == "LaDInDegrees":  # 60 degrees, or that of the cone: GRIB 1 has no room for it
            continue
        if isinstance(value, np.ndarray):
            eccodes.codes_set_array(handle, key, value)
        else:
            eccodes.codes_set(handle, key, value)
    count = grid.get("Nx", grid.get("Ni", 0)) * grid.get("Ny", grid.get("Nj", 0)) or int(np.sum(grid.get("pl", 0)))
    eccodes.codes_set(handle, "bitsPerValue", 24)
    eccodes.codes_set_values(handle, np.linspace(0.0, 1.0, count))
    return handle


SOUTHERN_LAMBERT: dict[str, Any] = {
    "gridType": "lambert",
    "Nx": 41,
    "Ny": 31,
    "latitudeOfFirstGridPointInDegrees": -36.0,
    "longitudeOfFirstGridPointInDegrees": 171.0,
    "LaDInDegrees": -30.0,
    "LoVInDegrees": 160.0,
    "Latin1InDegrees": -25.0,
    "Latin2InDegrees": -40.0,
    "DxInMetres": 50000,
    "DyInMetres": 50000,
    "jScansPositively": 1,
}
REGULAR: dict[str, Any] = {
    "gridType": "regular_ll",
    "Ni": 21,
    "Nj": 21,
    "latitudeOfFirstGridPointInDegrees": -18.0,
    "longitudeOfFirstGridPointInDegrees": 170.0,
    "latitudeOfLastGridPointInDegrees": -38.0,
    "longitudeOfLastGridPointInDegrees": 190.0,
    "iDirectionIncrementInDegrees": 1.0,
    "jDirectionIncrementInDegrees": 1.0,
}
