"""What to do first when something fails, and what the figures of the failure card suppose, as notes."""

from __future__ import annotations

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.failure import Failure
from planner.domain.inputs.given import Inputs
from planner.domain.results.note import Note


def first_action(failure: Failure, boat: Boat) -> Note:
    """Return what to do first, with its caution.

    Parameters
    ----------
    failure : Failure
    boat : Boat
        Before it failed.
    """
    managed = boat.bank.chemistry == "lifepo4"
    return {
        "engine": Note("first_engine"),
        "alternator": Note("first_alternator"),
        "autopilot": Note("first_autopilot"),
        "controller": Note("first_controller"),
        "panels": Note("first_panels"),
        "bank": Note("first_bank_managed") if managed else Note("first_bank"),
        "meter": Note("first_meter_lithium") if managed else Note("first_meter"),
    }[failure.kind]


def assumed_of(failure: Failure, failed: Inputs) -> Note:
    """Return what the figures of a failure suppose.

    Parameters
    ----------
    failure : Failure
        Panels with their names.
    failed : Inputs
        Changed by it.
    """
    names = list(failure.names)
    wired = [panel for each in failed.boat.controller if each.name in names for row in each.strings for panel in row]
    return {
        "engine": Note("assumed_engine"),
        "alternator": Note("assumed_alternator"),
        "autopilot": Note("assumed_autopilot"),
        "controller": Note("assumed_controller", {"panels": wired or [""]}),
        "panels": Note("assumed_panels", {"panels": names or [""]}),
        "bank": Note("assumed_bank"),
        "meter": Note("assumed_meter", {"error": failed.passage.wishes.meter_error}),
    }[failure.kind]
