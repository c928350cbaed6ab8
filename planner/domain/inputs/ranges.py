"""The ranges that fields hold, found again: for warnings, for what stands in, and for the reference."""

from __future__ import annotations

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Final, NamedTuple, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from planner.domain.inputs.fields import Input, Range, Usual

RangeT = TypeVar("RangeT", bound=Range)
UNIONS: Final = (Union, UnionType)


class Figure(NamedTuple):
    """A figure as it was given, with its dotted key and what is usual there."""

    key: str
    given: float
    usual: Usual


def annotated(field: FieldInfo) -> Any:
    """Return a field's annotation with all that its ``Annotated`` held."""
    return Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation


def ranges_in(annotation: Any, kind: type[RangeT]) -> list[RangeT]:
    """Return the ranges of a kind anywhere in an annotation, but not inside the models that it names."""
    marks = getattr(annotation, "__metadata__", ())
    inner = [found for part in get_args(annotation)[: 1 if marks else None] for found in ranges_in(part, kind)]
    return [*inner, *(mark for mark in marks if type(mark) is kind or (kind is not Usual and isinstance(mark, kind)))]


def figures_of(value: Input, before: str = "") -> Iterator[Figure]:
    """Yield every figure of an input that says what is usual; items of a list go by their names.

    Parameters
    ----------
    value : Input
    before : str
        What stands before its keys.
    """
    for name, field in type(value).model_fields.items():
        usual = ranges_in(annotated(field), Usual)
        yield from _figures(getattr(value, name), f"{before}{field.alias or name}", usual)


def _figures(given: Any, key: str, usual: list[Usual]) -> Iterator[Figure]:
    if isinstance(given, Input):
        yield from figures_of(given, f"{key}.")
    elif isinstance(given, tuple):
        for place, item in enumerate(given):
            yield from _figures(item, f"{key}.{getattr(item, 'name', place)}", usual)
    elif usual and isinstance(given, int | float):
        yield Figure(key, float(given), usual[-1])


def stand_in(annotation: Any, end: int, ranges: tuple[Range, ...] = ()) -> Any:
    """Return what an annotation allows, for want of what was meant: of a figure the low end of its range or the high.

    Parameters
    ----------
    annotation : type
        Of a field, whole.
    end : {0, 1}
        Which of two to return; they differ as far as may be.
    ranges : tuple of Range
        Found further out, the last of them the closest.
    """
    parts: tuple[Any, ...] = get_args(annotation)
    marks = getattr(annotation, "__metadata__", ())
    found: Any = parts[-end] if parts else f"20{27 + end}-01-01T00:00:00Z"  # a word of several; a moment
    if marks or get_origin(annotation) in UNIONS:
        found = stand_in(parts[0], end, (*ranges, *(mark for mark in marks if isinstance(mark, Range))))
    elif get_origin(annotation) is tuple:
        found = [stand_in(part, end, ranges) for part in parts if part is not Ellipsis]
    elif isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = annotation.model_fields
        needed = {name: field for name, field in fields.items() if field.is_required()}
        found = {field.alias or name: stand_in(annotated(field), end, ranges) for name, field in needed.items()}
    elif annotation in (int, float):
        within = ranges[-1] if ranges else Usual(0.0, 0.0, "")
        found = annotation((within.low, within.high)[end])
    elif annotation in (bool, str):
        found = bool(end) if annotation is bool else f"{12 * end:02d}:00"  # a name, and a ship's time
    return found
