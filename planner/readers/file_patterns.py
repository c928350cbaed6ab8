"""Names of files as a passage or a command gives them, patterns among them, made paths."""

from __future__ import annotations

import glob
import os
import re
from collections.abc import Sequence
from pathlib import Path

from planner.domain.addresses import is_address, masked
from planner.domain.errors import Fault, suggest

MOST_NAMED = 8  # files named of a folder in a message
WHERE_PATTERNS_BEGIN = re.compile(r"[*?\[]")


def matching_files(
    names: Sequence[str], folder: Path, *, where: str, key: str
) -> tuple[tuple[Path, ...], list[Fault]]:
    """Return the files that names and patterns mean, each once.

    Parameters
    ----------
    names : sequence of str
        Relative to the folder, or absolute; ``*``, ``?`` and ``[...]`` stand for parts of a name, ``**`` for folders.
    folder : Path
    where, key : str
        What names them, for messages.

    Returns
    -------
    files : tuple of Path
        In the order of the names; those of one pattern as a person sorts them, 2 before 10. A plain name is returned
        whether there is such a file or not.
    faults : list of Fault
        Of patterns that mean no file, and of addresses.
    """
    files: list[Path] = []
    faults = []
    for name in names:
        if is_address(name):
            remedy = "Fetch it first: passage-energy weather --fetch ADDRESS --for PASSAGE.toml."
            faults.append(Fault(where, key, f"'{masked(name)}' is an address, and files are read here.", remedy))
            continue
        if WHERE_PATTERNS_BEGIN.search(name) is None or os.path.isfile(folder / name):
            files.append(folder / name)
            continue
        found = [folder / each for each in glob.glob(name, root_dir=folder, recursive=True)]
        matches = sorted((path for path in found if os.path.isfile(path)), key=lambda path: _as_sorted(path, folder))
        if not matches:
            faults.append(Fault(where, key, f"no file is named like '{name}'.", _what_lies_there(name, folder)))
        files += matches
    once: dict[Path, Path] = {}
    for path in files:
        once.setdefault(path.resolve(), path)
    return tuple(once.values()), faults


def _as_sorted(path: Path, folder: Path) -> tuple[tuple[str, int, str], ...]:
    """Return what sorts names by their numbers, not digit by digit."""
    text = str(path.relative_to(folder) if path.is_relative_to(folder) else path)
    parts = re.findall(r"\d+|\D+", text)
    return tuple(("", int(part), part) if part.isdigit() else (part.lower(), 0, part) for part in parts)


def _what_lies_there(pattern: str, folder: Path) -> str:
    """Say what there is in the folder that a pattern looks in."""
    fixed = WHERE_PATTERNS_BEGIN.split(pattern)[0]
    looked_in = folder / fixed[: fixed.rfind("/") + 1]
    if not os.path.isdir(looked_in):
        beside = [path.name for path in folder.iterdir() if path.is_dir()] if folder.is_dir() else []
        return f"There is no folder '{fixed[: fixed.rfind('/')]}'. {suggest(looked_in.name, beside)}".rstrip()
    lying = sorted(
        (path for path in looked_in.iterdir() if path.is_file()), key=lambda path: _as_sorted(path, folder)
    )
    if not lying:
        return "That folder holds no files."
    more = f" and {len(lying) - MOST_NAMED} more" if len(lying) > MOST_NAMED else ""
    return f"There lie: {', '.join(path.name for path in lying[:MOST_NAMED])}{more}."
