"""What to do first when something fails, and what the failure card's figures suppose."""

from __future__ import annotations

from typing import Final

TEMPLATES: Final = {
    "first_engine": "Alarm, steam or smoke: stop it at once. Let it cool before you open anything. Then fuel (tap, "
    "filter, air), cooling water, belt, start bank.",
    "first_alternator": "Engine stopped before hands go near: belts catch, and a hot alternator burns. Belt, plugs, "
    "fuse, regulator. Never lift a cable off one that turns.",
    "first_autopilot": "Take the helm. Power off before you reach into linkage or ram. Fuse, plug, pin.",
    "first_controller": "Read its display; look at fuse and plugs. Cover its panels, part them from it, then it from "
    "the bank. Another controller takes them only within its volts and amps.",
    "first_panels": "By day, clipped on: secure what is loose. Broken glass is live in the light: cover it before "
    "you touch or unplug. Bridge a string round a dead panel.",
    "first_bank_managed": "Engine off: a disconnect under charge can wreck the alternator, and so can a start "
    "without the bank. Find why: cold, heat, a cell high or low, overload. Mend that; loads and charging off; "
    "reconnect as its maker says; then loads, then charging.",
    "first_bank": "Heat, swelling or a smell of rotten eggs: keep out, no flame, air the space. Engine off before a "
    "cable is touched. Main switch, fuse, terminals.",
    "first_meter": "Write amps and hours in the log. Read volts after an hour or more without charge and with "
    "little load. Set a new count only at a full bank.",
    "first_meter_lithium": "Write amps and hours in the log. Volts tell little of LiFePO4 till it is nearly empty. "
    "Set a new count only at a full bank.",
    "assumed_engine": "Neither drives nor charges: she sails every calm.",
    "assumed_alternator": "The engine drives and does not charge.",
    "assumed_autopilot": "Steered by hand; a crew of two goes watch and watch.",
    "assumed_controller": "With {panels:list}; of the controllers it brings most.",
    "assumed_panels": "Out: {panels:list}, the half that brings most; strings not bridged.",
    "assumed_bank": "Loads run only while the sun carries them, if the controllers work without a bank at all.",
    "assumed_meter": "The charge known to {error:percent} (standard deviation), by log and volts at rest.",
    "planned_without": "Planned with this out of service from the start on: {failures:list}.",
    "planned_without_bank": "The bank is off the bus: its charge stands still, and loads run only while the sun "
    "carries them. The reserve that is kept lights nothing until the bank is back.",
    "fails_controller": "controller {names:list}",
    "fails_panels": "panels ({names:list})",
}
