"""The plan's files, as a set that is whole or absent; plan.json names it."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path

from planner.domain.file_format import PLAN_FILE
from planner.domain.results.plan import Plan
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.files.calendar import to_calendar
from planner.presentation.files.dataset_file import to_hourly, to_ragged, to_trajectory, write_netcdf
from planner.presentation.files.file_set import OutputFolder, claimed
from planner.presentation.files.summary_json import summarise
from planner.presentation.files.track_geojson import to_geojson
from planner.presentation.pages.report import render

REPORT = "report.html"
OWN_TRACKS = "own-tracks.nc"
HOURLY_DECIMALS = "%.4f"

WRITERS: dict[str, Callable[[Plan, Path], object]] = {
    "plan.nc": lambda plan, path: write_netcdf(to_trajectory(plan), path),
    "hourly.csv": lambda plan, path: to_hourly(plan).to_csv(
        path, float_format=HOURLY_DECIMALS, date_format="%Y-%m-%dT%H:%M:%SZ"
    ),
    REPORT: lambda plan, path: path.write_text(render(plan), encoding="utf-8"),
    "watch-bill.csv": lambda plan, path: path.write_bytes(to_csv(plan).encode()),
    "watch-bill.ics": lambda plan, path: path.write_bytes(to_calendar(plan)),
    "track.geojson": lambda plan, path: path.write_text(json.dumps(to_geojson(plan)), encoding="utf-8"),
}


def write_outputs(plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write every output of a plan into a folder.

    Parameters
    ----------
    plan : Plan
    folder : Path
        Made when it does not exist.

    Returns
    -------
    tuple of Path
        The files, plan.json last.

    Raises
    ------
    InputError
        When the folder cannot be written to, or another process does.
    OutputError
        When the files cannot be written.
    """
    with claimed(folder) as place:
        return write_plan_set(plan, place)


def write_plan_set(plan: Plan, folder: OutputFolder) -> tuple[Path, ...]:
    """Write every output of a plan into a folder that is held already; as ``write_outputs``."""
    writers: dict[str, Callable[[Path], object]] = {name: partial(write, plan) for name, write in WRITERS.items()}
    own = plan.own_tracks
    if own is not None:
        writers[OWN_TRACKS] = partial(write_netcdf, to_ragged(own))
    return folder.write_set(PLAN_FILE, writers, summarise(plan), may_lack=(OWN_TRACKS,))
