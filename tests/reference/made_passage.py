"""An invented month at sea for made logs: a loop of legs on many headings, weather made here, and two boats.

The demo's cutter as she is, three controllers; and the same with every panel alone on its controller, panels of three
substrings whose voltage leaves a controller above its headroom with one of them out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr

DEMO = Path(__file__).parents[2] / "data" / "demo"
BOATS = ("as listed", "each alone")
M_S_PER_KN = 1852.0 / 3600.0
DAYS = 35  # of forecast, more than the passage takes
START = np.datetime64("2027-05-08T12:00", "ns")
WAYPOINTS = (
    ("off Cape Brett", -35.14, 174.36),
    ("northing", -28.0, 179.5),
    ("south of Tongatapu", -22.0, -175.6),
    ("easting", -24.0, -164.0),
    ("southing", -33.0, -168.0),
    ("westing", -30.0, 178.0),
    ("northwest", -21.0, 173.0),
    ("landfall", -19.5, -178.0),
)
MEMBERS = 5


def write_passage(folder: Path, boat: str) -> Path:
    """Write passage, boat and forecast into a folder; return the passage file."""
    folder.mkdir(parents=True, exist_ok=True)
    listed = (DEMO / "boat.toml").read_text(encoding="utf-8")
    (folder / "boat.toml").write_text(listed if boat == BOATS[0] else _each_alone(listed), encoding="utf-8")
    forecast().to_netcdf(folder / "forecast.nc")
    demo = (DEMO / "passage.toml").read_text(encoding="utf-8")
    text = demo.replace('route = "route.gpx"\n', "")
    places = (f'[[waypoints]]\nname = "{name}"\nlat = {lat}\nlon = {lon}\n' for name, lat, lon in WAYPOINTS)
    (folder / "passage.toml").write_text(text + "\n" + "\n".join(places), encoding="utf-8")
    return folder / "passage.toml"


def forecast(seed: int = 7) -> xr.Dataset:
    """Weather of the month on a coarse grid, 3-hourly: trades that back and veer, cloud that comes and goes."""
    rng = np.random.default_rng(seed)
    hours = np.arange(0, 24 * DAYS + 1, 3)
    day, lat, lon = hours / 24.0, np.arange(-37.0, -16.0, 3.0), np.arange(171.0, 199.0, 3.0)
    shape = (MEMBERS, day.size, lat.size, lon.size)
    member = rng.standard_normal((MEMBERS, 4))

    def smooth(days: float) -> np.ndarray:
        """Noise by member and time of unit variance, half of it common to all."""
        keep = np.exp(-3.0 / 24.0 / days)
        noise = rng.standard_normal((MEMBERS + 1, day.size))
        for t in range(1, day.size):
            noise[:, t] = keep * noise[:, t - 1] + np.sqrt(1.0 - keep**2) * noise[:, t]
        return (np.sqrt(0.5) * (noise[:1] + noise[1:]))[:, :, None, None]

    def everywhere(field: np.ndarray) -> np.ndarray:
        return np.broadcast_to(field, shape)

    from_deg = 120.0 + 45.0 * np.sin(2 * np.pi * day / 6.3) + 25.0 * np.sin(2 * np.pi * day / 2.7 + 1.0)
    from_deg = from_deg[None, :, None, None] + 4.0 * member[:, :1, None, None] + 0.8 * (lat[:, None] + 27.0)
    speed_kn = 13.0 + 6.0 * np.sin(2 * np.pi * day / 4.1)[None, :, None, None] + 0.6 * member[:, 1:2, None, None]
    toward = np.radians(from_deg + 180.0)

    def cover(mean: float, days: float) -> np.ndarray:
        return 1.0 / (1.0 + np.exp(-(np.log(mean / (1.0 - mean)) + 1.5 * smooth(days))))

    low, middle, high = cover(0.35, 0.6), cover(0.2, 1.0), cover(0.35, 1.2)
    fields = {
        "u10": (speed_kn * np.sin(toward) * M_S_PER_KN, "m s-1", "eastward_wind"),
        "v10": (speed_kn * np.cos(toward) * M_S_PER_KN, "m s-1", "northward_wind"),
        "t2m": (296.0 + 0.3 * (lat[:, None] + 27.0) + smooth(2.0), "K", "air_temperature"),
        "cll": (low, "1", "low_type_cloud_area_fraction"),
        "clm": (middle, "1", "medium_type_cloud_area_fraction"),
        "clh": (high, "1", "high_type_cloud_area_fraction"),
        "clt": (1.0 - (1.0 - low) * (1.0 - middle) * (1.0 - high), "1", "cloud_area_fraction"),
    }
    dims = ("member", "time", "lat", "lon")
    return xr.Dataset(
        {
            name: (dims, everywhere(values).astype(np.float32), {"units": units, "standard_name": standard})
            for name, (values, units, standard) in fields.items()
        },
        coords={
            "member": ("member", np.arange(MEMBERS, dtype=np.int32), {"standard_name": "realization", "units": "1"}),
            "time": ("time", START + hours * np.timedelta64(1, "h"), {"standard_name": "time"}),
            "lat": ("lat", lat, {"standard_name": "latitude", "units": "degrees_north"}),
            "lon": ("lon", lon, {"standard_name": "longitude", "units": "degrees_east"}),
        },
        attrs={"Conventions": "CF-1.11", "comment": "Invented weather, made for a test."},
    )


def _each_alone(listed: str) -> str:
    """The boat file with panels of 72 cells in three substrings, each on a controller of its name."""
    head, rest = listed.split("[[panel]]", 1)
    panels, tail = ("[[panel]]" + rest).split("[[controller]]", 1)
    tail = "[soiling]" + tail.split("[soiling]", 1)[1]
    for narrow, wide in (
        ("max_power_v = 18.3", "max_power_v = 36.6"),
        ("max_power_a = 10.93", "max_power_a = 5.465"),
        ("open_circuit_v = 21.9", "open_circuit_v = 43.8"),
        ("short_circuit_a = 11.6", "short_circuit_a = 5.8"),
        ("max_power_v = 18.6", "max_power_v = 37.2"),
        ("max_power_a = 5.38", "max_power_a = 2.69"),
        ("open_circuit_v = 22.2", "open_circuit_v = 44.4"),
        ("short_circuit_a = 5.75", "short_circuit_a = 2.875"),
        ("cells = 36", "cells = 72"),
        ("cells_along = 4\ncells_across = 9\n", ""),
        ("cells_along = 9\ncells_across = 4\n", ""),
        ("substrings = 2", "substrings = 3"),
    ):
        panels = panels.replace(narrow, wide)
    names = [line.split('"')[1] for line in panels.splitlines() if line.startswith("name")]
    controllers = [
        f'[[controller]]\nname = "{name}"\nstrings = [["{name}"]]\n'
        f"max_output_a = {30.0 if 'arch' in name else 15.0}\nmax_input_v = 75.0\n"
        "wire_length_m = 7.0\nwire_section_mm2 = 4.0\n\n"
        for name in names
    ]
    return head + panels + "".join(controllers) + tail
