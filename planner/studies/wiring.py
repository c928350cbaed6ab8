"""The best strings for a controller's panels, and how a boat is wired when some of them are taken off."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations
from typing import Final

from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.power import Bank, Controller, Panel
from planner.domain.results.note import Note
from planner.simulation.harvest.array import rated_output_w
from planner.simulation.harvest.array_checks import EXTRA_LOW_V, array_faults, cold_v
from planner.simulation.ledger.bank import bank_params
from planner.studies.boats import dark

LIKE_CURRENT: Final = 0.05  # 1; panels whose currents differ by more are not put in series (common practice)
WARMER_C: Final = 25.0  # C that cells in sun are over those of the data sheet (common practice)
AS_GOOD: Final = 0.01  # 1, of the watts: for less no string is changed

Strings = tuple[tuple[str, ...], ...]


def without_panels(boat: Boat, names: Collection[str]) -> Boat:
    """Return the boat without panels, each controller that loses one wired anew as ``best_strings`` has it.

    A panel that finds no string is off the boat, too, and so is a controller that has none. Where nothing reaches
    the bank any more, it is the boat with all of her panels dark.

    Parameters
    ----------
    boat : Boat
    names : collection of str
        Of panels aboard, not all of them.

    Raises
    ------
    ValueError
        When no panel would be left, or there is none of a name.
    """
    aboard = {panel.name for panel in boat.panel}
    if not set(names) < aboard:
        raise ValueError(f"{sorted(names)} are not some of the panels {sorted(aboard)}")
    controllers = []
    for controller in boat.controller:
        wired = _wired(controller)
        left = [name for name in wired if name not in names]
        strings = controller.strings if left == wired else best_strings(boat, controller, left)
        if strings:
            controllers.append(controller.model_copy(update={"strings": strings}))
    if not controllers:
        return dark(boat)
    kept = {name for controller in controllers for name in _wired(controller)}
    panels = tuple(panel for panel in boat.panel if panel.name in kept)
    return boat.model_copy(update={"panel": panels, "controller": tuple(controllers)})


def with_panel(boat: Boat, panel: Panel, controller: Controller) -> Boat:
    """Return the boat with a panel more: on a controller of its own, or in a string with others where it needs them.

    Where no controller of the boat takes it without leaving another panel idle, it is on its own all the same, and
    ``array_faults`` says why that cannot be.
    """
    more = boat.model_copy(update={"panel": (*boat.panel, panel)})
    if string_faults((panel,), controller, boat.bank):
        for place, each in enumerate(boat.controller):
            wired = [*_wired(each), panel.name]
            strings = best_strings(more, each, wired)
            if sum(map(len, strings)) == len(wired):
                joined = each.model_copy(update={"strings": strings})
                return more.model_copy(
                    update={"controller": (*boat.controller[:place], joined, *boat.controller[place + 1 :])}
                )
    return more.model_copy(update={"controller": (*boat.controller, controller)})


def rewiring(before: Boat, after: Boat, names: Collection[str] = ()) -> tuple[Note, ...]:
    """Return which strings were made anew, and which panels lie idle beside those that were taken off."""
    unlit = {*names} & {panel.name for panel in after.panel}  # all of them dark, so that nothing is taken off
    kept = {panel.name for panel in after.panel} if not unlit else {*names}
    today = {string for controller in before.controller for string in controller.strings}
    anew = [string for controller in after.controller for string in controller.strings if string not in today]
    idle = [panel.name for panel in before.panel if panel.name not in {*names, *kept}]
    notes = [Note("wired_anew", {"strings": "; ".join(map(" + ".join, anew))})] if anew else []
    return (*notes, *([Note("lies_idle", {"panels": ", ".join(idle)})] if idle else []))


def best_strings(boat: Boat, controller: Controller, names: Sequence[str]) -> Strings:
    """Return the strings of a controller that bring most in even sun; panels that are in none lie idle.

    A string is of like panels, or of some that share one today; it passes ``array_faults``, and goes no higher than
    50 V DC or than the controller's highest today. Of wirings as good within a hundredth it is the one that leaves
    most panels in the strings of today, but for gaps.

    Parameters
    ----------
    boat : Boat
        Whose panels they are.
    controller : Controller
        With its strings of today.
    names : sequence of str
        Of the panels that are to be wired to it.

    Returns
    -------
    tuple of tuple of str
        Empty where no string reaches the bank.
    """
    panel_of = {panel.name: panel for panel in boat.panel}
    today = [left for string in controller.strings if (left := tuple(name for name in string if name in names))]
    highest_v = max(EXTRA_LOW_V, *(sum(cold_v(panel_of[name]) for name in string) for string in controller.strings))

    def legal(string: Sequence[str]) -> bool:
        panels = [panel_of[name] for name in string]
        together = any({*string} <= {*each} for each in controller.strings)
        like = together or all(alike(panels[0], panel) for panel in panels)
        return like and sum(map(cold_v, panels)) <= highest_v and not string_faults(panels, controller, boat.bank)

    def wirings(left: Sequence[str]) -> Iterator[Strings]:
        """Yield the ways to part panels into strings; of those with one data sheet the last lie idle."""
        if not left:
            yield ()
            return
        first, others = left[0], left[1:]
        sheets = set()
        for mates in (each for size in range(len(others) + 1) for each in combinations(others, size)):
            string = (first, *mates)
            sheet = tuple(_sheet(panel_of[name]) for name in string)
            if sheet not in sheets and legal(string):
                sheets.add(sheet)
                yield from ((string, *more) for more in wirings([name for name in others if name not in mates]))
        yield from wirings([name for name in others if _sheet(panel_of[name]) != _sheet(panel_of[first])])

    whole_first = sorted(
        names, key=lambda name: not any(name in string for string in today if string in controller.strings)
    )
    ways = list(wirings(whole_first))
    watts = [
        even_sun_w([[panel_of[name] for name in string] for string in way], controller, boat.bank) for way in ways
    ]
    good = [way for way, each in zip(ways, watts, strict=True) if each >= (1.0 - AS_GOOD) * max(watts)]
    return max(good, key=lambda way: sum(len(string) for string in way if string in today))


def even_sun_w(strings: Sequence[Sequence[Panel]], controller: Controller, bank: Bank) -> float:
    """Return what parallel strings bring by their data sheets in full sun, 25 degrees warmer, none shaded [W].

    A string gives the least of its panels' currents up to the sum of their best voltages, and from there on a part
    that falls evenly to nothing at their open voltage. (common practice)
    """
    bus_v = bank_params(bank).absorption_v
    least_v = max(bus_v + controller.headroom_v, controller.min_input_v)
    lines = [
        (
            sum(panel.max_power_v * (1.0 + panel.power_per_c * WARMER_C) for panel in string),
            sum(panel.open_circuit_v * (1.0 + panel.voltage_per_c * WARMER_C) for panel in string),
            min(panel.max_power_a for panel in string),
        )
        for string in strings
    ]

    def at(volts: float) -> float:
        return volts * sum(
            amps * min(max((open_v - volts) / (open_v - best_v), 0.0), 1.0) for best_v, open_v, amps in lines
        )

    return min(
        max((at(max(best_v, least_v)) for best_v, _, _ in lines), default=0.0), rated_output_w(controller, bus_v)
    )


def string_faults(panels: Sequence[Panel], controller: Controller, bank: Bank) -> list[Fault]:
    """Return why panels cannot be one string of a controller, as ``array_faults`` says it."""
    alone = controller.model_copy(update={"strings": (tuple(panel.name for panel in panels),)})
    return array_faults(panels, (alone,), bank, "")


def reasons(faults: Sequence[Fault]) -> str:
    """Return each reason once."""
    return " ".join(dict.fromkeys(fault.problem for fault in faults))


def alike(first: Panel, second: Panel) -> bool:
    """Return whether two panels' currents are near enough for one string."""
    return abs(first.max_power_a - second.max_power_a) <= LIKE_CURRENT * first.max_power_a


def _wired(controller: Controller) -> list[str]:
    return [name for string in controller.strings for name in string]


def _sheet(panel: Panel) -> tuple[float, ...]:
    return panel.max_power_v, panel.max_power_a, panel.open_circuit_v, panel.power_per_c, panel.voltage_per_c
