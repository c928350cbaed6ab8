"""What the headings of a log mean: by a mapping, else by the natural words for it and the unit beside them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from planner.domain.errors import Fault, InputError
from planner.domain.inputs.log_mapping import COLUMNS, LogMapping, as_headings

Key = tuple[str, str]
"""What a column is: a name of ``COLUMNS`` and '', or ``WATTS`` and the name of a controller."""

WATTS: Final = "controller_power_w"
TIME: Final[Key] = ("time", "")
DATE: Final[Key] = ("date", "")
EXAMPLE: Final = "time,SOC %,bank V,bank A,arch W"

_BANK = frozenset({"bank", "battery", "batt", "house", "monitor", "meter", "read", "dc", "shunt", "terminal"})
_WATT = frozenset({"w", "watt", "watts", "power"})
_VOLT = frozenset({"v", "volt", "volts", "voltage"})
_AMP = frozenset({"a", "amp", "amps", "ampere", "amperes", "current"})
_PERCENT = frozenset({"%", "percent", "pct"})
_OTHER_UNITS = {"kw": "W", "mw": "W", "kwh": "W", "wh": "W", "mv": "V", "ma": "A", "ka": "A"}
_WORDS: Final[Mapping[str, tuple[frozenset[str], frozenset[str]]]] = {
    # what it is -> one of these must stand there, and no other words than these beside it
    "time": (
        frozenset({"time", "timestamp", "datetime", "moment", "utc"}),
        frozenset({"date", "and", "gmt", "z", "ship", "ships", "s", "clock", "local", "stamp", "of", "reading"}),
    ),
    "date": (frozenset({"date"}), frozenset({"ship", "ships", "s", "utc", "gmt", "local"})),
    "bank_voltage_v": (_VOLT, _BANK | {"net"}),
    "bank_current_a": (_AMP, _BANK | {"net"}),
    "meter_soc": (frozenset({"soc"}), _BANK | _PERCENT | {"fraction", "reading"}),
    "meter_ah": (
        frozenset({"ah"}),
        _BANK | {"consumed", "used", "drawn", "out", "taken", "from", "full", "net", "count", "reading"},
    ),
    "engine_on": (
        frozenset({"engine", "motor"}),
        frozenset({"on", "running", "run", "runs", "state", "status", "off"}),
    ),
}
_SPLIT_CASE = re.compile(r"(?<=[a-z]{2})(?=[A-Z])")
_WORD = re.compile(r"[^\W\d_]+|%|\d+")
_SAME = (
    ("state of charge", "soc"),
    ("amp-hours", "ah"),
    ("amp hours", "ah"),
    ("ampere-hours", "ah"),
    ("amphours", "ah"),
)
_OF_A_CONTROLLER = frozenset({"controller", "solar", "panel", "panels", "pv", "output", "read"})
_SUMS = frozenset(
    {"total", "sum", "all", "load", "loads", "consumption", "inverter", "alternator", "ac", "generator"}
)


@dataclass(frozen=True)
class Columns:
    """Where a log has what.

    Attributes
    ----------
    at : dict of (str, str) to int
        Place of each column.
    zone : str or None
        Whose clock the heading of the time names.
    soc_as : str or None
        What the heading of the state of charge says.
    passed_over : tuple of str
        Headings that are nothing to us.
    """

    at: Mapping[Key, int]
    zone: str | None
    soc_as: str | None
    passed_over: tuple[str, ...]


def is_heading(cells: Sequence[str], *, controllers: Sequence[str], mapping: LogMapping) -> bool:
    """Return whether cells head a log that can be read: a time, and something beside it."""
    found = {key for cell in cells if (key := meaning(cell, controllers=controllers, mapping=mapping)) is not None}
    return TIME in found and bool(found - {TIME, DATE})


def meaning(heading: str, *, controllers: Sequence[str], mapping: LogMapping) -> Key | None:
    """Return what a heading is; None when it is nothing that we know.

    Parameters
    ----------
    heading : str
        As it stands in the log.
    controllers : sequence of str
        Names in the boat file.
    mapping : LogMapping
        It goes before our own understanding.
    """
    for table, kind in ((mapping.columns, ""), (mapping.controllers, WATTS)):
        for name, named in table.items():
            if heading in as_headings(named):
                return (kind, name) if kind else (name, "")
    words = _words(heading)
    if heading in mapping.ignore or not words or _foreign_unit(words):
        return None
    controller = _controller(words, controllers)
    return (WATTS, controller) if controller is not None else _quantity(set(words))


def _quantity(words: set[str]) -> Key | None:
    for name, (needed, beside) in _WORDS.items():
        if words & needed and words <= needed | beside:
            return name, ""
    if words & _PERCENT and words <= _PERCENT | _BANK | {"charge", "charged"}:
        return "meter_soc", ""
    return None


def understand(heading: Sequence[str], *, controllers: Sequence[str], mapping: LogMapping, where: str) -> Columns:
    """Return what each column of a log is.

    Parameters
    ----------
    heading : sequence of str
    controllers : sequence of str
        Names in the boat file.
    mapping : LogMapping
    where : str
        Name of the file.

    Raises
    ------
    InputError
        When the time is missing, nothing else is known, two columns are the same thing, or watts are of no controller
        that the boat has.
    """
    faults: list[Fault] = []
    at: dict[Key, int] = {}
    passed_over: list[str] = []
    mapped = set(mapping.headings()) - set(mapping.ignore)
    for place, name in enumerate(heading):
        key = meaning(name, controllers=controllers, mapping=mapping)
        if key is None:
            passed_over.append(name)
            if name not in mapping.ignore and (fault := _watts_of_whom(name, controllers, where)) is not None:
                faults.append(fault)
        elif key not in at or (name in mapped and heading[at[key]] not in mapped):
            at[key] = place
        elif heading[at[key]] not in mapped or name in mapped:
            faults.append(_twice(heading[at[key]], name, key, where))
    faults += _missing(at, heading, passed_over, controllers, where)
    if faults:
        raise InputError(faults)
    time_words = set(_words(heading[at[TIME]]))
    date_words = set(_words(heading[at[DATE]])) if DATE in at else set()
    zone = "utc" if (time_words | date_words) & {"utc", "gmt"} else None
    zone = "ship" if (time_words | date_words) & {"ship", "ships"} else zone
    soc = at.get(("meter_soc", ""))
    soc_words = set(_words(heading[soc])) if soc is not None else set()
    soc_as = "percent" if soc_words & _PERCENT else "fraction" if "fraction" in soc_words else None
    return Columns(at, zone, soc_as, tuple(passed_over))


def _words(heading: str) -> list[str]:
    text = _SPLIT_CASE.sub(" ", heading).casefold()
    for written, ours in _SAME:
        text = text.replace(written, ours)
    return _WORD.findall(text)


def _foreign_unit(words: Sequence[str]) -> str | None:
    return next((word for word in words if word in _OTHER_UNITS), None)


def _controller(words: Sequence[str], controllers: Sequence[str]) -> str | None:
    """Return the controller whose watts a heading is: its name with the unit; bare names are watts too."""
    own = [word for word in words if word not in _WATT]
    spare = [word for word in own if word not in _OF_A_CONTROLLER]
    has_unit = len(own) < len(words)
    for name in controllers:
        named = _words(name)
        if own == named:
            return name
        if has_unit and spare and spare == [word for word in named if word not in _OF_A_CONTROLLER]:
            return name
    if has_unit and len(controllers) == 1 and own and not spare:
        return controllers[0]
    return None


def _watts_of_whom(heading: str, controllers: Sequence[str], where: str) -> Fault | None:
    """Return the fault of a heading that seems to be watts of a controller, but of none that the boat has."""
    words = _words(heading)
    unit = _foreign_unit(words)
    own = [word for word in words if word not in _WATT and word != unit]
    known = _controller([*own, "w"], controllers) is not None
    if unit is not None:
        bank = bool(own) and set(own) <= _BANK
        if not known and not (bank and _OTHER_UNITS[unit] != "W"):
            return None
        written = _written_unit(heading, unit)
        remedy = f"Log {_OTHER_UNITS[unit]}, or add the heading to 'ignore' in a mapping file."
        return Fault(where, f"'{heading}'", f"the unit '{written}' is not one that is read.", remedy)
    sums = not own or set(own) <= _SUMS | _BANK | _OF_A_CONTROLLER
    if sums or not (set(words) & {"w", "watt", "watts"}):
        return None
    near = difflib.get_close_matches(" ".join(own), controllers, n=3, cutoff=0.5)
    allowed = ", ".join(f"'{name}'" for name in (near or controllers))
    remedy = f"Did you mean {allowed}?" if near else f"The boat file's controllers: {allowed}."
    remedy += " Say which in a mapping file under [controllers], or add the heading to 'ignore'."
    return Fault(where, f"'{heading}'", "watts of no controller of the boat.", remedy)


def _written_unit(heading: str, unit: str) -> str:
    place = heading.casefold().rfind(unit)
    return heading[place : place + len(unit)]


def _twice(first: str, second: str, key: Key, where: str) -> Fault:
    what = f"watts of the controller '{key[1]}'" if key[0] == WATTS else COLUMNS[key[0]]
    problem = f"'{first}' and '{second}' both read as {what}."
    table, name = ("[controllers]", key[1]) if key[0] == WATTS else ("[columns]", key[0])
    return Fault(where, "heading", problem, f'Say which in a mapping file: under {table}, "{name}" = "{first}".')


def _missing(
    at: Mapping[Key, int], heading: Sequence[str], passed_over: Sequence[str], controllers: Sequence[str], where: str
) -> list[Fault]:
    shown = ", ".join(f"'{name}'" for name in heading)
    example = f"A heading such as {EXAMPLE} is understood; else say in a mapping file what each is."
    if DATE in at and TIME not in at:
        return [Fault(where, "time", f"a date without the time of day among {shown}.", example)]
    if TIME not in at:
        return [Fault(where, "time", f"no column of times among {shown}.", example)]
    if set(at) <= {TIME, DATE}:
        candidates = [near for name in passed_over if (near := _candidate(name, controllers))]
        listed = f" Perhaps: {'; '.join(candidates)}." if candidates else ""
        return [Fault(where, "heading", f"no column beside the time is known: {shown}.", f"{example}{listed}")]
    return []


def _candidate(heading: str, controllers: Sequence[str]) -> str | None:
    """Return what an unknown heading may be."""
    likely = {"bank V": "bank_voltage_v", "bank A": "bank_current_a", "SOC %": "meter_soc", "Ah": "meter_ah"}
    likely |= {"engine": "engine_on"} | {f"{name} W": f"watts of '{name}'" for name in controllers}
    near = difflib.get_close_matches(heading.casefold(), [name.casefold() for name in likely], n=1, cutoff=0.5)
    by_word = {name.casefold(): what for name, what in likely.items()}
    return f"'{heading}' is {by_word[near[0]]}" if near else None
