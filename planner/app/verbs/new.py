"""A new passage to begin with: a starter by rig, bank and volts, or the demo."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Final

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.power import Chemistry
from planner.domain.results.starter import Starter
from planner.presentation.files.starter import RigName, starter_files
from planner.presentation.pages.measuring import measuring_sheet

SHEET: Final = "measuring-sheet.html"
EDITED: Final = ("passage.toml", "boat.toml", "route.csv", "route.gpx")


def new(
    folder: str | Path,
    *,
    rig: RigName = "sloop",
    bank: Chemistry = "lifepo4",
    volts: int = 12,
    whole: bool = False,
    demo: bool = False,
) -> Starter:
    """Make up the files of a new passage; ``write`` writes them.

    Parameters
    ----------
    folder : str or Path
        That they are for; none of them may be there yet.
    rig, bank, volts, whole
        As ``starter_files`` has them.
    demo : bool
        The demo instead.

    Returns
    -------
    Starter

    Raises
    ------
    InputError
        When a file of such a name is there.
    """
    folder = Path(folder)
    if demo:
        made = {each.name: each.read_bytes() for each in (files("planner") / "demo").iterdir() if each.is_file()}
    else:
        text = starter_files(rig=rig, bank=bank, volts=volts, whole=whole)
        made = {name: content.encode("utf-8") for name, content in {**text, SHEET: measuring_sheet()}.items()}
    taken = [name for name in made if (folder / name).exists()] or ([""] if folder.is_file() else [])
    if taken:
        problem = f"'{folder / taken[0]}' is there already." if taken[0] else f"'{folder}' is a file."
        raise InputError([Fault("new", "", problem, "Name a folder that is not there yet.")])
    return Starter(folder, made, tuple(name for name in EDITED if name in made))
