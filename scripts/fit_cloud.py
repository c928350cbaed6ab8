#!/usr/bin/env python3
"""Fit the relations of cloud to sunlight on open data and print how each scores where it was not fitted.

Usage: ``python scripts/fit_cloud.py ../shared/data`` (the folder of open data; needs cfgrib).

The constants in planner/physics/sky/cloud.py come from here. The weather model's are fitted on blocks of longitude
and scored on the blocks between; an observer's hours on the odd months and scored on the even ones, an imager's on
half of the days, to compare: what is planned of an observer's cover is fitted on days, by scripts/fit_words.py.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pvlib
from scipy.optimize import least_squares

from planner.physics.sky.clearsky import turbidity_on_day
from planner.physics.sky.cloud import index_of_observer, index_of_total
from planner.physics.sky.sun import day_of_year, extraterrestrial_w_m2, sun_position
from planner.simulation.sky.clear_sky import MARINE_SHARE
from planner.simulation.sky.turbidity import monthly_turbidity

Floats = npt.NDArray[np.float64]
Relation = Callable[[Floats, Floats], Floats]
"""Parameters and covers (n, layers) to clear-sky index (n,)."""

BLOCK_DEG = 20
CLOUD_LEVELS = ("atmosphereSingleLayer", "lowCloudLayer", "middleCloudLayer", "highCloudLayer")
DAY_HOURS = 8  # measured hours that make a day count
LIT_W_M2 = 100.0  # clear-sky mean over the interval; below it the sun was up for a small part only
DEPTH_BOUNDS, EXPONENT_BOUNDS = (0.0, 0.98), (0.2, 8.0)


@dataclass(frozen=True)
class Cases:
    """Measured or modelled sunlight with the cloud over it.

    Attributes
    ----------
    cover : array (n, k)
        Total, then low, middle and high where known [0..1].
    clear, truth, weight : array (n,)
        Clear-sky and true irradiance [W/m2]; weight of the case.
    half : array of bool (n,)
        True in the half to fit on.
    day : array of datetime64 (n,), optional
        The station's day, where cases are hours.
    """

    cover: Floats
    clear: Floats
    truth: Floats
    weight: Floats
    half: npt.NDArray[np.bool_]
    day: npt.NDArray[np.datetime64] | None = None

    def only(self, keep: npt.NDArray[np.bool_]) -> Cases:
        """Return the cases of one half."""
        day = None if self.day is None else self.day[keep]
        return Cases(self.cover[keep], self.clear[keep], self.truth[keep], self.weight[keep], self.half[keep], day)

    def by_day(self, of_hours: Floats) -> Floats:
        """Return an hourly quantity's sum over each day of which enough hours are there."""
        assert self.day is not None
        _, of_day = np.unique(self.day, return_inverse=True)
        return np.bincount(of_day, weights=of_hours)[np.bincount(of_day) >= DAY_HOURS]


def product_of_layers(p: Floats, cover: Floats) -> Floats:
    """Return the product of three power laws in low, middle and high cover."""
    return np.prod([1.0 - p[2 * i] * cover[:, i + 1] ** p[2 * i + 1] for i in range(3)], axis=0)


def power_of_total(p: Floats, cover: Floats) -> Floats:
    """Return a power law in total cover."""
    return 1.0 - p[0] * cover[:, 0] ** p[1]


def linear(p: Floats, cover: Floats) -> Floats:
    """Return a line in total cover, its slope fitted."""
    return 1.0 - p[0] * cover[:, 0]


def kasten_czeplak(_: Floats, cover: Floats) -> Floats:
    """Return 1 - 0.75 N^3.4 (Kasten and Czeplak 1980, Solar Energy 24, 177-189)."""
    return 1.0 - 0.75 * cover[:, 0] ** 3.4


def cloudless(_: Floats, cover: Floats) -> Floats:
    """Return 1: cloud left out."""
    return np.ones(len(cover))


def fit(relation: Relation, cases: Cases, start: list[float]) -> Floats:
    """Return the parameters of least weighted squares in W/m2."""
    if not start:
        return np.array([])
    low, high = zip(*[(DEPTH_BOUNDS, EXPONENT_BOUNDS)[i % 2] for i in range(len(start))], strict=True)
    root = np.sqrt(cases.weight)
    result = least_squares(
        lambda p: root * (relation(p, cases.cover) * cases.clear - cases.truth), start, bounds=(low, high)
    )
    return np.asarray(result.x)


