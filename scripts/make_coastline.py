"""Make planner/presentation/drawing/maps/assets/coastline.npz, the land that the map draws offline.

Source: Natural Earth, physical vectors, land, 1:10m, version 4.1.0 (public domain), as redistributed in the npm
package ``world-atlas`` 2.0.2, file ``land-10m.json`` (TopoJSON). Fetch the package with
``npm pack world-atlas@2.0.2``, unpack it and give the file's path:

    python scripts/make_coastline.py package/land-10m.json

Rings are unwrapped, so that none is cut at the 180th meridian (an island may run from 179 to 181); the one that goes
round the pole is closed along it. Coordinates are rounded to a thousandth of a degree (111 m, finer than the scale of
the source) and stored as differences from vertex to vertex.
"""

from __future__ import annotations

import itertools
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

TARGET = Path(__file__).parents[1] / "planner" / "presentation" / "drawing" / "maps" / "assets" / "coastline.npz"
PER_DEGREE = 1000
MAX_STEP = 30_000  # fits int16


def main(arguments: list[str]) -> int:
    """Read the TopoJSON named in ``arguments`` and write the asset."""
    if len(arguments) != 1:
        print(__doc__)
        return 2
    topology = json.loads(Path(arguments[0]).read_text(encoding="utf-8"))
    arcs = decode_arcs(topology)
    (land,) = topology["objects"]["land"]["geometries"]
    rings: list[Any] = []
    polygon_of_ring: list[int] = []
    for number, polygon in enumerate(land["arcs"]):
        for ring in polygon:
            points = quantise(close_round_pole(unwrap(join(ring, arcs))))
            if len(points) >= 4:
                rings.append(points)
                polygon_of_ring.append(number)
    write(rings, polygon_of_ring)
    size = TARGET.stat().st_size
    print(f"{len(rings)} rings, {sum(map(len, rings))} vertices, {size / 1e3:.0f} kB: {TARGET.name}")
    return 0


def decode_arcs(topology: dict[str, Any]) -> list[Any]:
    """Return each arc as degrees (vertex, lon lat); TopoJSON stores integer differences."""
    scale, translate = (np.asarray(topology["transform"][key]) for key in ("scale", "translate"))
    return [np.cumsum(np.asarray(arc), axis=0) * scale + translate for arc in topology["arcs"]]


def join(indices: list[int], arcs: list[Any]) -> Any:
    """Return one closed ring; an index ~i is arc i backwards, and neighbours share a vertex."""
    parts = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def unwrap(ring: Any) -> Any:
    """Return the ring without jumps of longitude at the 180th meridian."""
    lon = np.unwrap(ring[:, 0], period=360.0)
    middle = (lon.min() + lon.max()) / 2
    return np.column_stack([lon - 360.0 * np.round(middle / 360.0), ring[:, 1]])


def close_round_pole(ring: Any) -> Any:
    """Close a ring that ends a whole turn from where it began along the nearer pole."""
    if abs(ring[-1, 0] - ring[0, 0]) < 180:
        return ring
    pole = np.sign(ring[:, 1].mean()) * 90.0
    return np.concatenate([ring, [[ring[-1, 0], pole], [ring[0, 0], pole], ring[0]]])


def quantise(ring: Any) -> Any:
    """Return the ring on the grid, without repeated vertices, long edges split so that differences fit int16."""
    grid = np.round(ring * PER_DEGREE).astype(np.int64)
    keep = np.concatenate([[True], np.any(np.diff(grid, axis=0) != 0, axis=1)])
    grid = grid[keep]
    out = [grid[:1]]
    for before, after in itertools.pairwise(grid):
        pieces = int(np.ceil(np.abs(after - before).max() / MAX_STEP))
        fractions = np.arange(1, pieces + 1)[:, None] / pieces
        out.append(np.round(before + fractions * (after - before)).astype(np.int64))
    return np.concatenate(out)


def write(rings: list[Any], polygon_of_ring: list[int]) -> None:
    """Write the arrays that ``planner.presentation.drawing.maps.coastline`` reads."""
    lengths = np.array([len(ring) for ring in rings])
    differences = np.concatenate([np.diff(ring, axis=0, prepend=ring[:1]) for ring in rings])
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        TARGET,
        per_degree=np.int32(PER_DEGREE),
        start=np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32),
        polygon=np.array(polygon_of_ring, dtype=np.int32),
        first=np.array([ring[0] for ring in rings], dtype=np.int32),
        low=np.array([ring.min(axis=0) for ring in rings], dtype=np.int32),
        high=np.array([ring.max(axis=0) for ring in rings], dtype=np.int32),
        lon_differences=differences[:, 0].astype(np.int16),
        lat_differences=differences[:, 1].astype(np.int16),
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
