"""A boat and her passage with something failed: the same typed inputs, so that the one flow plans with it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.failure import Failure, FailureKind
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage
from planner.domain.results.note import Note
from planner.physics.bank.meter import WITHOUT_METER

if TYPE_CHECKING:
    import xarray as xr

Changed = tuple[Boat, Passage]

NO_ALTERNATOR: Final = "boat.engine.alternator_a"  # a key that is odd at 0, and no doubt in a failure


def without(inputs: Inputs, failures: Sequence[Failure]) -> Inputs:
    """Return what is left to plan with once things have failed, from the start on.

    Parameters
    ----------
    inputs : Inputs
    failures : sequence of Failure
        Panels with their names.

    Returns
    -------
    Inputs
        Themselves for no failure.
    """
    for failure in failures:
        boat, passage = _CHANGES[failure.kind](inputs.boat, inputs.passage, failure)
        inputs = replace(inputs, boat=boat, passage=passage, failed=(*inputs.failed, failure))
    return inputs


def changes_something(inputs: Inputs, failure: Failure) -> bool:
    """Return whether a failure takes anything from a boat: what is out of service cannot fail again."""
    less = without(inputs, [failure])
    return (less.boat, less.passage) != (inputs.boat, inputs.passage)


def worst_half(harvest: xr.Dataset) -> Failure:
    """Return the failure of the half of the panels that brings most, the larger half of an odd number.

    Parameters
    ----------
    harvest : xarray.Dataset
        As the glossary has it.
    """
    brought = harvest["panel_power_w"].mean(("member", "time"))
    best = np.argsort(-brought.values, kind="stable")[: math.ceil(brought.size / 2)]
    return Failure("panels", tuple(str(name) for name in harvest["panel"].values[np.sort(best)]))


def worst_controller(harvest: xr.Dataset) -> Failure:
    """Return the failure of the controller that brings most; ``harvest`` as the glossary has it."""
    brought = harvest["controller_power_w"].mean(("member", "time"))
    return Failure("controller", (str(harvest["controller"].values[int(brought.values.argmax())]),))


def _engine(boat: Boat, passage: Passage, _: Failure) -> Changed:
    dead = {"engine": boat.engine.model_copy(update={"available": False}), "sailing": boat.sailing.under_sail_alone()}
    return boat.model_copy(update=dead), passage


def _alternator(boat: Boat, passage: Passage, _: Failure) -> Changed:
    engine = boat.engine.model_copy(update={"alternator_a": 0.0})
    known = tuple(dict.fromkeys((*passage.acknowledged, NO_ALTERNATOR)))
    return boat.model_copy(update={"engine": engine}), passage.model_copy(update={"acknowledged": known})


def _autopilot(boat: Boat, passage: Passage, _: Failure) -> Changed:
    steering = "hand" if boat.autopilot.steering == "autopilot" else boat.autopilot.steering
    pilot = boat.autopilot.model_copy(update={"steering": steering, "watts_under_engine": 0.0})
    return boat.model_copy(update={"autopilot": pilot}), passage


def _controller(boat: Boat, passage: Passage, failure: Failure) -> Changed:
    return boat.model_copy(update={"controller": _out(boat.controller, failure)}), passage


def _panels(boat: Boat, passage: Passage, failure: Failure) -> Changed:
    return boat.model_copy(update={"panel": _out(boat.panel, failure)}), passage


def _out(each: Sequence[Any], failure: Failure) -> tuple[Any, ...]:
    return tuple(one.model_copy(update={"available": False}) if one.name in failure.names else one for one in each)


def _bank(boat: Boat, passage: Passage, failure: Failure) -> Changed:
    """Take the bank off the bus; no alternator may turn without it."""
    boat = boat.model_copy(update={"bank": boat.bank.model_copy(update={"connected": False})})
    return _alternator(boat, passage, failure)


def _meter(boat: Boat, passage: Passage, _: Failure) -> Changed:
    error = max(passage.wishes.meter_error, WITHOUT_METER[boat.bank.chemistry])
    wishes = passage.wishes.model_copy(update={"meter_error": error})
    return boat, passage.model_copy(update={"wishes": wishes})


_CHANGES: Final[Mapping[FailureKind, Callable[[Boat, Passage, Failure], Changed]]] = MappingProxyType(
    {
        "engine": _engine,
        "alternator": _alternator,
        "autopilot": _autopilot,
        "controller": _controller,
        "panels": _panels,
        "bank": _bank,
        "meter": _meter,
    }
)


def planned_without(inputs: Inputs) -> tuple[Note, ...]:
    """Return what must be known of a plan that was made with failures; none without."""
    if not inputs.failed:
        return ()
    said: list[Note | str] = [_said(failure) for failure in inputs.failed]
    blackout = (Note("planned_without_bank"),) if not inputs.boat.bank.connected else ()
    return (Note("planned_without", {"failures": said}, blackout),)


def _said(failure: Failure) -> Note | str:
    if failure.kind == "controller":
        return Note("fails_controller", {"names": list(failure.names)})
    if failure.kind == "panels":
        return Note("fails_panels", {"names": list(failure.names)})
    return failure.kind
