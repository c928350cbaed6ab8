#!/usr/bin/env python3
"""Read a route's corridor out of a global quarter-degree ensemble: time, memory and bytes read.

A file of 51 members, 81 times and 721 x 1440 nodes is made in a temporary folder, packed in two bytes a value, and
filled with random fields in the belt of latitudes that holds the route; the rest is left as a hole, so that it takes
a few GB of disk and not 34. A process of its own reads it for the demo's passage.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import netCDF4
import numpy as np

DEMO = Path(__file__).parents[1] / "data" / "demo" / "passage.toml"
MEMBERS, TIMES, ROWS, COLUMNS = 51, 81, 721, 1440
BELT = slice(420, 520)  # 15 S to 40 S
STEP_H = 3
PACKED = {  # name, standard name, units, scale, offset
    "u10": ("eastward_wind", "m s-1", 1e-3, 0.0),
    "v10": ("northward_wind", "m s-1", 1e-3, 0.0),
    "t2m": ("air_temperature", "K", 1e-3, 290.0),
    "tcc": ("cloud_area_fraction", "1", 1.5e-5, 0.5),
}
MIB = 2.0**20


def make(path: Path) -> None:
    """Write the file."""
    draw = np.random.default_rng(1)
    fields = [draw.integers(-32000, 32000, (BELT.stop - BELT.start, COLUMNS), dtype=np.int16) for _ in range(8)]
    with netCDF4.Dataset(path, "w") as data:
        for name, size in (("number", MEMBERS), ("time", TIMES), ("latitude", ROWS), ("longitude", COLUMNS)):
            data.createDimension(name, size)
        axes = {
            "number": (np.arange(MEMBERS), {"standard_name": "realization"}),
            "time": (np.arange(TIMES) * STEP_H, {"units": "hours since 2027-05-08 18:00", "standard_name": "time"}),
            "latitude": (np.linspace(90.0, -90.0, ROWS), {"units": "degrees_north"}),
            "longitude": (np.arange(COLUMNS) * 0.25, {"units": "degrees_east"}),
        }
        for name, (values, attributes) in axes.items():
            axis = data.createVariable(name, "f8", (name,))
            axis.setncatts(attributes)
            axis[:] = values
        data.set_fill_off()
        for name, (standard, units, scale, offset) in PACKED.items():
            variable = data.createVariable(name, "i2", tuple(axes), contiguous=True)
            variable.setncatts(
                {"standard_name": standard, "units": units, "scale_factor": scale, "add_offset": offset}
            )
            variable.set_auto_maskandscale(False)
            for member in range(MEMBERS):
                for step in range(TIMES):
                    variable[member, step, BELT, :] = fields[(3 * member + step) % len(fields)]


READ = """
import json, resource, sys, time
from pathlib import Path
from planner.app.inputs import corridor_of, read_inputs
from planner.readers.config import parse_override

def bytes_read():
    told = Path("/proc/self/io")
    return int(told.read_text().split()[1]) if told.is_file() else 0

plain = read_inputs(Path(sys.argv[1]))
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, bytes_read()
start = time.perf_counter()
forecast = read_inputs(Path(sys.argv[1]), [parse_override("forecast=" + sys.argv[2])]).forecast
seconds = time.perf_counter() - start
print(json.dumps({
    "seconds": seconds, "peak_kib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, "before_kib": before[0],
    "read": bytes_read() - before[1], "held": forecast.nbytes, "sizes": dict(forecast.sizes),
}))
"""


def main() -> None:
    """Make the file, read its corridor, print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "ensemble.nc"
        start = time.perf_counter()
        make(path)
        made = time.perf_counter() - start
        on_disk = path.stat().st_blocks * 512
        print(f"made in {made:.0f} s: {path.stat().st_size / 1e9:.1f} GB, {on_disk / 1e9:.1f} GB of it on disk")
        done = subprocess.run(
            [sys.executable, "-c", READ, str(DEMO), str(path)], capture_output=True, text=True, check=True
        )
        told = json.loads(done.stdout)
        print(
            f"corridor {told['sizes']} read in {told['seconds']:.1f} s; {told['read'] / MIB:.0f} MiB read from disk, "
            f"{told['held'] / MIB:.0f} MiB held, peak {told['peak_kib'] / 1024:.0f} MiB "
            f"({told['before_kib'] / 1024:.0f} before)"
        )


if __name__ == "__main__":
    main()
