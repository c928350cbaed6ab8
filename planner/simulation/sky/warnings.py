"""Shortcomings of the weather of a plan: where the forecast does not reach, how old it is, and how it was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Bools, Times
from planner.domain.results.note import Note, together
from planner.domain.utc import from_numpy
from planner.simulation.sky.forecast_calendar import (
    DAY,
    FRESH,
    HOUR,
    NO_TIME,
    issue_of,
    own_times,
    staleness,
    tells_of_sky,
)

if TYPE_CHECKING:
    import xarray as xr


LEAST_OF_BRIGHTEST = 0.25  # 1, of the brightest day's typed sunlight; with less a day is a part of one


def sky_warnings(sky: xr.Dataset, forecast: xr.Dataset) -> list[Note]:
    """Return a note on each shortcoming of the weather that a plan is made with.

    Parameters
    ----------
    sky : xarray.Dataset
        Along the track, with ``beyond_forecast``; the first step is at departure.
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``; its notes are passed on.
    """
    time: Times = sky["time"].to_numpy().astype("datetime64[ns]")
    passed_on = [line for line in str(forecast.attrs.get("notes", "")).splitlines() if line]
    return [
        *_reach(time, sky["beyond_forecast"].to_numpy() > 0, forecast),
        *_age(time[0], forecast),
        *_by_hand(sky, forecast),
        *_lone(forecast),
        *([] if tells_of_sky(forecast) or "cloud_by_hand" in forecast else [Note("sky_of_season")]),
        *(Note("forecast_note", {"words": line}) for line in passed_on),
    ]


def _reach(time: Times, beyond: Bools, forecast: xr.Dataset) -> list[Note]:
    """Return from which hour on, and for how much of the passage, something stands in for the forecast."""
    own = own_times(forecast)
    late, early = time >= own[-1], time < own[0]
    astray = beyond & ~late & ~early
    notes = []
    if late.any():
        figures = {"ends": from_numpy(own[-1]), "after_h": (own[-1] - time[0]) / HOUR, "part": late.mean()}
        notes.append(Note("forecast_ends", figures))
    if early.any():
        notes.append(Note("forecast_begins", {"begins": from_numpy(own[0]), "after_h": (own[0] - time[0]) / HOUR}))
    if astray.any():
        first = time[int(np.argmax(astray))]
        figures = {"first": from_numpy(first), "after_h": (first - time[0]) / HOUR, "part": astray.mean()}
        notes.append(Note("outside_grid", figures))
    return notes


def _age(departure: np.datetime64, forecast: xr.Dataset) -> list[Note]:
    if staleness(forecast, departure) == NO_TIME:
        return []
    issued = issue_of(forecast)
    figures = {"issued": from_numpy(issued), "age_h": (departure - issued) / HOUR, "fresh_h": FRESH / HOUR}
    return [Note("forecast_stale", figures)]


def _lone(forecast: xr.Dataset) -> list[Note]:
    outcomes = forecast.sizes.get("outcome", 1)
    if forecast.sizes["member"] > 1 or outcomes == 1 or _all_by_hand(forecast):
        return []
    return [Note("lone_run", {"outcomes": outcomes})]


def _by_hand(sky: xr.Dataset, forecast: xr.Dataset) -> list[Note]:
    """Return which hours rest on weather typed by hand, and how far the light of their outcomes lies apart."""
    if "cloud_by_hand" not in forecast:
        return []
    time: Times = sky["time"].to_numpy().astype("datetime64[ns]")
    own = own_times(forecast)
    within = (time >= own[0]) & (time <= own[-1])
    node = np.clip(np.searchsorted(own, time, side="right") - 1, 0, own.size - 1)
    cloud, wind = (within & (forecast[name].to_numpy()[node] > 0.5) for name in ("cloud_by_hand", "wind_by_hand"))
    parts = {"cloud and the wind": cloud} if np.array_equal(cloud, wind) else {"cloud": cloud, "wind": wind}
    typed = [
        Note(
            "by_hand_part",
            {
                "what": what,
                "part": part.mean(),
                "first": from_numpy(time[part][0]),
                "last": from_numpy(time[part][-1]),
            },
        )
        for what, part in parts.items()
        if part.any()
    ]
    if not typed:
        return []
    return [together([Note("by_hand", {"parts": typed}), *_hand_doubt(sky, cloud), Note("by_hand_wind")])]


def _hand_doubt(sky: xr.Dataset, cloud: Bools) -> list[Note]:
    """Return how far the sunlight of the days under typed cloud lies apart, over the outcomes."""
    if not cloud.any():
        return []
    ghi = sky["ghi_w_m2"].to_numpy()
    if ghi.shape[0] == 1:
        return [Note("by_hand_no_doubt")]
    day = np.arange(ghi.shape[1]) // round(DAY / np.timedelta64(1, "s") / float(sky.attrs["step_s"]))
    sums = np.stack([np.where(cloud & (day == n), ghi, 0.0).sum(axis=1) for n in range(day[-1] + 1)])
    mean = sums.mean(axis=1)
    bright = mean >= LEAST_OF_BRIGHTEST * mean.max()
    apart = sums[bright].std(axis=1) / np.maximum(mean[bright], 1e-9)
    return [Note("by_hand_doubt", {"least": apart.min(), "most": apart.max(), "outcomes": ghi.shape[0]})]


def _all_by_hand(forecast: xr.Dataset) -> bool:
    return "cloud_by_hand" in forecast and bool(forecast["cloud_by_hand"].to_numpy().all())
