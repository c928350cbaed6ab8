"""What readings show: the evidence for each finding, and why a boat file is changed by it."""

from __future__ import annotations

from typing import Final

TEMPLATES: Final = {
    "clock_unknown": "No day has readings enough in the light to tell whether the clock goes right.",
    "clock_fast": "By the sun's course over {days:count|day} the log's clock is {off_min:.0f} min fast "
    "({fast_min.low:+.0f} to {fast_min.high:+.0f} min); the readings were set right by that before all else.",
    "clock_slow": "By the sun's course over {days:count|day} the log's clock is {off_min:.0f} min slow "
    "({fast_min.low:+.0f} to {fast_min.high:+.0f} min); the readings were set right by that before all else.",
    "clock_right": "By the sun's course over {days:count|day} the log's clock goes right within its doubt "
    "({fast_min.low:+.0f} to {fast_min.high:+.0f} min).",
    "sky_unknown": "No panel tells of the sky: no reading by day could be used.",
    "sky_found": "In {hours:.0f} h of daylight the panels together tell of {of_forecast.value:.0%} of the "
    "forecast's light ({of_forecast.low:.0%} to {of_forecast.high:.0%}); of {days:count|day}, {beyond} than the "
    "forecast's p10 to p90.",
    "days_beyond": "{darker} darker and {brighter} brighter",
    "no_days_beyond": "none",
    "panels_level": "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%}) in {judged_h:.0f} h of "
    "sun {against}.",
    "panels_changed": "{change.value:.0%} ({change.low:.0%} to {change.high:.0%}) of what it gave before, and "
    "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%}), in {judged_h:.0f} h of sun {against}.",
    "against_clear_sky": "held against the cloudless sky alone, in its brightest steady hours",
    "against_other": "held against the other controller",
    "against_others": "held against the other {others} controllers",
    "one_of_two": "One of the two controllers changed: that the other gained as much is less likely, not ruled out.",
    "sun_in": "Short with the sun bearing {from_deg:.0f} to {to_deg:.0f} degrees clockwise from the bow, under "
    "{under_deg:.0f} degrees high. Look for gear on deck, a flag or a lashed dinghy that stands there; the boat file "
    "does not have it.",
    "substring_out": "As with one dark substring of {panel}, or of one like it. Cover the panel, then look for a "
    "burnt bypass diode, a cracked cell or a loose ribbon.",
    "panel_dark": "As with {panel} dark, or one like it. Look at its fuse, connectors and wire.",
    "nothing_comes": "Next to nothing comes from it: look at fuse, connectors and wire first; a low panel that lost "
    "a substring would not reach the bank's volts either.",
    "wash_it": "Wash it and look at its connectors before you blame it.",
    "cover_each": "Its {panels} panels share the controller, and the log cannot tell which: {alone}. A test of ten "
    "minutes tells: at anchor near noon, the sun steady and the bank not full, read the watts; cover each panel in "
    "turn and read them again. The one whose cover takes least is the weak one.",
    "several_at_fault": "more than one of them is at fault, or one drags down its string",
    "one_at_fault": "if one of them alone is at fault it gives about {left:.0%}",
    "little_judged": "Only {judged_h:.1f} h of sun could be judged; set aside: {aside:each|, }.",
    "aside": "{hours:.0f} h {why}",
    "nothing_aside": "nothing else was read",
    "aside_full": "with the bank full",
    "aside_clipped": "with the controller at its limit",
    "aside_shaded": "in shade by the model",
    "bank_not_read": "Neither bank volts nor state of charge were read: a full bank would look like a weak panel.",
    "bank_unknown": "Cannot tell: bank volts and amps were not read.",
    "capacity_unknown": "Capacity cannot be told ({fulls:count|full charge} in the log; {why}). Charge it until "
    "full, then once at anchor let it down to 20 % and log volts and amps all the way.",
    "volts_flat": "LiFePO4 volts hardly move in the middle of the charge",
    "volts_rough": "volts under load tell the charge too roughly over the part used",
    "capacity": "Holds {capacity.value:.0f} Ah ({level:.0%} interval {capacity.low:.0f} to {capacity.high:.0f}), "
    "{against}; {fulls:count|full charge} in the log.",
    "less_than_listed": "less than the {listed_ah:.0f} Ah listed",
    "more_than_listed": "more than the {listed_ah:.0f} Ah listed",
    "as_listed": "{listed_ah:.0f} Ah listed: no difference",
    "loads_unknown": "Cannot tell: bank volts, bank amps and every controller's watts were read together, engine "
    "off, for {judged_h:.1f} h only; {least_h:.0f} h are needed.",
    "loads_drawn": "{read_w:.0f} W drawn on average with the engine off, {listed_w:.0f} W by the list, over "
    "{days:.1f} days of steps ({over.value:+.0f} W, {level:.0%} interval {over.low:+.0f} to {over.high:+.0f}).",
    "loads_drawn_since": "{read_w:.0f} W drawn on average with the engine off, {listed_w:.0f} W by the list, over "
    "{days:.1f} days of steps (since then {over.value:+.0f} W, {level:.0%} interval {over.low:+.0f} to "
    "{over.high:+.0f}).",
    "loads_as_listed": "That is as listed.",
    "loads_less": "Less is drawn than the list says: something on it is off, or draws less.",
    "loads_differ": "The list is not known better than {doubt_w:.0f} W: what is on it may draw so much, or something "
    "that is not. To tell, switch off one load after the other at anchor and read the amps.",
    "load_unlisted": "Not on the list: about {drawn.value:.0f} W ({drawn.low:.0f} to {drawn.high:.0f}) "
    "{when}{since}.",
    "at_all_hours": "at all hours",
    "at_night": "at night, {begins} to {ends} ship's time",
    "at_hours": "{begins} to {ends} ship's time",
    "since_about": ", since about {at:moment} ship's time",
    "controller_gave": "The controller {controller} gave {ratio.value:.0%} ({level:.0%} interval {ratio.low:.0%} to "
    "{ratio.high:.0%}) of what was expected in {judged_h:.0f} h of clear, unshaded steps{since}: {verdict}.",
    "since": " since {at:%d %b %Y %H:%M} UTC",
    "each_gets_the_mean": "Readings do not tell its panels apart: each gets the mean.",
    "bank_measured": "The bank holds {capacity.value:.0f} ({level:.0%} interval {capacity.low:.0f} to "
    "{capacity.high:.0f}) Ah by its readings; {listed_ah:.0f} Ah were listed.",
    "monitor_counts": "The battery monitor counts with {listed_ah:.0f} Ah until it is set anew: then take out this "
    "line.",
    "drawn_more": "{drawn.value:.0f} ({level:.0%} interval {drawn.low:.0f} to {drawn.high:.0f}) W more were drawn "
    "than the list says {when}{since}.",
    "from_hours": "from {begins} to {ends} ship's time",
}
