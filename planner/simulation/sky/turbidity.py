"""The monthly Linke turbidity along a track, from the table that pvlib carries."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats

CELLS_PER_DEGREE = 12  # 1/degree, the table's resolution of 5 arc minutes
ROWS, COLUMNS = 180 * CELLS_PER_DEGREE, 360 * CELLS_PER_DEGREE
TILE: Final = 5 * CELLS_PER_DEGREE  # cells, side of the squares in which the table is read
TILES_KEPT: Final = 64  # of 43 kB each; an ocean's worth
STORED_PER_UNIT = 20.0  # 1, the table holds twenty times the turbidity in a byte


def monthly_turbidity(lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Return the Linke turbidity of each month at each place.

    Parameters
    ----------
    lat_deg, lon_deg : array (n,)
        North and east, lon in [-180, 180) [degree].

    Returns
    -------
    array (n, 12)
        January to December, of the table's cell that holds the place [1].

    References
    ----------
    Remund, Wald, Lefevre, Ranchin and Page (2003), Worldwide Linke turbidity information, ISES Solar World Congress;
    the table LinkeTurbidities.h5 of pvlib, rows from 90 N southward, columns from 180 W eastward.
    """
    row = _nearest(lat_deg, 90.0, -CELLS_PER_DEGREE, ROWS)
    column = _nearest(lon_deg, -180.0, CELLS_PER_DEGREE, COLUMNS)
    values = np.empty((row.size, 12))
    tiles, of_place = np.unique(np.stack([row, column]) // TILE, axis=1, return_inverse=True)
    for number, (down, right) in enumerate(tiles.T.tolist()):
        mine = of_place.reshape(-1) == number
        values[mine] = _tile(down, right)[row[mine] - down * TILE, column[mine] - right * TILE]
    return values / STORED_PER_UNIT


def _nearest(degrees: Floats, first_edge: float, per_degree: int, size: int) -> npt.NDArray[np.int64]:
    """Return the cell whose middle is nearest, in pvlib's order of operations, which settles the ties."""
    first_middle = first_edge + 1.0 / per_degree / 2.0
    return np.clip(np.around((degrees - first_middle) * per_degree), 0, size - 1).astype(np.int64)


@lru_cache(maxsize=TILES_KEPT)
def _tile(down: int, right: int) -> npt.NDArray[np.uint8]:
    """Read a square of the table, (row, column, month); members on their own tracks lie near each other."""
    import h5py
    import pvlib

    with h5py.File(Path(pvlib.__file__).parent / "data" / "LinkeTurbidities.h5", "r") as file:
        table = file["LinkeTurbidity"]
        return np.asarray(table[down * TILE : (down + 1) * TILE, right * TILE : (right + 1) * TILE, :])
