"""What each key of an input means, read from the docstring of its model: the one place where that stands."""

from __future__ import annotations

import inspect
import re
from functools import cache
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel

_HEAD = re.compile(r"^(?P<names>[a-z_][\w, ]*?)(?: : (?P<kind>.+))?$")


class Meaning(NamedTuple):
    """What a key means, in sentences, and what its value is as the docstring has it."""

    text: str
    kind: str


@cache
def meanings(model: type[BaseModel]) -> dict[str, Meaning]:
    """Return what the fields of a model mean, by the names that its docstring gives them.

    Parameters
    ----------
    model : type of BaseModel
        With a numpydoc section ``Attributes``.
    """
    found: dict[str, Meaning] = {}
    for base in model.__bases__:
        if issubclass(base, BaseModel):
            found |= meanings(base)
    _, _, attributes = inspect.cleandoc(model.__doc__ or "").partition("Attributes\n----------\n")
    names: list[str] = []
    for line in attributes.splitlines():
        head = _HEAD.match(line)
        if head:
            names = head["names"].replace(",", " ").split()
            found |= {name: Meaning("", head["kind"] or "") for name in names}
        for name in [] if head else names:
            found[name] = found[name]._replace(text=f"{found[name].text} {line.strip()}".strip())
    return found


def meaning_of(model: type[BaseModel], key: str) -> Meaning:
    """Return what one key of a model means; of a table what that is, where its own docstring says more.

    Parameters
    ----------
    model : type of BaseModel
    key : str
        As it stands in the file.
    """
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    said = meanings(model).get(key, Meaning("", ""))
    inner = inner_model(fields[key].annotation) if key in fields else None
    if inner is None or said.text:
        return said
    return said._replace(text=inspect.cleandoc(inner.__doc__ or "").splitlines()[0])


def inner_model(annotation: Any) -> type[BaseModel] | None:
    """Return the model that an annotation names, alone or in a list; None where it names none."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for argument in get_args(annotation) if (found := inner_model(argument))), None)
