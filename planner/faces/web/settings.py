"""The form by which a passage is changed: what it shows, and the overrides that it asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from planner.app.typed_values import read_observed
from planner.domain.errors import Fault, InputError
from planner.faces.web.shelf import Entry

FORM: Final = "the form"
SECRET: Final = "secret"  # noqa: S105  (the name of the field, not its value)
MOST_LINES: Final = 100
MINUTES: Final = "%Y-%m-%dT%H:%M"
PERCENTS: Final = (
    ("soc", "start.state_of_charge", "charge at departure"),
    ("confidence", "wishes.confidence", "how sure"),
    ("arrival_soc", "wishes.arrival_soc", "charge on arrival"),
)


@dataclass(frozen=True)
class PanelRow:
    """One panel as the form has it.

    Attributes
    ----------
    number : int
        Its place in the boat file.
    name : str
    aboard : bool
    watts : str
        Rating [W].
    controller : str
        That it feeds.
    string : str
        Number of its string there; panels of one string are in series.
    """

    number: int
    name: str
    aboard: bool
    watts: str
    controller: str
    string: str


def overrides_of(entry: Entry) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the overrides that a plan's form and files ask for, and the lines ``KEY=VALUE`` that go before them."""
    settings = entry.read("settings")
    return {**settings.get("overrides", {}), **entry.files()}, tuple(settings.get("more", ()))


def shown(entry: Entry, sent: Mapping[str, str]) -> dict[str, str]:
    """Return what the form's simple fields show: what is sent, was sent last, else what was understood."""
    passage = entry.read("understood").get("passage")
    if passage is None:
        return {}
    departure = datetime.fromisoformat(passage["departure"])
    wishes = passage["wishes"]
    values = {
        "departure": departure.strftime(MINUTES),
        "offset": departure.isoformat()[-6:],
        "soc": _percent(passage["start"]["state_of_charge"]),
        "confidence": _percent(wishes["confidence"]),
        "arrival_soc": _percent(wishes["arrival_soc"]),
        "quiet": ", ".join(f"{start}-{end}" for start, end in wishes["quiet_hours"]),
        "more": "",
    }
    last = {**entry.read("settings").get("form", {}), **sent}
    return {**values, **{key: value for key, value in last.items() if key in values}}


def panel_rows(entry: Entry, sent: Mapping[str, str]) -> list[PanelRow]:
    """Return the panels of the boat file as the form shows them, with what is sent, or was sent last."""
    boat = entry.read("base").get("boat", {})
    form = sent if "panel-0-watts" in sent else entry.read("settings").get("form", {})
    wiring = _wiring(boat)
    rows = []
    for number, panel in enumerate(boat.get("panel", [])):
        controller, string = wiring.get(panel["name"], ("", 1))
        filled_in = f"panel-{number}-watts" in form
        rows.append(
            PanelRow(
                number=number,
                name=panel["name"],
                aboard=f"panel-{number}-aboard" in form if filled_in else True,
                watts=form.get(f"panel-{number}-watts", f"{panel['max_power_w']:g}"),
                controller=form.get(f"panel-{number}-controller", controller),
                string=form.get(f"panel-{number}-string", str(string)),
            )
        )
    return rows


def controllers(entry: Entry) -> list[str]:
    """Return the names of the boat file's controllers."""
    return [each["name"] for each in entry.read("base").get("boat", {}).get("controller", [])]


def read_settings(entry: Entry, form: Mapping[str, str]) -> tuple[dict[str, Any], list[Fault]]:
    """Return what a form that was sent asks for, and what is wrong with it.

    Parameters
    ----------
    entry : Entry
        Whose form it is.
    form : mapping of str to str
        As sent.

    Returns
    -------
    settings : dict
        ``form`` as sent, ``overrides`` by dotted key, ``more`` lines ``KEY=VALUE``.
    faults : list of Fault
    """
    faults: list[Fault] = []
    overrides: dict[str, Any] = {}
    if "departure" in form:
        overrides["departure"] = _departure(form, faults)
        for field, key, words in PERCENTS:
            overrides[key] = _fraction(form.get(field, ""), words, faults)
        overrides["wishes.quiet_hours"] = _quiet_hours(form.get("quiet", ""), faults)
    if any(key.startswith("panel-") for key in form):
        overrides |= _panels(entry, form, faults)
    more = [line.strip() for line in form.get("more", "").splitlines() if line.strip()]
    if len(more) > MOST_LINES:
        faults.append(Fault(FORM, "other inputs", f"{len(more)} lines are given.", f"Up to {MOST_LINES} are read."))
    sent = {key: value for key, value in form.items() if key != SECRET}
    return {"form": sent, "overrides": overrides, "more": more}, faults


