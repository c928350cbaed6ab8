"""What keeps a sweep cheap: a stage is called again only when what it reads has changed."""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, ParamSpec, TypeVar

Given = ParamSpec("Given")
Result = TypeVar("Result")

DEPTH = 1  # results kept of each stage: variants come in an order that shares with the one before


class Recall:
    """Remembers the last results of each stage.

    What is read counts as unchanged when it is equal, or for arrays and datasets when it is the same object; these
    are kept alive, so that no other can take their place.

    Parameters
    ----------
    depth : int
        Results kept of each stage.

    Attributes
    ----------
    calls : Counter of str
        How often each stage, by its function's name, has really been called.
    """

    def __init__(self, depth: int = DEPTH) -> None:
        self.calls: Counter[str] = Counter()
        self._depth = depth
        self._kept: dict[str, OrderedDict[Hashable, Any]] = {}

    def __call__(self, stage: Callable[Given, Result], /, *given: Given.args, **named: Given.kwargs) -> Result:
        """Return what the stage gives for these arguments, all of which it reads."""
        return self.of((*given, *sorted(named.items())), stage, *given, **named)

    def of(
        self, reads: tuple[object, ...], stage: Callable[Given, Result], /, *given: Given.args, **named: Given.kwargs
    ) -> Result:
        """Return what the stage gives for these arguments, of which it reads only the parts named first."""
        name = stage.__name__
        kept = self._kept.setdefault(name, OrderedDict())
        key = tuple(_key(each) for each in reads)
        if key in kept:
            kept.move_to_end(key)
            result: Result = kept[key]
            return result
        self.calls[name] += 1
        result = stage(*given, **named)
        kept[key] = result
        if len(kept) > self._depth:
            kept.popitem(last=False)
        return result


class _Same:
    """An object that equals itself alone."""

    def __init__(self, thing: object) -> None:
        self._thing = thing

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self._thing is other._thing

    def __hash__(self) -> int:
        return id(self._thing)


def _key(thing: object) -> Hashable:
    """Return what stands for a thing that a stage reads; 1, 1.0 and True differ by their types."""
    if isinstance(thing, tuple | list):
        return tuple(_key(each) for each in thing)
    try:
        hash(thing)
    except TypeError:
        return _Same(thing)
    return type(thing), thing
