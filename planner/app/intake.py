"""The files that a plan is made from: which a passage names, and a passage file where there is none."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from planner.domain.file_format import FORMAT

WATCHES = (
    ("00:00", "04:00", "first of the crew"),
    ("04:00", "08:00", "skipper"),
    ("08:00", "12:00", "second of the crew"),
    ("12:00", "16:00", "first of the crew"),
    ("16:00", "20:00", "skipper"),
    ("20:00", "00:00", "second of the crew"),
)


def named_files(passage_file: Path) -> dict[str, tuple[Path, ...]]:
    """Return the files of a passage by what they are for.

    Parameters
    ----------
    passage_file : Path

    Returns
    -------
    dict of str to tuple of Path
        ``passage``, ``boat``, ``route`` (none where the passage file holds the waypoints) and ``forecast``.

    Raises
    ------
    InputError
        When passage or boat cannot be read.
    """
    from planner.readers.config import read_configuration

    read = read_configuration(passage_file)
    return {
        "passage": (passage_file,),
        "boat": (read.boat_file,),
        "route": () if read.route_file is None else (read.route_file,),
        "forecast": read.forecast_files,
    }


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
