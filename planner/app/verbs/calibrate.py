"""Write a boat file by what readings showed, beside the old one and never over it."""

from __future__ import annotations

from itertools import count
from pathlib import Path, PurePosixPath

from planner.domain.inputs.boat import Boat
from planner.domain.results.calibration import Calibration
from planner.domain.results.reconcile.findings import Reconciliation


def write_calibrated_boat(found: Reconciliation, boat: Boat, boat_file: Path, named: str) -> Calibration | None:
    """Write the calibrated boat file and check that it reads.

    It is called after the day of the last reading, such as boat-2027-05-14.toml; where that name is taken, a number
    is added. What ``--set`` changed of the boat is not written: the file's own figures stand but for the changes.

    Parameters
    ----------
    found : Reconciliation
        Of readings against this boat.
    boat : Boat
        That the model went by.
    boat_file : Path
        That it was read from.
    named : str
        As the passage file names it.

    Returns
    -------
    Calibration or None
        None when readings call for no change; nothing is written then.

    Raises
    ------
    InputError
        When the new file does not read; it is removed then.
    """
    from planner.domain.errors import InputError
    from planner.presentation.files.boat_toml import changed_text
    from planner.readers.config import read_boat
    from planner.studies.reconcile.calibrate_boat import calibrate_boat

    changes = calibrate_boat(found, boat)
    if not changes:
        return None
    heading = (
        f"Calibrated from {boat_file.name} by readings of {found.first:%Y-%m-%d} to {found.last:%Y-%m-%d} "
        f"({', '.join(found.logs)}); what was changed is marked 'measured'."
    )
    text = changed_text(boat_file.read_text(encoding="utf-8"), changes, heading=heading)
    new = _written(boat_file, f"{boat_file.stem}-{found.last:%Y-%m-%d}", text)
    try:
        read_boat(new)
    except InputError:
        new.unlink()
        raise
    line = f'boat = "{PurePosixPath(named).with_name(new.name)}"'
    return Calibration(old=boat_file, new=new, changes=changes, passage_line=line)


def _written(beside: Path, stem: str, text: str) -> Path:
    """Write a new file beside another under the first name that is free."""
    from planner.domain.errors import OutputError
    from planner.presentation.files.whole_file import write_text

    for number in count(1):
        path = beside.with_name(f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml")
        try:
            with path.open("x", encoding="utf-8"):
                pass  # the name is ours
        except FileExistsError:
            continue
        try:
            write_text(path, text)
        except OutputError:
            path.unlink()
            raise
        return path
    raise AssertionError("numbers do not end")
