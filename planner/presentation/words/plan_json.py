"""What each field of plan.json means."""

from __future__ import annotations

from typing import Final

PLAN_JSON: Final = {
    "format": "rises when older readers would misread the file",
    "planner_version": "that wrote it",
    "set": "folder of the set that this file names",
    "files": "SHA-256 of the files of the set, by name",
    "forecast_issued": "when the forecast's cycle began, UTC; null where its file does not say",
    "departure": "UTC",
    "first_departure": "UTC, from which days are numbered; as departure before a replan",
    "arrival": "of the control's track, UTC",
    "ship_offset_hours": "ship's time less UTC at departure [h]",
    "clock_changes": "when the ship's clock changes, and its offset from then on [h]",
    "fuel_aboard_l": "at departure [L]",
    "engine_so_far": "hours, charging hours and fuel before a plan from a fix; null before departure",
    "distance_nm": "along the route [nm]",
    "members": "forecasts that were planned on",
    "engine_windows": "runs on the planned course: start and stop (UTC), expected_ah, fuel_l, reason",
    "engine_hours": "engine running, for whatever: planned, p10, p50, p90 over the members [h]",
    "charging_hours": "engine running to charge alone, in the same way [h]",
    "fuel_l": "fuel burnt, in the same way [L]",
    "min_soc": "lowest state of charge, in the same way [0..1]",
    "reserve_kept": "k of n members held out that keep the reserve, with an interval, and in whose wind",
    "policy": "a row a watch: times, expected figures, and its ladder of readings and minutes [%, min]",
    "later_watches": "watches past the planned arrival, for a boat that is still at sea",
    "card": "what each watch of the day does, and which watches stand apart; null without a card",
    "without_engine": "how long the bank lasts without engine, from the first watch of each day on",
    "standing_order": "reading at which the engine is started at once, and that to which it runs [%]",
    "solar_wh": "sunlight into the bank's bus over the passage, planned [Wh]",
    "load_wh": "what the loads draw over the passage, planned [Wh]",
    "days": "a row a day of the passage: its totals with their spreads, float and time since full",
    "losses": "each panel's way from rating to bank, over the passage and by day [Wh]",
    "own_tracks": "how far the members part on tracks of their own; null where all share one",
    "failures": "one thing failed from the start on: first action, what shedding wins, who gets there lit; refuges",
    "stresses": "the plan in troubles that the forecast does not hold, its ladders followed",
    "loads": "what each load draws and what it costs in engine minutes",
    "warnings": "what the reader must know; first what is out of service, then the reserve",
    "cautions": "what every reader must heed",
    "boat_file": "name of the boat file",
    "inputs": "SHA-256 of the files that were read, by name",
}
"""Meanings by field; times are ISO 8601 with Z, and figures that are not finite null."""
