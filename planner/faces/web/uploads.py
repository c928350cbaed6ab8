"""Files of a form: whether they may come in, and where they go."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Final

from planner.domain.errors import Fault
from planner.domain.file_format import FORMAT
from planner.faces.web.multipart import Form, Upload
from planner.faces.web.naming import shown_name
from planner.faces.web.settings import read_start
from planner.faces.web.shelf import (
    FORECAST_ENDINGS,
    LOG_ENDINGS,
    MOST_FORECASTS,
    MOST_LOGS,
    PASSAGE,
    ROUTE_ENDINGS,
    Entry,
)

MOST_TEXT_FILE: Final = 4 * 1024**2  # bytes of a passage, boat, route or polar table
ENDINGS: Final = {
    "passage": (".toml",),
    "boat": (".toml",),
    "polar": (".csv",),
    "route": ROUTE_ENDINGS,
    "forecast": FORECAST_ENDINGS,
    "log": LOG_ENDINGS,
    "mapping": (".toml",),
}
WATCHES: Final = (
    ("00:00", "04:00", "first of the crew"),
    ("04:00", "08:00", "skipper"),
    ("08:00", "12:00", "second of the crew"),
    ("12:00", "16:00", "first of the crew"),
    ("16:00", "20:00", "skipper"),
    ("20:00", "00:00", "second of the crew"),
)
MOST: Final = {"forecast": MOST_FORECASTS, "log": MOST_LOGS}


def take_in(entry: Entry, form: Form) -> None:
    """Move a form's files into a plan; where that leaves it without a passage file, write one.

    Parameters
    ----------
    entry : Entry
    form : Form
        Found without fault by ``kind_faults`` and, for a new plan, ``absent_faults``.
    """
    for role in ENDINGS:
        if uploads := form.files.get(role):
            entry.keep(role, [(upload.given_name, upload.path) for upload in uploads])
    if not (entry.inputs / PASSAGE).is_file():
        departure, charge, _ = read_start(form.fields)
        if departure is not None:
            write_passage(entry.inputs / PASSAGE, departure=departure, state_of_charge=charge)


def write_passage(path: Path, *, departure: datetime, state_of_charge: float) -> None:
    """Write a passage file of which only departure and charge are given; three keep watch, four hours each.

    Parameters
    ----------
    path : Path
    departure : datetime
        With its offset from UTC.
    state_of_charge : float
        Of the bank at departure [0..1].
    """
    lines = [
        f"format = {FORMAT}",
        f"departure = {departure.isoformat()}",
        'boat = "boat.toml"',
        'route = "route.gpx"',
        'forecast = "forecast.nc"',
        "",
        "[start]",
        f"state_of_charge = {state_of_charge}",
    ]
    for start, end, role in WATCHES:
        lines += ["", "[[watches]]", f'start = "{start}"', f'end = "{end}"', f'role = "{role}"']
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def kind_faults(form: Form) -> list[Fault]:
    """Return what is wrong with number, kind and size of a form's files, before any is read."""
    faults = []
    for role, uploads in form.files.items():
        allowed = ENDINGS.get(role, ())
        most = MOST.get(role, 1)
        if len(uploads) > most:
            faults.append(Fault(role, "", f"{len(uploads)} files are given.", f"Give {most} at most."))
        for upload in uploads:
            faults += _file_faults(role, upload, allowed)
    return faults


def absent_faults(form: Form) -> list[Fault]:
    """Return what a form for a new plan lacks; a passage file may hold the weather itself, typed by hand."""
    with_passage = "passage" in form.files
    faults = [
        Fault(role, "", "no file was given.", "Choose one, or start from the demo and change that.")
        for role in ("boat", "route", *(() if with_passage else ("forecast",)))
        if role not in form.files
    ]
    return faults if with_passage else [*faults, *read_start(form.fields)[2]]


def _file_faults(role: str, upload: Upload, allowed: tuple[str, ...]) -> list[Fault]:
    if not upload.given_name.lower().endswith(allowed):
        problem = f"'{shown_name(upload.given_name)}' is no {role} by the ending of its name."
        return [Fault(role, "", problem, f"Allowed: {', '.join(allowed) or 'none'}.")]
    if role != "forecast" and upload.path.stat().st_size > MOST_TEXT_FILE:
        return [Fault(role, "", f"'{shown_name(upload.given_name)}' is larger than 4 MB.", "Is this the right file?")]
    return []
