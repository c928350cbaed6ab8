"""The monthly Linke turbidity along a track, from the table that pvlib carries."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import h5py

Floats = npt.NDArray[np.float64]

CELLS_PER_DEGREE = 12  # 1/degree, the table's resolution of 5 arc minutes
ROWS, COLUMNS = 180 * CELLS_PER_DEGREE, 360 * CELLS_PER_DEGREE
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
    import h5py
    import pvlib

    row = _nearest(lat_deg, 90.0, -CELLS_PER_DEGREE, ROWS)
    column = _nearest(lon_deg, -180.0, CELLS_PER_DEGREE, COLUMNS)
    with h5py.File(Path(pvlib.__file__).parent / "data" / "LinkeTurbidities.h5", "r") as file:
        table = file["LinkeTurbidity"]
        values = np.empty((row.size, 12))
        for side in (column < COLUMNS // 2, column >= COLUMNS // 2):  # two boxes: a track may cross the antimeridian
            if side.any():
                values[side] = _box(table, row[side], column[side])
    return values / STORED_PER_UNIT


def _nearest(degrees: Floats, first_edge: float, per_degree: int, size: int) -> npt.NDArray[np.int64]:
    """Return the cell whose middle is nearest, in pvlib's order of operations, which settles the ties."""
    first_middle = first_edge + 1.0 / per_degree / 2.0
    return np.clip(np.around((degrees - first_middle) * per_degree), 0, size - 1).astype(np.int64)


def _box(table: h5py.Dataset, row: npt.NDArray[np.int64], column: npt.NDArray[np.int64]) -> Floats:
    """Read the smallest box that holds all cells once, and pick them from it."""
    top, left = row.min(), column.min()
    box = table[top : row.max() + 1, left : column.max() + 1, :]
    return np.asarray(box[row - top, column - left, :], dtype=np.float64)
