"""Write the plan's files as a set that is whole or absent: plan.json comes last, with the others' SHA-256."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from planner.domain.results import Plan
from planner.presentation.bill_csv import to_csv
from planner.presentation.calendar import to_calendar
from planner.presentation.dataset_file import to_hourly, to_trajectory, write_netcdf
from planner.presentation.own_tracks_file import to_ragged
from planner.presentation.report import render
from planner.presentation.summary_json import summarise
from planner.presentation.track_geojson import to_geojson

MANIFEST = "plan.json"
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

    All files are made in a hidden folder beside their place first, so a failure leaves an earlier set as it was.

    Parameters
    ----------
    plan : Plan
    folder : Path
        Made when it does not exist.

    Returns
    -------
    tuple of Path
        The files, plan.json last.
    """
    writers = dict(WRITERS)
    own = plan.own_tracks
    if own is not None:
        writers[OWN_TRACKS] = lambda _, path: write_netcdf(to_ragged(own), path)
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".partial-", dir=folder) as scratch_name:
        scratch = Path(scratch_name)
        for name, write in writers.items():
            write(plan, scratch / name)
        digests = {name: hashlib.sha256((scratch / name).read_bytes()).hexdigest() for name in writers}
        manifest = json.dumps(summarise(plan, digests), indent=1, allow_nan=False)
        (scratch / MANIFEST).write_text(manifest + "\n", encoding="utf-8")
        (folder / MANIFEST).unlink(missing_ok=True)
        if own is None:  # an earlier plan's would be taken for this one's
            (folder / OWN_TRACKS).unlink(missing_ok=True)
        for name in (*writers, MANIFEST):
            os.replace(scratch / name, folder / name)
    return tuple(folder / name for name in (*writers, MANIFEST))