def score(relation: Relation, p: Floats, cases: Cases) -> tuple[float, float]:
    """Return RMSE and bias in % of the mean."""
    error = relation(p, cases.cover) * cases.clear - cases.truth
    mean = np.average(cases.truth, weights=cases.weight)
    rmse = np.sqrt(np.average(error**2, weights=cases.weight))
    return 100.0 * float(rmse / mean), 100.0 * float(np.average(error, weights=cases.weight) / mean)


def score_of_days(relation: Relation, p: Floats, cases: Cases) -> tuple[float, float]:
    """Return RMSE and bias of the days' sums in % of their mean."""
    error, truth = cases.by_day(relation(p, cases.cover) * cases.clear - cases.truth), cases.by_day(cases.truth)
    rmse = np.sqrt(np.mean(error**2))
    return 100.0 * float(rmse / truth.mean()), 100.0 * float(error.mean() / truth.mean())


def clear_sky(
    time: npt.NDArray[np.datetime64], lat: Floats, lon: Floats, altitude_m: Floats | float, *, share: float = 1.0
) -> Floats:
    """Return clear-sky global irradiance at each time and place, at the height of the ground; a share of the haze."""
    _, elevation = sun_position(time, lat, lon)
    days = day_of_year(time)
    leap = pd.DatetimeIndex(time).is_leap_year
    turbidity = share * turbidity_on_day(monthly_turbidity(lat, lon), days, np.asarray(leap))
    height = np.broadcast_to(np.asarray(altitude_m, dtype=np.float64), lat.shape)
    clear = np.zeros(lat.shape)
    up = elevation > 0.0
    mass = pvlib.atmosphere.get_relative_airmass(90.0 - elevation[up])
    clear[up] = pvlib.clearsky.ineichen(
        90.0 - elevation[up],
        pvlib.atmosphere.get_absolute_airmass(mass, pvlib.atmosphere.alt2pres(height[up])),
        turbidity[up],
        altitude=height[up],
        dni_extra=extraterrestrial_w_m2(days[up]),
    )["ghi"]
    return clear


def weather_model(folder: Path) -> Cases:
    """Return the lit points of NCEP_gfs.grb: 6-hour means to 2011-10-11 00Z on 2.5 degrees."""
    fields = _grib_fields(folder / "weather" / "NCEP_gfs.grb")
    lat, lon = np.meshgrid(90.0 - 2.5 * np.arange(73), (2.5 * np.arange(144) + 180.0) % 360.0 - 180.0, indexing="ij")
    seen = np.abs(lat) <= 50.0
    lat, lon = lat[seen], lon[seen]
    cover = np.stack([fields["tcc", level, "avg"][seen] / 100.0 for level in CLOUD_LEVELS], axis=1)
    truth = fields["sdswrf", "surface", "avg"][seen]
    height = np.maximum(fields["orog", "surface", "instant"][seen], 0.0)
    middles = np.datetime64("2011-10-10T18:15", "ns") + np.arange(12) * np.timedelta64(30, "m")
    clear = np.mean(
        [clear_sky(np.full(lat.size, time), lat, lon, height, share=MARINE_SHARE) for time in middles], axis=0
    )
    lit = clear > LIT_W_M2
    block = np.floor((lon[lit] + 180.0) / BLOCK_DEG).astype(int)
    return Cases(cover[lit], clear[lit], truth[lit], np.cos(np.radians(lat[lit])), block % 2 == 1)


def _grib_fields(path: Path) -> dict[tuple[str, str, str], Floats]:
    """Return the global fields of a GRIB file by short name, type of level and kind of step."""
    from cfgrib.messages import FileStream

    wanted = {"tcc", "sdswrf", "orog"}
    return {
        (message["shortName"], message["typeOfLevel"], message["stepType"]): np.reshape(message["values"], (73, 144))
        for _, message in FileStream(str(path)).items()
        if message["shortName"] in wanted
    }


def sky_imager(folder: Path, column: str) -> Cases:
    """Return measured hours of SRRL June 2012 with the imager's total or opaque cover; days halved by parity."""
    table = pd.read_csv(folder / "irradiance" / "SRRL_201206ty.csv", skiprows=1)
    day = pd.to_datetime(table["Date (MM/DD/YYYY)"], format="%m/%d/%Y")
    hour = table["Time (HH:MM)"].str.slice(0, 2).astype(int)
    middle = day + pd.to_timedelta(hour - 0.5 + 7.0, unit="h")  # labels are hour endings in UTC-7
    cover, truth = table[column].to_numpy(float) / 10.0, table["GHI (W/m^2)"].to_numpy(float)
    june = ((day.dt.month == 6) & (day.dt.year == 2012)).to_numpy()
    return _station(
        middle,
        cover,
        truth,
        keep=june & (cover >= 0.0),
        place=(39.742, -105.179, 1829.0),
        day=day,
        half=day.dt.day % 2 == 1,
    )


