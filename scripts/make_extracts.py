#!/usr/bin/env python3
"""Cut what the checks against open data need out of the whole files, into tests/external/data, with its README.

Usage: ``python scripts/make_extracts.py ../shared/data`` (the folder of the whole files; needs eccodes).

Only what a licence allows to hand on is cut; values are left as they are. Run again, it writes the same values; the
bytes of compressed files, and so their digests, are those of the libraries that wrote them.
"""

from __future__ import annotations

import csv
import hashlib
import shutil
import sys
from collections.abc import Callable, Collection, Iterator
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import numpy as np

EXTRACTS = Path(__file__).parents[1] / "tests" / "external" / "data"
MOST_BYTES = 3_000_000
GEFS = [f"gefs_20190515_{name}.nc" for name in ("avg", "c00", *(f"p{n:02d}" for n in range(1, 21)), "spr")]
US_MODELS = ["gfs_0p25_20190515.nc", "hrrr_hourly_20190515.nc", "nam_12km_20190515.nc", "rap_20190515.nc"]
GLOBAL_FIELDS = {"tcc", "sdswrf", "2t", "10u", "10v", "prate", "tp", "orog"}

Cut = Callable[[Path, Path], None]


class Extract(NamedTuple):
    """What is cut from which file, how, and on what terms it may be handed on."""

    path: str
    whole: str
    cut: Cut
    kept: str
    source: str
    licence: str


def net_cdf(whole: Path, path: Path, *, only: Collection[str] = (), steps: int | None = None) -> None:
    """Copy a NetCDF file's variables as they are packed, some alone, up to a step of time, in the classic format."""
    from netCDF4 import Dataset

    with Dataset(whole) as old, Dataset(path, "w", format="NETCDF3_CLASSIC") as new:
        old.set_auto_maskandscale(False)
        new.setncatts(_plain(old))
        kept = {name: each for name, each in old.variables.items() if not only or name in only}
        for name in dict.fromkeys(dim for each in kept.values() for dim in each.dimensions):
            new.createDimension(name, steps if name == "time" and steps else old.dimensions[name].size)
        for name, each in kept.items():
            attributes = _plain(each)
            made = new.createVariable(
                name, each.dtype, each.dimensions, fill_value=attributes.pop("_FillValue", None)
            )
            made.set_auto_maskandscale(False)
            made.setncatts(attributes)
            made[...] = each[: steps or None] if each.dimensions[:1] == ("time",) else each[...]


def _plain(holder: object) -> dict[str, object]:
    """Return the attributes, without what a command line left of the machine that made the file."""
    names: list[str] = holder.ncattrs()  # type: ignore[attr-defined]
    return {name: holder.getncattr(name) for name in names if name.lower() != "history"}  # type: ignore[attr-defined]


def grib(whole: Path, path: Path, *, only: Collection[str]) -> None:
    """Copy the messages of some short names on the surface, in layers of cloud, at 2 m and 10 m, byte for byte."""
    import eccodes

    levels = {"surface", "heightAboveGround", "entireAtmosphere", "atmosphereSingleLayer", "atmosphere"}
    levels |= {f"{layer}CloudLayer" for layer in ("low", "middle", "high")}
    with whole.open("rb") as file, path.open("wb") as cut:
        while (message := eccodes.codes_grib_new_from_file(file)) is not None:
            name, level = (eccodes.codes_get(message, key) for key in ("shortName", "typeOfLevel"))
            if name in only and level in levels:
                cut.write(eccodes.codes_get_message(message))
            eccodes.codes_release(message)


