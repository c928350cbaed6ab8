"""What a plan must say about its weather: where the forecast does not reach, how old it is, and how it was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Bools, Times
from planner.simulation.sky.forecast_calendar import DAY, FRESH, HOUR, NO_TIME, issue_of, own_times, staleness

if TYPE_CHECKING:
    import xarray as xr


LEAST_OF_BRIGHTEST = 0.25  # 1, of the brightest day's typed sunlight; with less a day is a part of one
AGAIN = "Plan again under way with a fresh forecast."


def sky_warnings(sky: xr.Dataset, forecast: xr.Dataset) -> list[str]:
    """Return a sentence or two on each shortcoming of the weather that a plan is made with.

    Parameters
    ----------
    sky : xarray.Dataset
        Along the track, with ``beyond_forecast``; the first step is at departure.
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``; its notes are passed on.
    """
    time: Times = sky["time"].to_numpy().astype("datetime64[ns]")
    notes = [note for note in str(forecast.attrs.get("notes", "")).splitlines() if note]
    return [
        *_reach(time, sky["beyond_forecast"].to_numpy() > 0, forecast),
        *_age(time[0], forecast),
        *_by_hand(sky, forecast),
        *_lone(forecast),
        *(f"Forecast: {note}" for note in notes),
    ]


def _reach(time: Times, beyond: Bools, forecast: xr.Dataset) -> list[str]:
    """Say from which hour on, and for how much of the passage, something stands in for the forecast."""
    own = own_times(forecast)
    late, early = time >= own[-1], time < own[0]
    told = []
    if late.any():
        told.append(
            f"The forecast ends at {_moment(own[-1])}, {_hours(own[-1] - time[0])} after departure: from then on, "
            f"for {late.mean():.0%} of the passage, the weather is drawn from the forecast's own days. {AGAIN}"
        )
    if early.any():
        told.append(
            f"The forecast begins at {_moment(own[0])}, {_hours(own[0] - time[0])} after departure: until then the "
            "weather is drawn from the forecast's own days. Take one that covers the departure."
        )
    astray = beyond & ~late & ~early
    if astray.any():
        first = time[int(np.argmax(astray))]
        told.append(
            f"From {_moment(first)}, {_hours(first - time[0])} after departure, the boat is outside the forecast's "
            f"grid for {astray.mean():.0%} of the passage: the weather at its edge is held. Take a wider one."
        )
    return told


def _age(departure: np.datetime64, forecast: xr.Dataset) -> list[str]:
    if staleness(forecast, departure) == NO_TIME:
        return []
    issued = issue_of(forecast)
    return [
        f"The forecast is stale: it was begun at {_moment(issued)}, {_hours(departure - issued)} before departure; a "
        f"fresh one would be {_hours(FRESH)} old at most. Its light is given the wider doubt of its age. Fetch the "
        "latest."
    ]


def _lone(forecast: xr.Dataset) -> list[str]:
    outcomes = forecast.sizes.get("outcome", 1)
    if forecast.sizes["member"] > 1 or outcomes == 1 or _all_by_hand(forecast):
        return []
    return [
        f"The forecast is a single run, without members: the spread shown is that of {outcomes} outcomes whose light "
        "errs as single runs do, more with every day; wind, temperature and rain are the same in all."
    ]


def _by_hand(sky: xr.Dataset, forecast: xr.Dataset) -> list[str]:
    """Say which hours rest on weather typed by hand, and how far the light of their outcomes lies apart."""
    if "cloud_by_hand" not in forecast:
        return []
    time: Times = sky["time"].to_numpy().astype("datetime64[ns]")
    own = own_times(forecast)
    within = (time >= own[0]) & (time <= own[-1])
    node = np.clip(np.searchsorted(own, time, side="right") - 1, 0, own.size - 1)
    cloud, wind = (within & (forecast[name].to_numpy()[node] > 0.5) for name in ("cloud_by_hand", "wind_by_hand"))
    parts = [("cloud and the wind", cloud)] if np.array_equal(cloud, wind) else [("cloud", cloud), ("wind", wind)]
    told = [
        f"the {what} of {part.mean():.0%} of the passage, {_moment(time[part][0])} to {_moment(time[part][-1])},"
        for what, part in parts
        if part.any()
    ]
    if not told:
        return []
    rests = f"Typed by hand: {' and '.join(told)} as rows of [[weather]] have it."
    return [
        " ".join([rests, *_hand_doubt(sky, cloud), "Wind, air and rain that are typed are the same in all outcomes."])
    ]


def _hand_doubt(sky: xr.Dataset, cloud: Bools) -> list[str]:
    """Say how far the sunlight of the days under typed cloud lies apart, over the outcomes."""
    if not cloud.any():
        return []
    ghi = sky["ghi_w_m2"].to_numpy()
    if ghi.shape[0] == 1:
        return ["Its light is given no doubt, as model.lone_outcomes = 1 asks."]
    day = np.arange(ghi.shape[1]) // round(DAY / np.timedelta64(1, "s") / float(sky.attrs["step_s"]))
    sums = np.stack([np.where(cloud & (day == n), ghi, 0.0).sum(axis=1) for n in range(day[-1] + 1)])
    mean = sums.mean(axis=1)
    bright = mean >= LEAST_OF_BRIGHTEST * mean.max()
    apart = sums[bright].std(axis=1) / np.maximum(mean[bright], 1e-9)
    return [
        "Its light is given the doubt of a bulletin's words, more with every day: a day's sunlight errs "
        f"by {apart.min():.0%} to {apart.max():.0%} (standard deviation over {ghi.shape[0]} outcomes), "
        "most under thick cloud."
    ]


def _all_by_hand(forecast: xr.Dataset) -> bool:
    return "cloud_by_hand" in forecast and bool(forecast["cloud_by_hand"].to_numpy().all())


def _moment(moment: np.datetime64) -> str:
    day, clock = str(moment.astype("datetime64[m]")).split("T")
    return f"{day} {clock} UTC"


def _hours(span: np.timedelta64) -> str:
    return f"{span / HOUR:.0f} hours"
