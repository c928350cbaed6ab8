"""What is wrong with a value of an input file, in a sailor's words: from what its model says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from planner.domain.errors import Fault, suggest
from planner.domain.inputs.described import inner_model, meaning_of
from planner.domain.inputs.fields import Input
from planner.readers.stand_in import place_of

NUMBER: Final = ("{given} is no number.", "Write the bare figure, with a point: 12.5, not '12.5 m'.")
WHOLE: Final = ("{given} is no whole number.", "Write it without a point.")
LIST: Final = ("{given} is no list.", "Write it in brackets, {example}.")
TABLE: Final = ("{given} is no table.", "It has keys of its own: {keys}.")
MOMENT: Final = (
    "{given} is no moment.",
    "Write date, time and the offset of the ship's clock: 2027-05-09T10:00:00+12:00, or Z for UTC.",
)
TRUTH: Final = ("{given} is neither true nor false.", "Write true or false, without quotes.")
WORDS: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "float_type": NUMBER,
        "float_parsing": NUMBER,
        "finite_number": ("{given} is no figure.", "Write a number, or leave the key out."),
        "int_type": WHOLE,
        "int_parsing": WHOLE,
        "int_from_float": WHOLE,
        "bool_type": TRUTH,
        "bool_parsing": TRUTH,
        "string_type": ("{given} is no text.", 'Write it in quotes, "like this".'),
        "string_too_short": ("it is empty.", "Write a word."),
        "string_too_long": ("it has {length} characters; {max_length} are the most.", "Shorten it."),
        "tuple_type": LIST,
        "list_type": LIST,
        "too_short": ("{actual_length} given; the least is {min_length}.", "Add what is missing."),
        "too_long": ("{actual_length} given; the most is {max_length}.", "Drop what is too many."),
        "model_type": TABLE,
        "dict_type": TABLE,
        "datetime_type": MOMENT,
        "datetime_parsing": MOMENT,
        "datetime_from_date_parsing": MOMENT,
        "datetime_object_invalid": MOMENT,
        "timezone_aware": (
            "the time '{input}' says no offset from UTC.",
            "Add the offset of the ship's clock, for example 2027-05-09T10:00:00+12:00, or Z for UTC.",
        ),
    }
)
"""Problem and remedy by what the model found."""
EXAMPLES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "quiet_hours": '[["22:00", "06:00"]]: spans within a list',
        "hours": '[["08:00", "09:30"]]: spans within a list',
        "strings": '[["port", "starboard"]]: each string of panels is a list within the list',
        **dict.fromkeys(("centre_m", "from_m", "to_m", "corners_m"), "[-4.75, 0.68, 1.72]: forward, to port, up"),
    }
)
AN_EXAMPLE: Final = "[first, second]"
MOST_SHOWN: Final = 80  # letters of a value in a message


def fault_of(model: type[Input], table: dict[str, Any], detail: ErrorDetails, where: str) -> Fault:
    """Return what one error of a model says, for whoever wrote the file.

    Parameters
    ----------
    model : type of Input
        That the whole file is read into.
    table : dict
        As the file has it.
    detail : ErrorDetails
        From pydantic.
    where : str
        Name of the file.
    """
    parts = place_of(detail)
    key, kind, context = _dotted(table, parts), detail["type"], detail.get("ctx", {})
    if kind == "refused":
        return Fault(where, key, context["problem"], context["remedy"])
    word = str(parts[-1]) if parts else ""
    if kind == "extra_forbidden":
        return Fault(where, key, f"unknown key '{word}'.", suggest(word, _allowed_keys(model, parts[:-1])))
    named = next((part for part in reversed(parts) if isinstance(part, str)), "")
    example = EXAMPLES.get(named, AN_EXAMPLE)
    if kind == "missing" and isinstance(parts[-1], int):
        return Fault(where, _dotted(table, parts[:-1]), "there are too few entries.", f"Write it as {example}.")
    if kind == "missing":
        return Fault(where, key, "this key is missing.", _meaning(_model_at(model, parts[:-1]), word))
    given = _shown(detail["input"])
    if kind == "literal_error":
        words = re.findall(r"'([^']+)'", context["expected"])
        numbers = ", ".join(re.findall(r"\d+", context["expected"]))
        remedy = _near(detail["input"], words) if words else f"Allowed: {numbers}."
        return Fault(where, key, f"{given} is not allowed.", remedy)
    problem, remedy = WORDS.get(kind, (f"{given}: {detail['msg']}.", ""))
    figures = {
        **context,
        "given": given,
        "input": _cut(str(detail["input"])),
        "length": len(detail["input"]) if isinstance(detail["input"], str) else 0,
        "example": example,
        "keys": ", ".join(_allowed_keys(model, parts)),
    }
    number = re.match(r"-?\d+(?:[.,]\d+)?", detail["input"]) if isinstance(detail["input"], str) else None
    if kind in {"float_type", "int_type"} and number:
        figure = float(number.group().replace(",", "."))
        percent = detail["input"].rstrip().endswith("%")
        remedy = f"Did you mean {figure / 100.0 if percent else figure:g}, without quotes and unit?"
    return Fault(where, key, problem.format(**figures), remedy.format(**figures))


def _shown(given: object) -> str:
    names = {list: "a list", tuple: "a list", dict: "a table", type(None): "nothing"}
    if isinstance(given, bool):
        return str(given).lower()
    return _cut(repr(given) if isinstance(given, str | int | float) else names.get(type(given), str(given)))


def _cut(said: str) -> str:
    return said if len(said) <= MOST_SHOWN else f"{said[:MOST_SHOWN]} ..."


def _near(given: object, words: Sequence[str]) -> str:
    """Return the word that was meant, or those that are allowed."""
    spelt = str(given).lower().strip()
    return suggest(next((word for word in words if word.lower() == spelt), str(given)), words)


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
        current = inner_model(current.model_fields[part].annotation)
    return current


def _meaning(model: type[BaseModel] | None, key: str) -> str:
    """Return what a missing key means, in a sentence."""
    said = meaning_of(model, key).text if model is not None else ""
    return f"It means: {said.split('. ')[0].split('; ')[0].rstrip('.')}." if said else ""


def _allowed_keys(model: type[Input], parts: Sequence[str | int]) -> list[str]:
    inner = _model_at(model, parts)
    return [field.alias or name for name, field in inner.model_fields.items()] if inner else []