def table(whole: Path, path: Path, *, only: Collection[str]) -> None:
    """Copy some columns of a CSV table."""
    with whole.open(encoding="utf-8") as file, path.open("w", encoding="utf-8", newline="") as cut:
        writer = csv.DictWriter(cut, list(only), extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(csv.DictReader(file))


def published(whole: Path, path: Path) -> None:
    """Copy the two published values that a check uses, with their sources."""
    with whole.open(encoding="utf-8") as file, path.open("w", encoding="utf-8", newline="") as cut:
        writer = csv.DictWriter(cut, ["topic", "inputs", "expected"], extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(row for row in csv.DictReader(file) if row["topic"].startswith(("SAPM", "Martinez")))


def arrays(whole: Path, path: Path) -> None:
    """Write the arrays of a pickled dictionary as a compressed archive that needs no pickle."""
    np.savez_compressed(path, **np.load(whole, allow_pickle=True).item())


def whole_file(whole: Path, path: Path) -> None:
    """Copy a file as it is."""
    shutil.copyfile(whole, path)


_GEFS = "NOAA GEFS of 2019-05-15, as in solarforecastarbiter-core"
_SOLAR = "US public domain; MIT (c) 2019 SolarArbiter"
_CELL = "PyBatteryID, examples/data/lfp"
_CELL_TERMS = "BSD-3-Clause (c) 2023 A.M.A. (Muiz) Sheikh"
_FREE = "US public domain"


def extracts() -> Iterator[Extract]:
    """Yield every extract."""
    for name in GEFS:
        yield Extract(f"weather/gefs_20190515/{name}", "", net_cdf, "all, uncompressed", _GEFS, _SOLAR)
    for name in US_MODELS:
        source = "NOAA, as in solarforecastarbiter-core"
        yield Extract(f"weather/{name}", "", net_cdf, "all, uncompressed", source, _SOLAR)
    ecmwf = Extract(
        "weather/ECMWF_ifs_oper_surface_20260310T00.grib2",
        "",
        partial(grib, only={"tcc"}),
        "total cloud",
        "ECMWF open data, IFS of 2026-03-10 00Z; messages left out",
        "CC-BY-4.0 (c) ECMWF",
    )
    yield ecmwf
    yield Extract(
        "weather/MeteoFrance_arome_TCDC_20260413T21.grib2",
        "",
        whole_file,
        "all",
        "Meteo-France, AROME of 2026-04-13 21Z",
        "Etalab open licence 2.0, (c) Meteo-France",
    )
    yield Extract(
        "weather/NCEP_gfs.grb",
        "",
        partial(grib, only=GLOBAL_FIELDS),
        "cloud, sunlight, 2 m warmth, 10 m wind, rain and height of the ground",
        "NCEP GFS of 2011-10-08 00Z +72 h, as in pygrib",
        _FREE,
    )
    yield Extract(
        "weather/ERA5_Berlin_2017_ssrd_fdir.nc",
        "",
        partial(net_cdf, steps=744),
        "January",
        "ERA5, as in feedinlib; contains modified Copernicus Climate Change Service information",
        "Copernicus licence; MIT (c) oemof developing group",
    )
    yield Extract("irradiance/surfrad-slv16001.dat", "", whole_file, "all", "NOAA SURFRAD, as in pvlib", _FREE)
    yield Extract(
        "irradiance/ARM_sgpbrsC1_20190705.cdf",
        "",
        partial(net_cdf, only={"time", "down_short_hemisp"}),
        "global light",
        "ARM user facility of the US Department of Energy, sgpbrsC1 of 2019-07-05",
        "MIT, as its holder states; no copyright line came with it",
    )
    yield Extract(
        "sea/TAO_rad0n140w_dy.cdf",
        "",
        partial(net_cdf, only={"time", "depth", "lat", "lon", "RD_495"}),
        "daily means",
        "GTMBA Project Office of NOAA/PMEL, buoy at 0 N 140 W",
        _FREE,
    )
    yield Extract("sea/COARE_test3_0_MoanaWave_Nov1992.txt", "", whole_file, "all", "NOAA, COARE 3.0 test set", _FREE)
    yield Extract(
        "battery/rest_curve.npz", "battery/LFP_quasi_emf.npy", arrays, "all, without pickle", _CELL, _CELL_TERMS
    )
    yield Extract(
        "battery/drive.npz",
        "battery/LFP_validation_data.npy",
        arrays,
        "all, without pickle",
        _CELL,
        _CELL_TERMS,
    )
    yield Extract(
        "battery/fast_charge.csv",
        "battery/LFP_A123_1.1Ah_fastcharge_CH33.csv",
        partial(table, only=("Test_Time", "Current", "Voltage", "Charge_Capacity")),
        "four columns",
        "beep, test files",
        "Apache-2.0 (c) 2019-2020 Toyota Research Institute",
    )
    yield Extract("nav/GeodTest-100.dat", "", whole_file, "all", "GeographicLib", "MIT (c) 2012-2025 Charles Karney")
    yield Extract("nav/gdal_rte_gpx11.gpx", "", whole_file, "all", "GDAL, test files", "MIT, as the file states")
    yield Extract("nav/trek_rte_120pts.gpx", "", whole_file, "all", "gpxpy, test files", "Apache-2.0 (c) gpxpy")
    yield Extract(
        "published/published_values.csv",
        "",
        published,
        "two rows of figures",
        "King et al. 2004, SAND2004-3535; Martinez-Moreno et al. 2010, doi:10.1016/j.solmat.2010.07.029, table 2",
        "figures",
    )


def digest(path: Path) -> str:
    """Return a file's SHA-256."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


README = """# Extracts of open data

What the checks against open data need of the whole files, so that they run on every machine. Nobody of this project
made these data; `scripts/make_extracts.py` cut them and wrote this page. The terms that ask for it stand in
`licences/`. Measured days of a station in Golden, Colorado, are not here: no licence is stated for them, and the
checks that use them are skipped without the whole file.

| file | kept | source | licence | bytes |
| --- | --- | --- | --- | --- |
"""


def main() -> None:
    """Cut every extract, and write the page and the digests of the whole files and of the extracts."""
    if len(sys.argv) != 2:
        sys.exit(str(__doc__))
    folder, page, sums, whole_sums = Path(sys.argv[1]), README, "", ""
    for terms, alike in groupby(extracts(), key=lambda each: (each.kept, each.source, each.licence)):
        names, size = [], 0
        for each in alike:
            path, whole = EXTRACTS / each.path, folder / (each.whole or each.path)
            path.parent.mkdir(parents=True, exist_ok=True)
            each.cut(whole, path)
            names.append(each.path)
            size += path.stat().st_size
            sums += f"{digest(path)}  {each.path}\n"
            whole_sums += f"{digest(whole)}  {each.whole or each.path}\n"
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        page += f"| {names[0]}{more} | {' | '.join(terms)} | {size} |\n"
    page += (
        "\nSHA-256 of the extracts stand in `SHA256SUMS`, of the whole files in `whole-SHA256SUMS`; tests compare.\n"
    )
    for name, text in (("README.md", page), ("SHA256SUMS", sums), ("whole-SHA256SUMS", whole_sums)):
        (EXTRACTS / name).write_text(text, encoding="utf-8")
    total = sum(path.stat().st_size for path in EXTRACTS.rglob("*") if path.is_file())
    print(f"{total} bytes in all")
    if total > MOST_BYTES:
        sys.exit(f"More than {MOST_BYTES} bytes.")


if __name__ == "__main__":
    main()
