"""Variants to compare: a TOML file of them, or ``KEY=V1,V2,...`` from the command line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.variants import Variant, VariantList
from planner.readers.config import read_input

MOST_VALUES = 1000  # values that a range may spell out: more is a slip in its step
_RANGE = re.compile(r"^([+-]?\d+(?:\.\d+)?)(h?)\.\.([+-]?\d+(?:\.\d+)?)(h?)/(\d+(?:\.\d+)?)(h?)$")


def read_variants(path: Path) -> tuple[Variant, ...]:
    """Read a file of ``[[variant]]`` tables.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        With every fault of the file, and where a name stands twice.
    """
    variants = read_input(VariantList, path, "file of variants").variant
    names = [variant.name for variant in variants]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(
            [Fault(path.name, "variant.name", f"'{name}' stands twice.", "Rename one.") for name in twice]
        )
    return variants


def parse_vary(text: str) -> tuple[str, tuple[tuple[str, Any], ...]]:
    """Return the key of ``KEY=V1,V2,...`` and its values, each with how it is written.

    A value is read as TOML; a bare word is a string. ``LOW..HIGH/STEP`` spells out evenly spaced numbers, with an
    ``h`` behind each of the three, hours: ``departure=+0h..+23h/1h``.

    Parameters
    ----------
    text : str
        As on the command line.

    Raises
    ------
    InputError
        When there is no key, no value, or an endless range.
    """
    key, equals, raw = text.partition("=")
    key, raw = key.strip(), raw.strip()
    if not equals or not key or not raw:
        remedy = "Write for example --vary boat.bank.capacity_ah=300,400."
        raise InputError([Fault("--vary", "", f"'{text}' is not KEY=V1,V2,...", remedy)])
    words = _spelt_out(raw, key)
    if words is None:
        try:
            values = tomllib.loads(f"values = [{raw}]")["values"]
            return key, tuple((_written(value), value) for value in values)
        except (ValueError, RecursionError):
            words = [word.strip() for word in raw.split(",") if word.strip()]
    if not words:
        raise InputError([Fault("--vary", key, f"'{raw}' holds no value.", "Separate values by commas.")])
    return key, tuple((word, _read(word)) for word in words)


def _spelt_out(raw: str, key: str) -> list[str] | None:
    """Return the numbers of a range as words, or None when it is no range."""
    match = _RANGE.match(raw)
    if not match:
        return None
    low, high, step = (float(match[index]) for index in (1, 3, 5))
    units = {match[index] for index in (2, 4, 6)}
    count = int((high - low) / step + 1e-9) + 1 if step > 0.0 else 0
    if len(units) > 1 or not 1 <= count <= MOST_VALUES:
        remedy = "Write LOW..HIGH/STEP, rising, all three in hours or none, such as +0h..+23h/1h."
        raise InputError([Fault("--vary", key, f"'{raw}' is no range of 1 to {MOST_VALUES} values.", remedy)])
    unit = units.pop()
    sign = "+" if unit else ""
    return [f"{low + number * step:{sign}g}{unit}" for number in range(count)]


def _read(word: str) -> Any:
    try:
        return tomllib.loads(f"value = {word}")["value"]
    except (ValueError, RecursionError):
        return word


def _written(value: Any) -> str:
    return value if isinstance(value, str) else str(value)
