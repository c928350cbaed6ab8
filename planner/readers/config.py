"""Passage and boat files (TOML) with overrides, turned into typed inputs; all faults of a file come at once."""

from __future__ import annotations

import hashlib
import os
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import ValidationError

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.file_format import format_faults
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.fields import Input
from planner.domain.inputs.given import Override
from planner.domain.inputs.passage import Passage
from planner.readers.file_patterns import matching_files
from planner.readers.polar import read_polar
from planner.readers.stand_in import stand_ins
from planner.readers.text_file import parsed, read_utf8
from planner.readers.wrong_value import fault_of

BOAT_PREFIX = "boat."
UNREAD_POLAR: Final = {  # sails at five knots till the table can be read
    "true_wind_speed_kn": [0.0, 60.0],
    "true_wind_angle_deg": [0.0, 180.0],
    "speed_kn": [[5.0, 5.0], [5.0, 5.0]],
}
MOST_HASHED = 2**30  # bytes, some seconds' reading
InputT = TypeVar("InputT", bound=Input)


@dataclass(frozen=True)
class Configuration:
    """A passage with its boat and the files it names.

    Attributes
    ----------
    passage : Passage
    boat : Boat
    passage_file, boat_file : Path
    route_file : Path or None
        None where the passage file holds the waypoints.
    forecast_files : tuple of Path
    """

    passage: Passage
    boat: Boat
    passage_file: Path
    boat_file: Path
    route_file: Path | None
    forecast_files: tuple[Path, ...]


def parse_override(text: str) -> Override:
    """Return the override that ``KEY=VALUE`` asks for.

    Raises
    ------
    InputError
        When there is no ``=`` or no key.
    """
    key, equals, raw = text.partition("=")
    if not equals or not key.strip():
        problem = f"'{text}' is not KEY=VALUE."
        raise InputError([Fault("--set", "", problem, "Write for example --set start.state_of_charge=0.8.")])
    try:
        value = tomllib.loads(f"value = {raw.strip()}")["value"]
    except (ValueError, RecursionError):  # no TOML, or numbers and depths that no input has
        value = raw.strip()
    return Override(key.strip(), value)


def read_configuration(passage_file: Path, overrides: Sequence[Override] = ()) -> Configuration:
    """Read a passage file and the boat file that it names.

    Parameters
    ----------
    passage_file : Path
        TOML as ``domain.passage.Passage`` describes it; the files that it names lie relative to it.
    overrides : sequence of Override
        Applied before validation.

    Returns
    -------
    Configuration

    Raises
    ------
    InputError
        With every fault of both files.
    """
    read, faults = read_whatever_holds(passage_file, overrides)
    if faults:
        raise InputError(faults)
    return read[0]


def read_whatever_holds(
    passage_file: Path, overrides: Sequence[Override] = ()
) -> tuple[list[Configuration], list[Fault]]:
    """Read a passage file and the boat file that it names, as ``read_configuration``, as far as they can be read.

    Returns
    -------
    list of Configuration
        One without faults; else two, in which something stands in for all that is at fault (``stand_in.py``), or none
        where nothing can.
    list of Fault
        Of both files.
    """
    passage_table = _load_toml(passage_file, "passage file")
    own = [each for each in overrides if not each.key.startswith(BOAT_PREFIX)]
    boats_own = [
        Override(each.key.removeprefix(BOAT_PREFIX), each.value)
        for each in overrides
        if each.key.startswith(BOAT_PREFIX)
    ]
    faults = [fault for override in own for fault in _apply(passage_table, override, prefix="")]
    passages, passage_faults = _validate(Passage, passage_table, passage_file.name)
    faults += passage_faults

    boats: list[Boat] = []
    boat_name = passage_table.get("boat")
    boat_file = passage_file.parent / str(boat_name)
    if isinstance(boat_name, str):
        try:
            boats, boat_faults = _read_boat(boat_file, boats_own)
        except InputError as error:
            boat_faults = list(error.faults)
        faults += boat_faults
    forecast_files: tuple[Path, ...] = ()
    if passages:
        forecast_files, unmatched = matching_files(
            passages[0].forecast, passage_file.parent, where=passage_file.name, key="forecast"
        )
        faults += unmatched
    several = range(2 if passages and boats and faults else min(len(passages), len(boats)))
    read = [
        Configuration(
            passage=passages[min(n, len(passages) - 1)],
            boat=boats[min(n, len(boats) - 1)],
            passage_file=passage_file,
            boat_file=boat_file,
            route_file=None if passages[0].route is None else passage_file.parent / passages[0].route,
            forecast_files=forecast_files,
        )
        for n in several
    ]
    return read, faults


