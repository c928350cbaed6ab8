"""What one reconcile leaves in a folder of history: a NetCDF file of the days that it judged."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final, get_args

from planner.domain.file_format import STAMP
from planner.domain.glossary import JUDGED_DAYS
from planner.domain.reconcile_results import LEVEL, Reconciliation, Verdict
from planner.domain.schema import to_dataset
from planner.presentation.dataset_file import to_netcdf
from planner.presentation.whole_file import write_whole

if TYPE_CHECKING:
    import xarray as xr

DAY: Final = timedelta(hours=24)
TITLE: Final = "Days of a passage judged: panels' yield over the expected"


def write_history(
    folder: Path,
    result: Reconciliation,
    *,
    departure: datetime,
    boat_sha256: str,
    listed_fraction: Mapping[str, float],
    written: datetime,
) -> Path:
    """Write the days of a reconcile beside those of earlier ones; whole, or not at all.

    The file's name says its days: a later reconcile of the same days takes its place.

    Parameters
    ----------
    folder : Path
        Made when it does not exist.
    result : Reconciliation
    departure : datetime
        Of the passage; days are counted from it.
    boat_sha256 : str
        Of the boat file that it went by.
    listed_fraction : mapping of str to float
        Controller -> what that boat file has of its panels' rating left [0..1]; 1 where it is not named.
    written : datetime
        Now.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        When it cannot be written.
    """
    import numpy as np

    start = departure.astimezone(UTC)
    first, last = (max(0, (moment.astimezone(UTC) - start) // DAY) for moment in (result.first, result.last))
    numbers = range(first, last + 1)
    begins = [np.datetime64((start + number * DAY).replace(tzinfo=None), "ns") for number in numbers]
    shape = (len(result.controllers), len(numbers))
    arrays = {name: np.full(shape if "day" in each.dims else shape[:1], np.nan) for name, each in JUDGED_DAYS.items()}
    for row, finding in enumerate(result.controllers):
        arrays["listed_fraction"][row] = listed_fraction.get(finding.controller, 1.0)
        for name in ("clipped_h", "full_h", "shaded_h"):
            arrays[name][row] = getattr(finding, name)
        arrays["judged_h"][row] = 0.0
        for day in finding.days:
            at = row, day.day - 1 - first
            arrays["ratio"][at], arrays["ratio_low"][at] = day.ratio.value, day.ratio.low
            arrays["ratio_high"][at], arrays["judged_h"][at] = day.ratio.high, day.hours
            arrays["read_wh"][at], arrays["expected_wh"][at] = day.read_wh, day.expected_wh
    coords = {"controller": [each.controller for each in result.controllers], "day": begins}
    days = to_dataset(arrays, JUDGED_DAYS, coords=coords, door="history")
    _dress(days, result)
    days.attrs = {
        "Conventions": "CF-1.11",
        "title": TITLE,
        "source": "passage-energy planner: crew's readings held against the model",
        **STAMP,
        "history": f"{_stamp(written)} reconciled",
        "date_created": _stamp(written),
        "logs": json.dumps(result.logs, ensure_ascii=False),
        "boat_file": result.boat_file,
        "boat_sha256": boat_sha256,
        "confidence_level": LEVEL,
    }
    path = folder / f"days-{start + first * DAY:%Y%m%dT%H%MZ}-{len(numbers)}.nc"
    calendar = {"units": f"seconds since {start:%Y-%m-%d %H:%M:%S}", "calendar": "standard", "dtype": "int64"}
    encoding: dict[str, dict[str, object]] = {name: {"zlib": True, "complevel": 1} for name in JUDGED_DAYS}
    encoding |= {"day": dict(calendar), "day_bounds": dict(calendar)}
    write_whole(path, lambda made: to_netcdf(days, made, encoding))
    return path


def _dress(days: xr.Dataset, result: Reconciliation) -> None:
    """Add what CF asks for: bounds of the days, cell methods, verdicts as flags."""
    import numpy as np

    start = days["day"].to_numpy()
    days["day_bounds"] = (("day", "bounds"), np.stack([start, start + np.timedelta64(24, "h")], axis=1))
    days["day"].attrs.update(standard_name="time", long_name="beginning of the passage day", bounds="day_bounds")
    days["controller"].attrs["long_name"] = "controller, as the boat file names it"
    verdicts = get_args(Verdict)
    days["verdict"] = (
        ("controller",),
        np.array([verdicts.index(each.verdict) for each in result.controllers], dtype=np.int8),
        {
            "long_name": "what became of the controller's panels, by the whole log",
            "flag_values": np.arange(len(verdicts), dtype=np.int8),
            "flag_meanings": " ".join(each.replace(" ", "_") for each in verdicts),
        },
    )
    for name, quantity in JUDGED_DAYS.items():
        if "day" in quantity.dims:
            days[name].attrs["cell_methods"] = "day: sum" if name.endswith(("_h", "_wh")) else "day: mean"


def _stamp(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
