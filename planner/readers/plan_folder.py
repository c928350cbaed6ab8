"""A folder of outputs, read through its plan.json into the set that it names."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import Any

from planner.domain.errors import Fault, InputError
from planner.domain.file_format import PLAN_FILE, SETS, format_faults
from planner.readers.text_file import MOST_LINES, parsed, read_utf8

LONGEST_NAME = 256  # letters; the systems' own limit
HINT = "Name the folder that `plan --out` wrote."


def read_plan_file(folder: Path) -> dict[str, Any]:
    """Return what plan.json says.

    Parameters
    ----------
    folder : Path
        As ``plan --out`` wrote it.

    Raises
    ------
    InputError
        When there is none, it is none of this program, or its format is another.
    """
    path = folder / PLAN_FILE
    if not path.is_file():
        raise InputError([Fault(str(folder), "", f"it holds no {PLAN_FILE}.", HINT)])
    plan = parsed(json.loads, read_utf8(path, MOST_LINES), str(path), "plan of this program", HINT)
    if not isinstance(plan, dict):
        raise InputError([Fault(str(path), "", "this is no plan of this program.", HINT)])
    remedy = "Plan again with this planner, or read it with the one that wrote it."
    if faults := format_faults(plan, str(path), remedy=remedy):
        raise InputError(faults)
    if not isinstance(plan.get("files"), dict):
        raise InputError([Fault(str(path), "", "this is no plan of this program: it names no files.", HINT)])
    return plan


def read_with_plan(folder: Path, name: str) -> tuple[dict[str, Any], bytes]:
    """Return what plan.json says, and another file of its set as it was when the set was written.

    The copy beside plan.json stands in for a set that did not come along when the folder was copied.

    Parameters
    ----------
    folder : Path
        As ``plan --out`` wrote it.
    name : str
        Of the file.

    Raises
    ------
    InputError
        When there is no such file that belongs to the plan.
    """
    plan = read_plan_file(folder)
    while (content := _belonging(folder, plan, name)) is None:
        again = read_plan_file(folder)
        if again == plan:  # else another plan was written meanwhile, and the set that was named swept away
            there = any(path.is_file() for path in _places(folder, plan, name))
            problem = f"{name} is not the one that {PLAN_FILE} belongs to." if there else f"it holds no {name}."
            raise InputError([Fault(str(folder), "", problem, "Plan again into this folder.")])
        plan = again
    return plan, content


def sizes_with_plan(folder: Path) -> dict[str, int]:
    """Return the files of the set that plan.json names, and how large each is [byte].

    Raises
    ------
    InputError
        As ``read_plan_file`` does.
    """
    plan = read_plan_file(folder)
    places = {name: next(filter(Path.is_file, _places(folder, plan, name)), None) for name in plan["files"]}
    return {name: path.stat().st_size for name, path in places.items() if path is not None}


def _belonging(folder: Path, plan: dict[str, Any], name: str) -> bytes | None:
    expected = plan["files"].get(name)
    for path in _places(folder, plan, name):
        try:
            content = path.read_bytes()
        except OSError:  # the copy beside plan.json may be had
            continue
        if hashlib.sha256(content).hexdigest() == expected:
            return content
    return None


def _places(folder: Path, plan: dict[str, Any], name: str) -> Iterator[Path]:
    named = plan.get("set")
    if isinstance(named, str):
        parts = PurePosixPath(named).parts
        if parts[:1] == (SETS,) and ".." not in parts and len(named) < LONGEST_NAME:  # in its own folder
            yield folder.joinpath(*parts, name)
    yield folder / name