def read_boat(path: Path, text: str | None = None) -> Boat:
    """Read a boat file alone.

    Parameters
    ----------
    path : Path
    text : str, optional
        What the file would hold; as it is when None.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    table = None if text is None else _parse_toml(text, path.name, "boat file")
    boats, faults = _read_boat(path, (), table)
    if faults:
        raise InputError(faults)
    return boats[0]


def read_input(model: type[InputT], path: Path, what: str) -> InputT:
    """Read a TOML file as one typed input.

    Parameters
    ----------
    model : type of Input
        What it must hold.
    path : Path
    what : str
        What to call it when it is not there.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    values, faults = _validate(model, _load_toml(path, what), path.name)
    if faults:
        raise InputError(faults)
    return values[0]


def fingerprint(path: Path) -> str:
    """Return what identifies a file: its SHA-256 as hexadecimal digits; of a huge one its size in words.

    A global ensemble may weigh tens of gigabytes, of which a plan reads a corridor: hashing it would take longer than
    all the rest.
    """
    size = path.stat().st_size
    if size > MOST_HASHED:
        return f"not hashed, {size} bytes"
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _read_boat(
    boat_file: Path, overrides: Sequence[Override], table: dict[str, Any] | None = None
) -> tuple[list[Boat], list[Fault]]:
    table = table or _load_toml(boat_file, "boat file", "The passage file names it under 'boat'.")
    faults = [fault for override in overrides for fault in _apply(table, override, prefix=BOAT_PREFIX)]
    sailing = table.get("sailing")
    if isinstance(sailing, dict) and isinstance(sailing.get("polar"), str):
        try:
            sailing["polar"] = read_polar(boat_file.parent / sailing["polar"])
        except InputError as error:
            sailing["polar"] = UNREAD_POLAR
            faults += error.faults
    boats, boat_faults = _validate(Boat, table, boat_file.name)
    return boats, faults + boat_faults


def _load_toml(path: Path, what: str, hint: str = "") -> dict[str, Any]:
    if not os.path.isfile(path):  # which, unlike the method, also answers for a name too long
        near = suggest(path.name, [each.name for each in path.parent.glob("*.toml")]) if path.parent.is_dir() else ""
        remedy = " ".join(part for part in (hint, near) if part)
        raise InputError([Fault(str(path), "", f"there is no such {what}.", remedy)])
    return _parse_toml(read_utf8(path), path.name, what)


def _parse_toml(text: str, name: str, what: str) -> dict[str, Any]:
    table: dict[str, Any] = parsed(tomllib.loads, text, name, "TOML", "See data/demo for a sample.")
    if faults := format_faults(
        table, name, remedy=f"Bring the {what} to this planner's form, or use its own planner."
    ):
        raise InputError(faults)  # alone: of a file of another form all else would mislead
    return table


def _apply(table: dict[str, Any], override: Override, *, prefix: str) -> list[Fault]:
    """Set one dotted key in nested tables; arrays of tables are entered by name or number."""
    *path, last = override.key.split(".")
    node: Any = table
    for part in path:
        child = _child(node, part)
        if child is None:
            if not isinstance(node, dict):
                return [_no_such(prefix + override.key, part, _keys(node))]
            child = node.setdefault(part, {})
        node = child
    if isinstance(node, dict):
        node[last] = override.value
        return []
    if isinstance(node, list) and last.isdigit() and int(last) < len(node):
        node[int(last)] = override.value
        return []
    inner = _child(node, last)
    if isinstance(inner, dict):
        remedy = f"Set one of them, such as {prefix}{override.key}.{next(reversed(inner))}."
        return [Fault("--set", prefix + override.key, f"'{last}' has keys of its own.", remedy)]
    return [_no_such(prefix + override.key, last, _keys(node))]


def _child(node: Any, part: str) -> Any:
    if isinstance(node, dict):
        return node.get(part)
    if isinstance(node, list):
        for index, item in enumerate(node):
            if part == str(index) or (isinstance(item, dict) and item.get("name") == part):
                return item
    return None


def _keys(node: Any) -> list[str]:
    if isinstance(node, dict):
        return list(node)
    if isinstance(node, list):
        return [
            str(item.get("name", index)) if isinstance(item, dict) else str(index) for index, item in enumerate(node)
        ]
    return []


def _no_such(key: str, part: str, allowed: Iterable[str]) -> Fault:
    return Fault("--set", key, f"there is no '{part}'.", suggest(part, allowed))


def _validate(model: type[InputT], table: dict[str, Any], where: str) -> tuple[list[InputT], list[Fault]]:
    try:
        return [model.model_validate(table)], []
    except ValidationError as error:
        details = error.errors(include_url=False)
        emptied = {detail["loc"][:n] for detail in details for n in range(len(detail["loc"]))}
        faults = [
            fault_of(model, table, detail, where)
            for detail in details
            if not (detail["type"] == "too_short" and detail["loc"] in emptied)  # of nothing but faulty items
        ]
        return stand_ins(model, table), faults
