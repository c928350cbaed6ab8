"""plan.nc and own-tracks.nc: every quantity at the inner step, as CF-1.11 trajectories; and hourly.csv from it."""

from __future__ import annotations

import errno
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.domain.file_format import STAMP
from planner.domain.glossary import (
    DEMAND,
    HARVEST,
    LEDGER,
    OTHER_SOURCES,
    OWN_TRACKS,
    TRACK,
    TRACK_OPTIONAL,
    Quantity,
)
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.results.plan import Plan
from planner.domain.schema import attributes

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

PLANNED = "planned_"
"""Prefix of the ledger on the members' mean weather."""
CONVENTIONS = "CF-1.11"
SOURCE = "passage-energy planner"
CAUTION = "A planning aid, not for navigation; forecasts err."
FLAGS = ("under_engine", "engine_on", "beyond_forecast", "tack", "leg", "lying")
POSITION = ["lat", "lon"]
PERCENTILES = (10, 50, 90)


def to_trajectory(plan: Plan) -> xr.Dataset:
    """Return the plan's datasets as one CF trajectory with bounds and cell methods.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    xarray.Dataset
        Dims member, time, panel, controller, load; the planned ledger's variables carry the prefix ``planned_``.
    """
    import xarray as xr

    parts = [plan.track, plan.harvest, plan.demand, plan.ledger]
    planned = plan.planned.isel(member=0, drop=True)
    planned = planned.rename({str(name): f"{PLANNED}{name}" for name in planned.data_vars})
    whole = xr.merge([*parts, planned], combine_attrs="drop", join="exact", compat="no_conflicts")

    quantities: Mapping[str, Quantity] = {**TRACK, **TRACK_OPTIONAL, **OTHER_SOURCES, **HARVEST, **DEMAND, **LEDGER}
    for name in map(str, list(whole.data_vars)):
        describe(whole, name, quantities[name.removeprefix(PLANNED)])
        if name.startswith(PLANNED):
            whole[name].attrs["long_name"] += ", on the members' mean weather"
    whole = with_bounds(whole, "time", step_s=int(plan.track.attrs["step_s"]))
    whole["time"].attrs["axis"] = "T"
    whole["trajectory"] = xr.Variable((), "passage", {"cf_role": "trajectory_id", "long_name": "name of the passage"})
    whole.attrs = head("Passage energy plan: track, harvest, demand and ledger")
    whole.attrs["history"] = f"computed for departure {plan.passage.departure.isoformat()}"
    return whole


def to_ragged(own: OwnTracks) -> xr.Dataset:
    """Return all members' tracks as a contiguous ragged array of trajectories.

    Parameters
    ----------
    own : OwnTracks

    Returns
    -------
    xarray.Dataset
        ``row_size`` gives how many entries along ``obs`` belong to each trajectory in turn (CF-1.11, section H.4.3).
    """
    whole = own.tracks.copy()
    for name, quantity in OWN_TRACKS.items():
        describe(whole, name, quantity)
    whole = with_bounds(whole, "obs", step_s=int(own.tracks.attrs["step_s"]))
    whole["trajectory"].attrs = {"cf_role": "trajectory_id", "long_name": "member of the forecast"}
    whole["row_size"].attrs = {"sample_dimension": "obs", "long_name": "steps of the member's track"}
    whole["arrival"].attrs = {"standard_name": "time", "long_name": "arrival; missing where it is not seen"}
    whole["arrival"].encoding = {"units": "seconds since 1970-01-01 00:00:00", "dtype": "float64"}
    whole.attrs = head("Passage energy plan: each member of the forecast on its own track, by the plan's ladders")
    return whole


def describe(whole: xr.Dataset, name: str, quantity: Quantity) -> None:
    """Give a variable along a track the attributes of its quantity; flags become bytes, in place."""
    if name.removeprefix(PLANNED) in FLAGS:
        whole[name] = whole[name].astype("int8")
    whole[name].attrs = attributes(quantity)
    if name not in POSITION and "trajectory" not in whole[name].dims:
        whole[name].attrs["coordinates"] = "time lat lon"
    if {"time", "obs"} & set(whole[name].dims):
        whole[name].attrs["cell_methods"] = f"time: {quantity.over_step}"


