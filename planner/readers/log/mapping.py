"""The mapping of a log: read from TOML, and written so that the next log of its kind needs no thought."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from planner.domain.inputs.log_mapping import LogMapping
from planner.readers.config import read_input

HEADING = "# How a log is read. Another log with these headings is read the same way.\n"
_COMMENTS = {
    "time_zone": "where the times say no offset: ship, utc, or an offset such as +12:00",
    "covers": "what a reading stands for: the instant, or the mean since the last",
    "amps_positive": "charging or discharging",
}


def read_mapping(path: Path) -> LogMapping:
    """Read a mapping from a TOML file.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    return read_input(LogMapping, path, "mapping file")


def to_toml(mapping: LogMapping) -> str:
    """Return a mapping as the TOML that ``read_mapping`` reads."""
    said: dict[str, Any] = mapping.model_dump(exclude_none=True, exclude_defaults=True)
    said |= {"format": mapping.format, "covers": mapping.covers}
    tables = {name: said.pop(name) for name in ("columns", "controllers") if name in said}
    lines = [_line(name, value) for name, value in said.items()]
    for name, table in tables.items():
        lines += ["", f"[{name}]", *(_line(key, value) for key, value in table.items())]
    return HEADING + "\n".join(lines) + "\n"


def _line(name: str, value: str | int | tuple[str, ...]) -> str:
    key = name if name.replace("_", "").isalnum() and name.isascii() else _quoted(name)
    if isinstance(value, tuple):
        text = f"[{', '.join(_quoted(each) for each in value)}]"
    else:
        text = _quoted(value) if isinstance(value, str) else str(value)
    comment = _COMMENTS.get(name)
    return f"{key} = {text}" + (f"  # {comment}" if comment else "")


def _quoted(text: str) -> str:
    """Return a TOML basic string: its escapes are those of JSON, and it wants DEL escaped too (TOML 1.0)."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def joined(mappings: list[LogMapping]) -> LogMapping:
    """Return one mapping for several logs: all their headings, and of the rest what all agree on."""
    first, *others = mappings
    if not others:
        return first
    columns = _headings_of([each.columns for each in mappings])
    controllers = _headings_of([each.controllers for each in mappings])
    agreed = {
        name: value
        for name in ("time_zone", "date_order", "decimal", "soc_as", "amps_positive", "covers")
        if len(stated := {getattr(each, name) for each in mappings} - {None}) == 1
        for value in stated
    }
    ignore = tuple(dict.fromkeys(heading for each in mappings for heading in each.ignore))
    return LogMapping.model_validate({"columns": columns, "controllers": controllers, "ignore": ignore, **agreed})


def _headings_of(tables: list[Any]) -> Mapping[str, str | tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for table in tables:
        for name, heading in table.items():
            found.setdefault(name, {}).update(dict.fromkeys((heading,) if isinstance(heading, str) else heading))
    return {name: next(iter(every)) if len(every) == 1 else tuple(every) for name, every in found.items()}
