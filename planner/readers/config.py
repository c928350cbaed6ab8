"""Passage and boat files (TOML) with overrides, turned into typed inputs; all faults of a file come at once."""

from __future__ import annotations

import hashlib
import os
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from planner.domain.errors import Fault, InputError, suggest
from planner.domain.file_format import format_faults
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.fields import Input
from planner.domain.inputs.given import Override
from planner.domain.inputs.passage import Passage
from planner.readers.file_patterns import matching_files
from planner.readers.polar import read_polar
from planner.readers.text_file import parsed, read_utf8

BOAT_PREFIX = "boat."
MOST_SHOWN = 80  # letters of a value in a message
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
    passage_table = _load_toml(passage_file, "passage file")
    own = [each for each in overrides if not each.key.startswith(BOAT_PREFIX)]
    boats = [
        Override(each.key.removeprefix(BOAT_PREFIX), each.value)
        for each in overrides
        if each.key.startswith(BOAT_PREFIX)
    ]
    faults = [fault for override in own for fault in _apply(passage_table, override, prefix="")]
    passage, passage_faults = _validate(Passage, passage_table, passage_file.name)
    faults += passage_faults

    boat, boat_file = None, None
    if isinstance(boat_name := passage_table.get("boat"), str):
        boat_file = passage_file.parent / boat_name
        try:
            boat, boat_faults = _read_boat(boat_file, boats)
        except InputError as error:
            boat_faults = list(error.faults)
        faults += boat_faults
    forecast_files: tuple[Path, ...] = ()
    if passage is not None:
        forecast_files, unmatched = matching_files(
            passage.forecast, passage_file.parent, where=passage_file.name, key="forecast"
        )
        faults += unmatched
    if faults or passage is None or boat is None or boat_file is None:
        raise InputError(faults)
    return Configuration(
        passage=passage,
        boat=boat,
        passage_file=passage_file,
        boat_file=boat_file,
        route_file=None if passage.route is None else passage_file.parent / passage.route,
        forecast_files=forecast_files,
    )


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
    boat, faults = _read_boat(path, (), table)
    if boat is None or faults:
        raise InputError(faults)
    return boat


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
    value, faults = _validate(model, _load_toml(path, what), path.name)
    if value is None:
        raise InputError(faults)
    return value


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
) -> tuple[Boat | None, list[Fault]]:
    table = table or _load_toml(boat_file, "boat file", "The passage file names it under 'boat'.")
    faults = [fault for override in overrides for fault in _apply(table, override, prefix=BOAT_PREFIX)]
    sailing = table.get("sailing")
    if isinstance(sailing, dict) and isinstance(sailing.get("polar"), str):
        try:
            sailing["polar"] = read_polar(boat_file.parent / sailing["polar"])
        except InputError as error:
            sailing.pop("polar")
            return None, [*faults, *error.faults]
    boat, boat_faults = _validate(Boat, table, boat_file.name)
    return boat, faults + boat_faults


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


def _validate(model: type[InputT], table: dict[str, Any], where: str) -> tuple[InputT | None, list[Fault]]:
    try:
        return model.model_validate(table), []
    except ValidationError as error:
        return None, [_fault(model, table, detail, where) for detail in error.errors(include_url=False)]


def _fault(model: type[Input], table: dict[str, Any], detail: ErrorDetails, where: str) -> Fault:
    parts = [part for part in detail["loc"] if not (isinstance(part, str) and part.startswith("function-"))]
    key = _dotted(table, parts)
    if detail["type"] == "extra_forbidden":
        word = str(parts[-1])
        return Fault(where, key, f"unknown key '{word}'.", suggest(word, _allowed_keys(model, parts[:-1])))
    if detail["type"] == "missing":
        return Fault(where, key, "this key is missing.", _meaning(model, parts))
    if detail["type"] == "timezone_aware":
        remedy = "Add the offset of the ship's clock, for example 2027-05-09T10:00:00+12:00, or Z for UTC."
        return Fault(where, key, f"the time '{detail['input']}' says no offset from UTC.", remedy)
    if detail["type"] == "refused":
        said = detail.get("ctx", {})
        return Fault(where, key, said["problem"], said["remedy"])
    given = detail["input"]
    shown = f"{given!r}" if isinstance(given, str | int | float | bool) else f"a {type(given).__name__}"
    shown = shown if len(shown) <= MOST_SHOWN else f"{shown[:MOST_SHOWN]} ..."
    message = detail["msg"].removeprefix("Input ").removeprefix("Value error, ")
    return Fault(where, key, f"given {shown}; it {message}.", _near_word(detail))


def _near_word(detail: ErrorDetails) -> str:
    if detail["type"] == "literal_error" and isinstance(detail["input"], str):
        expected = detail.get("ctx", {}).get("expected", "")
        return suggest(detail["input"], [word.strip("' ") for word in expected.replace(" or ", ", ").split(", ")])
    return ""


def _dotted(table: Any, parts: Sequence[str | int]) -> str:
    """Name items of arrays of tables by their ``name``, as the user knows them."""
    words, node = [], table
    for part in parts:
        node = node[part] if _has(node, part) else None
        named = isinstance(part, int) and isinstance(node, dict) and isinstance(node.get("name"), str)
        words.append(node["name"] if named and node else str(part))
    return ".".join(words)


def _has(node: Any, part: str | int) -> bool:
    return (isinstance(node, dict) and part in node) or (
        isinstance(node, list | tuple) and isinstance(part, int) and part < len(node)
    )


def _model_at(model: type[Input], parts: Sequence[str | int]) -> type[BaseModel] | None:
    current: type[BaseModel] | None = model
    for part in parts:
        if isinstance(part, int):
            continue
        if current is None or part not in current.model_fields:
            return None
        current = _inner_model(current.model_fields[part].annotation)
    return current


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for argument in get_args(annotation):
        found = _inner_model(argument)
        if found is not None:
            return found
    return None


def _allowed_keys(model: type[Input], parts: Sequence[str | int]) -> list[str]:
    inner = _model_at(model, parts)
    return [field.alias or name for name, field in inner.model_fields.items()] if inner else []


def _meaning(model: type[Input], parts: Sequence[str | int]) -> str:
    """Say what a missing key means, from the line of the class docstring that describes it."""
    inner = _model_at(model, parts[:-1])
    lines = (inner.__doc__ or "").splitlines() if inner else []
    for index, line in enumerate(lines[:-1]):
        names = [word.strip() for word in line.partition(" : ")[0].split(",")]
        if str(parts[-1]) in names and lines[index + 1].strip():
            return f"It means: {lines[index + 1].strip()}"
    return ""