def with_bounds(whole: xr.Dataset, along: str, *, step_s: int) -> xr.Dataset:
    """Return tracks with their position as coordinates and the bounds of their steps along a dim."""
    import numpy as np

    placed = whole.set_coords(POSITION)
    start = placed["time"].to_numpy()
    placed["time_bounds"] = ((along, "bounds"), np.stack([start, start + np.timedelta64(step_s, "s")], axis=1))
    placed["time"].attrs |= {"standard_name": "time", "long_name": "start of the step", "bounds": "time_bounds"}
    return placed


def head(title: str) -> dict[str, Any]:
    """Return the attributes that a file of trajectories begins with."""
    named = {"Conventions": CONVENTIONS, "featureType": "trajectory", "title": title, "source": SOURCE}
    return {**named, **STAMP, "comment": CAUTION}


def write_netcdf(trajectory: xr.Dataset, path: Path) -> None:
    """Write the trajectory compressed, times as seconds since the first step; errors as ``to_netcdf``."""
    first = str(trajectory["time"].to_numpy()[0]).replace("T", " ")[:19]
    calendar = {"units": f"seconds since {first}", "calendar": "standard", "dtype": "int64"}
    encoding: dict[str, dict[str, object]] = {"time": dict(calendar), "time_bounds": dict(calendar)}
    for name, variable in trajectory.variables.items():
        if variable.dtype.kind in "fiub" and name not in encoding:
            encoding[str(name)] = {"zlib": True, "complevel": 1, "shuffle": True, "_FillValue": None}
    to_netcdf(trajectory, path, encoding)


def to_netcdf(dataset: xr.Dataset, path: Path, encoding: Mapping[str, dict[str, object]]) -> None:
    """Write a dataset as NetCDF 4.

    Parameters
    ----------
    dataset : xarray.Dataset
    path : Path
    encoding : mapping of str to dict
        As xarray has it.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    try:
        dataset.to_netcdf(path, engine="netcdf4", encoding=encoding)
    except RuntimeError as error:  # the library's only word for a disk that takes no more
        raise OSError(errno.EIO, f"{error} (as on a full disk)", str(path)) from error


def to_hourly(plan: Plan) -> pd.DataFrame:
    """Return the hourly rows: states at the hour, flows as means over it, with percentiles over the members.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    pandas.DataFrame
        Index ``time`` (UTC, start of the hour since departure); columns carry the glossary's names, with
        ``planned_`` before and ``_p10``, ``_p50``, ``_p90`` after where members differ.
    """
    import numpy as np
    import pandas as pd

    steps = int(3600 // plan.track.attrs["step_s"])
    columns: dict[str, np.ndarray] = {}

    def add(name: str, values: np.ndarray, quantity: Quantity) -> None:
        starts = np.arange(0, values.shape[-1], steps)
        if quantity.over_step == "point" or name in FLAGS or quantity.units == "degree":
            columns[name] = values[..., starts]
        else:
            counts = np.minimum(steps, values.shape[-1] - starts)
            columns[name] = np.add.reduceat(values, starts, axis=-1) / counts

    for name, quantity in TRACK.items():
        add(name, plan.track[name].to_numpy().astype(float), quantity)
    for name in ("sun_azimuth_deg", "sun_elevation_deg", "beyond_forecast"):
        add(name, plan.harvest[name].to_numpy().astype(float), HARVEST[name])
    for name in ("cloud_cover", "ghi_w_m2", "air_temp_c"):
        add(name, plan.harvest[name].mean("member").to_numpy(), HARVEST[name])
    for name, quantity in LEDGER.items():
        if quantity.dims == ("member", "time"):
            add(PLANNED + name, plan.planned[name].to_numpy()[0].astype(float), quantity)
    for name in ("bank_soc", "solar_power_w", "load_power_w", "engine_on"):
        bands = np.percentile(plan.ledger[name].to_numpy().astype(float), PERCENTILES, axis=0)
        for percent, values in zip(PERCENTILES, bands, strict=True):
            add(f"{name}_p{percent}", values, LEDGER[name])
    time = pd.DatetimeIndex(plan.track["time"].to_numpy()[::steps], name="time")
    return pd.DataFrame(columns, index=time.tz_localize("UTC"))