def read_start(form: Mapping[str, str]) -> tuple[datetime | None, float, list[Fault]]:
    """Return departure and charge [0..1] of a passage that has no file of its own, and what is wrong with them."""
    faults: list[Fault] = []
    text = _departure(form, faults) if form.get("departure", "").strip() else ""
    charge = _fraction(form.get("soc", ""), "charge at departure", faults)
    if not text:
        remedy = "Give a passage file, or departure and charge."
        return None, charge, [Fault(FORM, "departure", "neither it nor a passage file was given.", remedy)]
    return (None if faults else datetime.fromisoformat(text)), charge, faults


def morning_faults(asked: Mapping[str, str]) -> list[Fault]:
    """Return what is wrong with a fix, its time and the charge as typed."""
    try:
        read_observed(fix=asked["fix"], time=asked["time"], soc=asked["soc"])
    except InputError as error:
        return list(error.faults)
    return []


def _departure(form: Mapping[str, str], faults: list[Fault]) -> str:
    text = f"{form['departure'].strip()}{form.get('offset', '').strip()}"
    try:
        aware = datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        aware = False
    if not aware:
        remedy = "Give date and time, and the ship's clock on UTC such as +12:00."
        faults.append(Fault(FORM, "departure", f"'{text}' is no time with an offset from UTC.", remedy))
    return text


def _fraction(text: str, words: str, faults: list[Fault]) -> float:
    try:
        value = float(text.strip().rstrip("% "))
    except ValueError:
        faults.append(Fault(FORM, words, f"'{text}' is no number.", "Give percent, such as 80."))
        return 0.0
    if not 0.0 <= value <= 100.0:
        faults.append(Fault(FORM, words, f"{value:g} % is not 0 to 100 %.", "Give percent, such as 80."))
    return round(value / 100.0, 6)


def _quiet_hours(text: str, faults: list[Fault]) -> list[list[str]]:
    spans = []
    for part in filter(None, (each.strip() for each in text.replace(";", ",").split(","))):
        ends = [end.strip() for end in part.replace("\N{EN DASH}", "-").split("-")]
        if len(ends) != 2:
            faults.append(Fault(FORM, "quiet hours", f"'{part}' is no span.", "Write for example 22:00-06:00."))
        else:
            spans.append(ends)
    return spans


def _panels(entry: Entry, form: Mapping[str, str], faults: list[Fault]) -> dict[str, Any]:
    """Return panels and controllers as the form wires them; nothing where that is as the boat file has it."""
    boat = entry.read("base").get("boat", {})
    panels, strings = [], {each["name"]: {} for each in boat.get("controller", [])}  # type: ignore[var-annotated]
    for number, panel in enumerate(boat.get("panel", [])):
        if f"panel-{number}-aboard" not in form:
            continue
        panels.append(_rated(panel, form.get(f"panel-{number}-watts", ""), faults))
        controller = form.get(f"panel-{number}-controller", "")
        if controller not in strings:
            faults.append(
                Fault(FORM, panel["name"], f"there is no controller '{controller}'.", "Choose one of them.")
            )
            continue
        strings[controller].setdefault(form.get(f"panel-{number}-string", "1"), []).append(panel["name"])
    if not panels:
        faults.append(Fault(FORM, "panels", "none is left aboard.", "Leave one at least."))
    wired = [
        {**each, "strings": [strings[each["name"]][key] for key in sorted(strings[each["name"]])]}
        for each in boat.get("controller", [])
        if strings[each["name"]]
    ]
    if panels == boat.get("panel") and _wiring({"controller": wired}) == _wiring(boat):
        return {}
    return {"boat.panel": panels, "boat.controller": wired}


def _rated(panel: dict[str, Any], text: str, faults: list[Fault]) -> dict[str, Any]:
    """Return the panel at another rating: more or fewer amperes at the same volts."""
    try:
        watts = float(text)
    except ValueError:
        faults.append(Fault(FORM, panel["name"], f"'{text}' is no rating.", "Give watts, such as 120."))
        return panel
    part = watts / panel["max_power_w"]
    if part == 1.0:
        return panel
    amps = {key: part * panel[key] for key in ("max_power_a", "short_circuit_a")}
    return {**panel, "max_power_w": watts, **amps}


def _wiring(boat: Mapping[str, Any]) -> dict[str, tuple[str, int]]:
    """Return controller and number of the string, from 1, of each panel."""
    return {
        panel: (controller["name"], number)
        for controller in boat.get("controller", [])
        for number, string in enumerate(controller["strings"], start=1)
        for panel in string
    }


def _percent(fraction: float) -> str:
    return f"{100.0 * fraction:.6g}"
