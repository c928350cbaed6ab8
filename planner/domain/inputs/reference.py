"""Every key of an input file with its unit, default, range and meaning: read from the models alone."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from planner.domain.inputs.described import inner_model, meaning_of
from planner.domain.inputs.fields import Along, Between, Usual
from planner.domain.inputs.ranges import annotated, ranges_in

_UNIT = re.compile(r"\s*\[([^\]]+)\](?=[;.,:]|$)")


@dataclass(frozen=True)
class Entry:
    """What is to be known of one key, or of one variable or field of an output; empty where there is nothing to say.

    Attributes
    ----------
    key : str
        Dotted, as ``--set`` takes it; NAME stands for the name, or the number from 0, of one of several.
    meaning : str
    unit : str
        As the docstring has it.
    default : str
        As TOML; 'needed' where there is none.
    allowed, usual : str
        What is not refused, and what is not warned of.
    example : str
        As TOML.
    """

    key: str
    meaning: str
    unit: str = ""
    default: str = ""
    allowed: str = ""
    usual: str = ""
    example: str = ""


def reference(model: type[BaseModel], before: str = "") -> Iterator[Entry]:
    """Yield an entry for every key of a model and of the tables in it.

    Parameters
    ----------
    model : type of BaseModel
    before : str
        What stands before its keys.
    """
    for name, field in model.model_fields.items():
        key = f"{before}{field.alias or name}"
        inner = inner_model(field.annotation)
        yield _entry(model, field, key, field.alias or name)
        if inner is not None:
            several = get_origin(field.annotation) is tuple
            yield from reference(inner, f"{key}.NAME." if several else f"{key}.")


def _entry(model: type[BaseModel], field: FieldInfo, key: str, name: str) -> Entry:
    said = meaning_of(model, name).text.replace("``", "")
    units = _UNIT.findall(said)
    allowed, usual = ranges_in(annotated(field), Between), ranges_in(annotated(field), Usual)
    default = "needed" if field.is_required() else _toml(field.get_default())
    words = _words(field.annotation)
    ranges = dict.fromkeys(
        f"{within.low:g} to {within.high:g} ({within.reason})" for within in _apart(allowed, field)
    )
    return Entry(
        key=key,
        meaning=_UNIT.sub("", said),
        unit=units[-1] if units else "",
        default=default,
        allowed=f"one of {', '.join(words)}" if words else "; ".join(ranges),
        usual=f"{usual[-1].low:g} to {usual[-1].high:g} ({usual[-1].reason})" if usual else "",
        example=_example(field, default, words),
    )


def _apart(ranges: list[Between], field: FieldInfo) -> list[Between]:
    """Return the range of each entry of a point, else the one that holds: the closest."""
    return ranges if _mentions(field.annotation, Along) else ranges[-1:]


def _words(annotation: Any) -> list[str]:
    """Return the words, or the figures, that are allowed where there are few."""
    if get_origin(annotation) is Literal:
        return [json.dumps(word) for word in get_args(annotation)]
    return next((found for part in get_args(annotation) if (found := _words(part))), [])


def _example(field: FieldInfo, default: str, words: list[str]) -> str:
    """Return a value that may stand there: the default, or else one from the middle of what is usual."""
    if default not in {"needed", "none"} or inner_model(field.annotation) is not None:
        return default if default not in {"needed", "none"} else ""
    if words:
        return words[0]
    if ranges := ([*ranges_in(annotated(field), Between), *ranges_in(annotated(field), Usual)]):
        middle = (max(ranges[-1].low, 0.0) + ranges[-1].high) / 4.0
        figure = float(f"{middle:.1g}")
        within = min(max(figure, ranges[-1].low), ranges[-1].high)
        return f"[{within:g}, ...]" if get_origin(field.annotation) is tuple else f"{within:g}"
    kinds = {datetime: "2027-05-09T10:00:00+12:00", bool: "true", str: '"..."'}
    return next((text for kind, text in kinds.items() if _mentions(field.annotation, kind)), "")


def _mentions(annotation: Any, kind: Any) -> bool:
    return annotation is kind or annotation == kind or any(_mentions(part, kind) for part in get_args(annotation))


def _toml(value: Any) -> str:
    """Return a default as the file would have it; of a table that it has keys of its own."""
    if value is None or value == ():
        return "none"
    if isinstance(value, BaseModel):
        return "none" if not type(value).model_fields else "its own"
    if isinstance(value, tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    return json.dumps(value)