def observer() -> Cases:
    """Return the hours of pvlib's 12839.tm2 whose irradiance is flagged as measured; months halved by parity."""
    path = Path(pvlib.__file__).parent / "data" / "12839.tm2"
    table, about = pvlib.iotools.read_tmy2(path)
    local = pd.DatetimeIndex(table.index).tz_localize(None)
    middle = pd.Series(local - pd.Timedelta(hours=about["TZ"]) + pd.Timedelta(minutes=30))
    measured = table["GHISource"].isin(list("ABCD")).to_numpy()
    place = (about["latitude"], about["longitude"], about["altitude"])
    cover, truth = table["TotCld"].to_numpy(float) / 10.0, table["GHI"].to_numpy(float)
    day = pd.Series(local.normalize())
    return _station(middle, cover, truth, keep=measured, place=place, day=day, half=day.dt.month % 2 == 1)


def _station(
    middle: pd.Series,
    cover: Floats,
    truth: Floats,
    *,
    keep: npt.NDArray[np.bool_],
    place: tuple[float, float, float],
    day: pd.Series,
    half: pd.Series,
) -> Cases:
    """Return the hours of one station that are kept and lit."""
    minutes = np.arange(-25, 26, 10).astype("timedelta64[m]")
    times = middle.to_numpy(dtype="datetime64[ns]")[:, None] + minutes
    lat, lon = (np.full(times.size, x) for x in place[:2])
    clear = clear_sky(times.ravel(), lat, lon, place[2]).reshape(times.shape).mean(axis=1)
    keep = keep & (clear > LIT_W_M2) & np.isfinite(truth)
    days = day.to_numpy(dtype="datetime64[ns]")[keep]
    return Cases(cover[keep, None], clear[keep], truth[keep], np.ones(keep.sum()), half.to_numpy()[keep], days)


RELATIONS: dict[str, tuple[Relation, list[float]]] = {
    "layers": (product_of_layers, [0.6, 1.8, 0.6, 1.6, 0.2, 4.0]),
    "total": (power_of_total, [0.6, 3.0]),
    "model's": (lambda _, cover: index_of_total(cover[:, 0]), []),
    "observer's": (lambda _, cover: index_of_observer(cover[:, 0]), []),
    "linear": (linear, [0.5]),
    "Kasten-Czeplak": (kasten_czeplak, []),
    "cloudless": (cloudless, []),
}


def report(title: str, cases: Cases) -> None:
    """Print one table: fitted on each half, scored on the other, and both scores together."""
    fitted, other = cases.only(cases.half), cases.only(~cases.half)
    print(f"\n{title}: {len(fitted.truth)} cases to fit, {len(other.truth)} to score; then swapped")
    for name, (relation, start) in RELATIONS.items():
        if name == "layers" and cases.cover.shape[1] == 1:
            continue
        p, swapped = fit(relation, fitted, start), fit(relation, other, start)
        (rmse, bias), (rmse2, bias2) = score(relation, p, other), score(relation, swapped, fitted)
        days = "" if cases.day is None else "days {:5.1f} % {:+5.1f} %   ".format(*score_of_days(relation, p, other))
        print(
            f"  {name:15} RMSE {rmse:5.1f} % bias {bias:+5.1f} %   swapped {rmse2:5.1f} % {bias2:+5.1f} %   {days}"
            f"constants {np.round(p, 3).tolist()}"
        )


def main() -> None:
    """Print every table."""
    folder = Path(sys.argv[1])
    report(f"Weather model, NCEP_gfs.grb, odd and even blocks of {BLOCK_DEG} degrees", weather_model(folder))
    report("Sky imager total, SRRL June 2012, odd and even days", sky_imager(folder, "TotCld (tenths)"))
    report("Sky imager opaque, SRRL June 2012, odd and even days", sky_imager(folder, "OpqCld (tenths)"))
    seen = observer()
    months = {
        half: np.unique(seen.only(seen.half == half).day.astype("datetime64[M]").astype(int) % 12 + 1)
        for half in (True, False)
    }
    fitted, scored = (", ".join(map(str, months[half])) for half in (True, False))
    report(f"Observer total, 12839.tm2 measured hours, months {fitted} to fit and {scored} to score", seen)


if __name__ == "__main__":
    main()
