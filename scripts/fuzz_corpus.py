"""Small sound forecast files, and odd ones, for scripts/fuzz.py: made by code, in memory."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

LAT, LON, HOURS, MEMBERS = np.arange(-32.0, -23.9, 2.0), np.arange(174.0, 184.1, 2.0), np.arange(0, 25, 6), 2
SHAPE = (MEMBERS, HOURS.size, LAT.size, LON.size)
FIELDS = {
    "clt": ("1", "cloud_area_fraction", 0.5),
    "ua": ("m s-1", "eastward_wind", -6.0),
    "va": ("m s-1", "northward_wind", 3.0),
    "ta": ("K", "air_temperature", 291.0),
}
Change = Callable[[Any], None]


def _attribute(variable: str, name: str, value: object) -> Change:
    def change(file: Any) -> None:
        (file.variables[variable] if variable else file).setncattr(name, value)

    return change


# What hostile or broken writers put into a sound file, after it was written.
ODD: dict[str, Change] = {
    "text_scale": _attribute("ua", "scale_factor", "ten"),
    "list_scale": _attribute("ua", "scale_factor", [1.0, 2.0]),
    "text_offset": _attribute("ta", "add_offset", "273"),
    "encoding": _attribute("ua", "_Encoding", "no-such-code"),
    "text_unsigned": _attribute("ua", "_Unsigned", "maybe"),
    "valid_range": _attribute("ua", "valid_range", "wide"),
    "missing": _attribute("clt", "missing_value", "none"),
    "units_number": _attribute("ua", "units", 3.0),
    "units_list": _attribute("ta", "units", [1, 2, 3]),
    "standard_name": _attribute("ta", "standard_name", 7),
    "cell_methods": _attribute("clt", "cell_methods", 7),
    "time_units": _attribute("time", "units", "hours since 0001-01-01 00:00:00 +14:00"),
    "time_units_odd": _attribute("time", "units", "fortnights since the flood"),
    "time_units_number": _attribute("time", "units", 5),
    "calendar": _attribute("time", "calendar", "mayan"),
    "calendar_360": _attribute("time", "calendar", "360_day"),
    "coordinates": _attribute("ua", "coordinates", "lat lon time nothing"),
    "coordinates_number": _attribute("ua", "coordinates", 3),
    "grid_mapping": _attribute("ua", "grid_mapping", "nothing"),
    "grid_mapping_number": _attribute("ua", "grid_mapping", 1),
    "history": _attribute("", "history", [1.0, 2.0]),
    "reference_time": _attribute("time", "reference_time", "soon"),
    "reference_huge": _attribute("time", "reference_time", 1e300),
}
EMPTY = ("member", "time", "lat", "lon")
NAMES = {"time": ("", "Time", "t", "valid-time", "time\u00e9", "step"), "lat": ("y", "LAT", "lat lat")}


def written(path: Path, *, kind: str = "NETCDF4", empty: str = "", names: dict[str, str] | None = None) -> Path:
    """Write a sound file, or one with an axis of no length, or with other names of its axes."""
    from netCDF4 import Dataset

    called = {"member": "member", "time": "time", "lat": "lat", "lon": "lon"} | (names or {})
    axes = {"member": np.arange(MEMBERS), "time": HOURS, "lat": LAT, "lon": LON}
    with Dataset(path, "w", format=kind) as file:
        for name, axis in axes.items():
            file.createDimension(called[name], 0 if name == empty else axis.size)
        about = {
            "time": {"units": "hours since 2027-05-08 12:00:00", "standard_name": "time"},
            "lat": {"units": "degrees_north", "standard_name": "latitude"},
            "lon": {"units": "degrees_east", "standard_name": "longitude"},
            "member": {"standard_name": "realization"},
        }
        for name, axis in axes.items():
            made = file.createVariable(called[name], "i4" if name == "member" else "f8", (called[name],))
            made.setncatts(about[name])
            made[:] = axis[:0] if name == empty else axis
        shape = tuple(0 if name == empty else axis.size for name, axis in axes.items())
        rng = np.random.default_rng(4)
        for name, (units, standard_name, middle) in FIELDS.items():
            made = file.createVariable(name, "f4", tuple(called.values()), zlib=kind == "NETCDF4")
            made.setncatts({"units": units, "standard_name": standard_name})
            made[:] = middle + 0.1 * rng.standard_normal(shape)
    return path


def giant(path: Path, name: str) -> Path:
    """Write a file of a few kilobytes whose axis is said to be of a thousand million places."""
    from netCDF4 import Dataset

    with Dataset(path, "w") as file:
        for each, size in (("time", 3), ("lat", 3), ("lon", 3)):
            file.createDimension(each, 1_000_000_000 if each == name else size)
            made = file.createVariable(each, "f8", (each,), zlib=True, chunksizes=(1_000_000 if each == name else 3,))
            made.units = {"time": "hours since 2027-05-08 12:00:00", "lat": "degrees_north", "lon": "degrees_east"}[
                each
            ]
        for each, (units, standard_name, _) in FIELDS.items():
            wide = tuple(1_000 if axis == name else 3 for axis in ("time", "lat", "lon"))
            made = file.createVariable(each, "f4", ("time", "lat", "lon"), zlib=True, chunksizes=wide)
            made.setncatts({"units": units, "standard_name": standard_name})
    return path


def netcdf_files() -> dict[str, bytes]:
    """Return NetCDF files by their names: sound ones of both formats, odd ones, and ones of giant axes."""
    from netCDF4 import Dataset

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made.nc"
        made = {kind: written(path, kind=kind).read_bytes() for kind in ("NETCDF4", "NETCDF3_CLASSIC")}
        files = {f"a{place}_{kind}.nc": content for place in range(6) for kind, content in made.items()}
        for name, change in ODD.items():
            with Dataset(written(path), "a") as file:
                change(file)
            files[f"{name}.nc"] = path.read_bytes()
        for name in EMPTY:
            files[f"no_{name}.nc"] = written(path, empty=name, kind="NETCDF4").read_bytes()
        for axis, names in NAMES.items():
            for place, name in enumerate(names):
                if name:
                    files[f"{axis}_named_{place}.nc"] = written(path, names={axis: name}).read_bytes()
        for name in ("time", "lat", "lon"):
            files[f"giant_{name}.nc"] = giant(path, name).read_bytes()
        return files


def grib_files() -> dict[str, bytes]:
    """Return GRIB files by their names: editions 1 and 2."""
    import eccodes

    files = {}
    for edition, sample in ((1, "regular_ll_sfc_grib1"), (2, "regular_ll_sfc_grib2")):
        content = b""
        for short, level, middle in (("10u", 10, -6.0), ("10v", 10, 3.0), ("2t", 2, 291.0), ("tcc", 0, 0.5)):
            for step in (0, 6):
                message = eccodes.codes_grib_new_from_samples(sample)
                settings = {
                    "Ni": LON.size, "Nj": LAT.size, "longitudeOfFirstGridPointInDegrees": LON[0],
                    "longitudeOfLastGridPointInDegrees": LON[-1], "latitudeOfFirstGridPointInDegrees": LAT[0],
                    "latitudeOfLastGridPointInDegrees": LAT[-1], "iDirectionIncrementInDegrees": 2.0,
                    "jDirectionIncrementInDegrees": 2.0, "jScansPositively": 1, "dataDate": 20270508,
                    "dataTime": 1200, "stepRange": str(step), "shortName": short,
                }  # fmt: skip
                for key, value in settings.items():
                    eccodes.codes_set(message, key, value)
                if level and edition == 1:
                    eccodes.codes_set(message, "typeOfLevel", "heightAboveGround")
                    eccodes.codes_set(message, "level", level)
                rng = np.random.default_rng(step)
                values = middle + 0.1 * rng.standard_normal(LAT.size * LON.size)
                eccodes.codes_set_values(message, values)
                content += eccodes.codes_get_message(message)
                eccodes.codes_release(message)
        files[f"made{edition}.grib"] = content
    return files
