#!/usr/bin/env python3
"""Print the monthly mean clearness of the sea's sky by latitude, as planner/simulation/sky/climate.py holds it.

Usage: ``python scripts/make_clearness.py PDFS.npz`` (the file of the PyPI package gsee-climate-data 1.0.0: how often
a day's sunlight of each month takes which value in MERRA-2, 2011 to 2015, on land and the sea near it, 3 degrees).

Of each cell that is mostly sea the month's mean is divided by the planner's clear sky; a band of ten degrees has the
mean of its cells. Beside it stands how wide the days of one cell and month scatter on the scale of doubt.
"""

from __future__ import annotations

import sys
from pathlib import Path

import h5py
import numpy as np
import numpy.typing as npt
import pvlib

from planner.physics.sky.doubt import on_scale
from planner.simulation.sky.clear_sky import clear_sky

Floats = npt.NDArray[np.float64]
SEA = 255  # pvlib's Altitude.h5 has no height there
MOSTLY = 0.6  # 1, of a cell
HALF_CELL_DEG = 1.5
BAND_DEG = 10


def sea_share(lat: Floats, lon: Floats) -> Floats:
    """Return how much of each cell is sea, (lat, lon) [0..1]."""
    with h5py.File(Path(pvlib.__file__).parent / "data" / "Altitude.h5") as file:
        sea = file["Altitude"][:] == SEA
    rows, columns = sea.shape
    share = np.empty((lat.size, lon.size))
    for i, north in enumerate(lat):
        top, bottom = (round((90.0 - edge) / 180.0 * rows) for edge in (north + HALF_CELL_DEG, north - HALF_CELL_DEG))
        for j, east in enumerate(lon):
            left = round((east - HALF_CELL_DEG + 180.0) / 360.0 * columns)
            across = np.arange(left, left + round(2.0 * HALF_CELL_DEG / 360.0 * columns)) % columns
            share[i, j] = sea[top:bottom][:, across].mean()
    return share


def clear_mean(month: int, lat: float, lon: float) -> float:
    """Return the clear sky's mean over the middle day of a month [W/m2]."""
    time = np.datetime64(f"2013-{month:02d}-15", "ns") + np.arange(144) * np.timedelta64(10, "m")
    return float(clear_sky(time, np.full(144, lat), np.full(144, lon))[2].mean())


def main() -> None:
    """Print the table."""
    if len(sys.argv) != 2:
        sys.exit(str(__doc__))
    held = np.load(sys.argv[1])
    lat, lon = held["lat"], held["lon"]
    light, chance = (np.nan_to_num(held[name]).astype(np.float64) for name in ("xk", "pk"))
    at_sea = np.isfinite(held["pk"]).all(axis=(2, 3)) & (sea_share(lat, lon) >= MOSTLY)
    rows, columns = np.nonzero(at_sea)
    clear = np.array(
        [[clear_mean(m, lat[i], lon[j]) for m in range(1, 13)] for i, j in zip(rows, columns, strict=True)]
    )
    index = np.maximum(light[rows, columns], 0.0) / clear[..., None]
    weight = chance[rows, columns] / chance[rows, columns].sum(axis=-1, keepdims=True)
    mean, scaled = (index * weight).sum(axis=-1), on_scale(index)
    middle = (scaled * weight).sum(axis=-1, keepdims=True)
    scatter = np.sqrt(((scaled - middle) ** 2 * weight).sum(axis=-1))
    for south in range(-60, 70, BAND_DEG):
        band = (lat[rows] >= south) & (lat[rows] < south + BAND_DEG)
        months = ", ".join(f"{100 * each:.0f}" for each in mean[band].mean(axis=0))
        width = scatter[band].mean()
        print(f"({months}),  # {south} to {south + BAND_DEG}: {band.sum()} cells, days scatter {width:.2f}")


if __name__ == "__main__":
    main()
