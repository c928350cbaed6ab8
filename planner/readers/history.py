"""The folder of history read back: every day that a reconcile judged, once."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.errors import ContractError, Fault, InputError
from planner.domain.file_format import format_faults
from planner.domain.glossary import JUDGED_DAYS
from planner.domain.history_results import History, JudgedDay, JudgedLog, SetAside
from planner.domain.reconcile_results import Interval, Verdict
from planner.domain.schema import check_dataset

if TYPE_CHECKING:
    import xarray as xr

FILES: Final = "days-*.nc"
SAME_DAY: Final = timedelta(hours=12)  # days that overlap by more than half are the same


def read_history(folder: Path) -> History:
    """Read every reconcile of a folder; of a day judged more than once, the last written counts.

    Parameters
    ----------
    folder : Path
        As ``reconcile --history`` fills it.

    Returns
    -------
    History

    Raises
    ------
    InputError
        When there is no such folder, or a file in it is none of ours.
    """
    if not folder.is_dir():
        mend = "`reconcile --history` makes it."
        raise InputError([Fault(str(folder), "", "there is no such folder of history.", mend)])
    faults: list[Fault] = []
    read: list[tuple[JudgedLog, list[JudgedDay]]] = []
    for path in sorted(folder.glob(FILES)):
        try:
            read.append(_read_file(path))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    logs: list[JudgedLog] = []
    days: list[JudgedDay] = []
    taken: list[datetime] = []
    for log, judged in sorted(read, key=lambda each: each[0].written, reverse=True):
        own = tuple(begin for begin in log.day_begins if all(abs(begin - other) >= SAME_DAY for other in taken))
        taken += own
        if own:
            kept = {**vars(log), "day_begins": own}
            logs.append(JudgedLog(**kept))
            days += [day for day in judged if day.begins in own]
    logs.sort(key=lambda log: log.day_begins[0])
    order = list(dict.fromkeys(each.controller for log in logs for each in log.aside))
    days.sort(key=lambda day: (order.index(day.controller), day.begins))
    return History(tuple(days), tuple(logs))


def _read_file(path: Path) -> tuple[JudgedLog, list[JudgedDay]]:
    import xarray as xr

    mend = "Take it out of the folder, or reconcile that log again."
    try:
        with xr.open_dataset(path, engine="netcdf4") as file:
            if faults := format_faults(file.attrs, path.name, mend=mend):
                raise InputError(faults)
            dataset = check_dataset(file.load(), JUDGED_DAYS, door=path.name)
        return _log(path, dataset), _days(dataset)
    except InputError:
        raise
    except (OSError, ValueError, KeyError, ContractError) as error:
        raise InputError([Fault(path.name, "", f"this is no file of history: {error}.", mend)]) from error


def _log(path: Path, dataset: xr.Dataset) -> JudgedLog:
    names = dataset["controller"].values.tolist()
    hours = {name: dataset[name].values for name in ("clipped_h", "full_h", "shaded_h")}
    aside = [SetAside(name, *(float(each[row]) for each in hours.values())) for row, name in enumerate(names)]
    return JudgedLog(
        file=path.name,
        logs=tuple(json.loads(dataset.attrs["logs"])),
        boat_file=dataset.attrs["boat_file"],
        boat_sha256=dataset.attrs["boat_sha256"],
        written=datetime.fromisoformat(dataset.attrs["date_created"]).astimezone(UTC),
        day_begins=tuple(_moments(dataset)),
        aside=tuple(aside),
    )


def _moments(dataset: xr.Dataset) -> list[datetime]:
    seconds = dataset["day"].values.astype("datetime64[s]").tolist()
    return [moment.replace(tzinfo=UTC) for moment in seconds]


def _days(dataset: xr.Dataset) -> list[JudgedDay]:
    """Return the judged days; the ratio is brought from what the boat file had left to the whole rating."""
    meanings = dataset["verdict"].attrs["flag_meanings"].split()
    begins = _moments(dataset)
    days = []
    for row, name in enumerate(dataset["controller"].values.tolist()):
        part = dataset.isel(controller=row)
        verdict: Verdict = meanings[int(part["verdict"])].replace("_", " ")
        listed = float(part["listed_fraction"])
        for place in np.flatnonzero(np.isfinite(part["ratio"].values)):
            day = part.isel(day=int(place))
            ratio = Interval(*(listed * float(day[each]) for each in ("ratio", "ratio_low", "ratio_high")))
            energies = float(day["read_wh"]), float(day["expected_wh"])
            hours = float(day["judged_h"])
            days.append(
                JudgedDay(name, begins[place], ratio, hours, *energies, verdict, dataset.attrs["boat_sha256"])
            )
    return days
