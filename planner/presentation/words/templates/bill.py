"""Why the engine runs in a watch or does not, and what a plan in particular must be read with."""

from __future__ import annotations

from typing import Final

TEMPLATES: Final = {
    "drives": "Too slow under sail in {wind_kn:.0f} kn of wind; the engine charges meanwhile.",
    "night": "The night still needs {night_wh} Wh.",
    "night_then_sun": "The night still needs {night_wh} Wh; the sun after it {sun}.",
    "sun": "Today's sun {sun}.",
    "sun_then_night": "Today's sun {sun}; the night needs {night_wh} Wh.",
    "sun_over": "brings {wh} Wh over use",
    "sun_short": "falls {wh} Wh short of use",
    "quiet_until": "Quiet until {ends:clock}.",
    "quiet_ahead": "Quiet {begins:clock} to {ends:clock}.",
    "arrival_ahead": "{soc:percent} is wanted on arrival at {arrival:clock}.",
    "full_charge_due": "A full charge is due by {due:moment}.",
    "driving_ahead": "Driving, as forecast from {begins:clock}, is not counted on.",
    "skipped_under_reserve": "Without this run {lowest:percent} by {at:clock}, under the reserve of "
    "{reserve:percent}.",
    "skipped": "Without this run {lowest:percent} by {at:clock}; reserve {reserve:percent}.",
    "engine_out": "Engine out of service.",
    "drives_and_charges": "The engine drives and charges, about {amp_hours:.0f} Ah.",
    "drives_or_ladder": "The engine drives and charges, about {amp_hours:.0f} Ah; should she sail, charge by the "
    "meter.",
    "quiet": "Quiet hours.",
    "heel": "Heel over {max_heel_deg:.0f} degrees: no charging.",
    "no_time": "No time for a run of the shortest length.",
    "sun_carries": "Sun carries the loads: bank {begins} to {ends} %.",
    "bank_carries": "Bank carries the loads: {begins} to {ends} %.",
    "bank_holds": "Bank holds at {ends} %.",
    "lithium": "The lithium bank's management system may disconnect while charging: that can black out the boat and "
    "spike the alternator. Stop short of its cut-off, and know how to bring it back.",
    "low_volts_late": "Volts say little of this bank's charge: LiFePO4 cells of one kind stand 0.2 V and more over "
    "another's on 12 V. The volts at which to wake the skipper are so low that none of them rings early; where the "
    "cells stand high, they ring at about {late:percent} only. Note once what this bank shows near half charge, an "
    "hour after charging ended (boat.bank.noted), and they ring in time.",
    "lithium_cold": "Lithium must not be charged below 0 \N{DEGREE SIGN}C: the bank is given as {temp_c:.0f} "
    "\N{DEGREE SIGN}C.",
    "hot_cells": "A dark cell of {panels} can be heated by the others until it burns: no bypass diode, or one over "
    "more than {most} cells, guards it. Keep narrow shadows off, and look for brown spots.",
    "meter_set": "The battery monitor is set right when the bank is full, as planned next on {at:moment} (ship's "
    "time); by then its reading errs by {error:percent} (standard deviation).",
    "meter_not_set": "Nothing sets the battery monitor right on this passage, as planned: the bank is not full "
    "before arrival, where its reading errs by {error:percent} (standard deviation). A run or a sunny day to "
    "full would.",
    "hydrogen": "Charging lead gives off hydrogen: air the battery space, no spark or flame.",
    "exhaust": "Wind abaft the beam while the engine runs draws exhaust aboard under closed canvas: open up, watch "
    "the CO alarm (watches from {watches:moments}; ship's time).",
    "exhaust_often": "Wind abaft the beam while the engine runs draws exhaust aboard under closed canvas: open up, "
    "watch the CO alarm (watches from {watches:moments} and {more} more; ship's time).",
}
