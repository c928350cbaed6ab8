"""Sun, clear sky and cloud, one moment at a time, by scalar calls of pvlib."""

from __future__ import annotations

import calendar
import math
from datetime import UTC, datetime, timedelta

import pandas as pd
from model_tables import interp, trilinear, wrap
from model_track import cos, sin
from pvlib import clearsky, irradiance, solarposition

LAYERS = {"cloud_low": (0.538, 1.540), "cloud_middle": (0.602, 1.482), "cloud_high": (0.227, 8.0)}
TOTAL = (0.425, 3.182)
OBSERVED = ((0.357, 1.0), (0.154, 8.0))
MARINE_SHARE = 0.85


def middle(row: dict, step_s: float) -> tuple[datetime, float, float]:
    """Time and place at the middle of a step: half its run laid off on a plane."""
    half = row["speed_over_ground_kn"] * step_s / 7200.0 / 60.0
    lat = row["lat"] + half * cos(row["course_deg"])
    lon = row["lon"] + half * sin(row["course_deg"]) / cos(lat)
    return row["time"] + timedelta(seconds=step_s / 2.0), lat, wrap(lon)


class Sky:
    """What the sky gives at a time and place, under a forecast's members."""

    def __init__(self, forecast) -> None:
        times = forecast["time"].to_numpy().astype("M8[us]").tolist()
        self.zero = times[0]
        self.axes = [[(time - times[0]).total_seconds() for time in times]]
        self.axes += [forecast[name].to_numpy().tolist() for name in ("lat", "lon")]
        self.fields = {str(name): forecast[name].to_numpy().astype(float) for name in forecast}
        self.kept: tuple = (None, [])

    def sun(self, time: datetime, lat: float, lon: float) -> dict[str, float]:
        """Sun, and what would come through a cloudless sky."""
        stamp = pd.DatetimeIndex([time])
        place = {"altitude": 0.0, "pressure": 101325.0, "temperature": 12.0}
        at = solarposition.get_solarposition(stamp, lat, lon, method="nrel_numpy", **place)
        azimuth, elevation = float(at["azimuth"].iloc[0]), float(at["apparent_elevation"].iloc[0])
        day = time.timetuple().tm_yday
        above = float(irradiance.get_extra_radiation(float(day), solar_constant=1361.0))
        clear = 0.0
        if elevation > 0.0:
            linke = MARINE_SHARE * turbidity(time, lat, lon)
            zenith = 90.0 - elevation
            air_mass = 1.0 / (cos(zenith) + 0.50572 * (6.07995 + 90.0 - zenith) ** -1.6364)
            sky = clearsky.ineichen(zenith, air_mass, linke, altitude=0.0, dni_extra=above)
            clear = float(sky["ghi"])
        names = {"sun_azimuth_deg": azimuth, "sun_elevation_deg": elevation, "day_of_year": day}
        return names | {"clear_w_m2": clear, "above_w_m2": above}

    def sample(self, name: str, member: int, time: datetime, lat: float, lon: float) -> float:
        """One of the forecast's fields; 0 where the forecast has none such."""
        if name not in self.fields:
            return 0.0
        near = (self.axes[2][0] + self.axes[2][-1]) / 2.0
        at = ((time - self.zero).total_seconds(), lat, near + wrap(lon - near))
        return trilinear(self.fields[name][member], self.axes, at)

    def indices(self, time: datetime, lat: float, lon: float) -> list[float]:
        """Clear-sky index of every member; those of one time and place are kept for the next member."""
        if self.kept[0] != (time, lat, lon):
            members = range(len(self.fields["air_temp_c"]))
            self.kept = ((time, lat, lon), set_apart([self._told(member, time, lat, lon) for member in members]))
        return self.kept[1]

    def _told(self, member: int, time: datetime, lat: float, lon: float) -> float:
        """Clear-sky index of one member as its cloud tells it, or a bulletin's."""
        if "observed" in self.fields:
            cover = self.sample("observed", member, time, lat, lon)
            return math.prod(passes(cover, *law) for law in OBSERVED)
        if all(name in self.fields for name in LAYERS):
            covers = ((self.sample(name, member, time, lat, lon), law) for name, law in LAYERS.items())
            return math.prod(passes(cover, *law) for cover, law in covers)
        return passes(self.sample("cloud_cover", member, time, lat, lon), *TOTAL)

    def under(self, member: int, time: datetime, lat: float, lon: float, sun: dict[str, float]) -> dict[str, float]:
        """Cloud, air and light of one member."""
        sample = {name: self.sample(name, member, time, lat, lon) for name in self.fields}
        index = self.indices(time, lat, lon)[member]
        ghi, dni, dhi, zenith = sun["clear_w_m2"] * index, 0.0, 0.0, 90.0 - sun["sun_elevation_deg"]
        if zenith < 90.0:
            limits = {"min_cos_zenith": 0.065, "max_zenith": 90.0}
            parts = irradiance.erbs_driesse(ghi, zenith, dni_extra=sun["above_w_m2"], **limits)
            dni, dhi = float(parts["dni"]), float(parts["dhi"])
        light = {"ghi_w_m2": ghi, "dni_w_m2": dni, "dhi_w_m2": dhi}
        cover = sample["observed" if "observed" in sample else "cloud_cover"]
        return light | {"cloud_cover": min(max(cover, 0.0), 1.0), "air_temp_c": sample["air_temp_c"]}


def set_apart(told: list[float]) -> list[float]:
    """Indices of an ensemble, set further apart where they lie too close."""
    if len(told) == 1:
        return told
    scaled = [math.log(k / (1.2 - k)) for k in (min(max(k, 0.02), 1.18) for k in told)]
    mean = math.fsum(scaled) / len(scaled)
    spread = math.sqrt(math.fsum((x - mean) ** 2 for x in scaled) / (len(scaled) - 1))
    factor = max(1.3, min(0.3 / max(spread, 1e-9), 3.0))
    moved = [1.2 / (1.0 + math.exp(-(mean + factor * (x - mean)))) - 1.2 / (1.0 + math.exp(-x)) for x in scaled]
    return [max(k + step, 0.0) for k, step in zip(told, moved, strict=True)]


def turbidity(time: datetime, lat: float, lon: float) -> float:
    """Linke turbidity of a day, between the middles of the months."""
    months = pd.DatetimeIndex([datetime(time.year, month, 1, tzinfo=UTC) for month in range(1, 13)])
    table = clearsky.lookup_linke_turbidity(months, lat, lon, interp_turbidity=False).tolist()
    starts = [datetime(time.year, month, 1, tzinfo=UTC).timetuple().tm_yday - 1 for month in range(1, 13)]
    ends = [*starts[1:], 366 if calendar.isleap(time.year) else 365]
    middles = [-15.5, *((start + end) / 2.0 for start, end in zip(starts, ends, strict=True)), 365 + 15.5]
    return interp(middles, [table[-1], *table, table[0]], time.timetuple().tm_yday)


def passes(cover: float, depth: float, exponent: float) -> float:
    return 1.0 - depth * min(max(cover, 0.0), 1.0) ** exponent
