"""What stands in for figures at fault, so that all the rest is held together in the same reading.

An input is read twice more, with all that is at fault at the one end of what is usual and at the other: what is wrong
both times is wrong whatever was meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from typing import Any, Final, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from planner.domain.inputs.fields import Input
from planner.domain.inputs.ranges import annotated, stand_in

InputT = TypeVar("InputT", bound=Input)
ROUNDS: Final = 4  # of mending: what was hidden behind a fault may be at fault itself


def stand_ins(model: type[InputT], table: dict[str, Any]) -> list[InputT]:
    """Return an input twice, with what stands in at either end; empty where something cannot be stood in for.

    Parameters
    ----------
    model : type of Input
    table : dict
        As the file has it, with faults.
    """
    found = [_mended(model, deepcopy(table), end) for end in (0, 1)]
    return [value for value in found if value is not None] if None not in found else []


def _mended(model: type[InputT], table: dict[str, Any], end: int) -> InputT | None:
    for _ in range(ROUNDS):
        try:
            return model.model_validate(table)
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                _mend(model, table, detail, end)
    return None


def _mend(model: type[Input], table: dict[str, Any], detail: ErrorDetails, end: int) -> None:
    """Replace in place what one error is about, or leave it out where it need not be."""
    parts = place_of(detail)
    while parts and not _can_be_set(_at(table, parts[:-1]), parts[-1]):
        parts = parts[:-1]
    if not parts:
        return
    node, last = _at(table, parts[:-1]), parts[-1]
    optional, annotation = asked_at(model, parts)
    if annotation is None or (optional and not isinstance(detail["input"], int | float)):
        node.pop(last, None)
    else:
        node[last] = stand_in(annotation, end)


def _at(table: Any, parts: Sequence[str | int]) -> Any:
    """Return what stands at a place of nested tables; None where there is no such place."""
    for part in parts:
        table = table[part] if _can_be_set(table, part) and (isinstance(part, int) or part in table) else None
    return table


def _can_be_set(node: Any, part: str | int) -> bool:
    return isinstance(node, dict) if isinstance(part, str) else isinstance(node, list) and part < len(node)


def place_of(detail: ErrorDetails) -> list[str | int]:
    """Return where in a table an error lies, as keys and numbers."""
    return [part for part in detail["loc"] if not (isinstance(part, str) and part.startswith("function-"))]


def asked_at(model: type[BaseModel], parts: Sequence[str | int]) -> tuple[bool, Any]:
    """Return whether what stands at a place may be left out, and its annotation; None for a key that is not known."""
    current: Any = model
    optional = False
    for part in parts:
        if isinstance(part, int):
            elements = get_args(_bare(current))
            current = elements[min(part, len(elements) - 1)] if Ellipsis not in elements else elements[0]
            optional = False
            continue
        inner = _bare(current)
        fields = {field.alias or name: field for name, field in inner.model_fields.items()}
        if part not in fields:
            return True, None
        current, optional = annotated(fields[part]), not fields[part].is_required()
    return optional, current


def _bare(annotation: Any) -> Any:
    """Return an annotation without its marks and without None."""
    while hasattr(annotation, "__metadata__") or type(None) in get_args(annotation):
        annotation = get_args(annotation)[0]
    return annotation
