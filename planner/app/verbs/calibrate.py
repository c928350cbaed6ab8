"""What readings change in a boat file."""

from __future__ import annotations

from itertools import count
from pathlib import Path, PurePosixPath

from planner.domain.inputs.given import Inputs
from planner.domain.results.calibration import Calibration
from planner.domain.results.reconcile.findings import Reconciliation
from planner.presentation.files.boat_toml import changed_text
from planner.readers.config import read_boat
from planner.readers.text_file import read_utf8
from planner.studies.reconcile.calibrate_boat import calibrate_boat


def calibrate(found: Reconciliation, inputs: Inputs) -> Calibration:
    """Return the boat file as readings would have it, found to read.

    It is called after the day of the last reading, such as boat-2027-05-14.toml; where that name is taken, a number
    is added. What ``--set`` changed of the boat is not in it: the file's own figures stand but for the changes.

    Parameters
    ----------
    found : Reconciliation
        Of readings against this boat.
    inputs : Inputs
        That the model went by.

    Returns
    -------
    Calibration
        Without changes where readings call for none.

    Raises
    ------
    InputError
        When the new file would not read.
    """
    old, named = inputs.passage_file.parent / inputs.passage.boat, inputs.passage.boat
    changes = calibrate_boat(found, inputs.boat)
    heading = (
        f"Calibrated from {old.name} by readings of {found.first:%Y-%m-%d} to {found.last:%Y-%m-%d} "
        f"({', '.join(found.logs)}); what was changed is marked 'measured'."
    )
    text = changed_text(read_utf8(old), changes, heading=heading)
    new = _free(old, f"{old.stem}-{found.last:%Y-%m-%d}")
    read_boat(new, text)
    line = f'boat = "{PurePosixPath(named).with_name(new.name)}"'
    return Calibration(old=old, new=new, changes=changes, passage_line=line, text=text)


def _free(beside: Path, stem: str) -> Path:
    """Return the first name beside another file that is free."""
    names = (f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml" for number in count(1))
    return next(path for path in map(beside.with_name, names) if not path.exists())
