"""What readings show: the evidence for each finding, and why a boat file is changed by it."""

from __future__ import annotations

from typing import Final

_RATIO: Final = "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%})"
_SUN: Final = "in {judged_h:.0f} h of open sun {against}"

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
    "panels_as_expected": "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%}) in "
    "{judged_h:.0f} h of open sun {against}.",
    "panels_shaded": "{in_deep:.0%} of the expected {where}; {ratio.value:.0%} of the expected ({ratio.low:.0%} to "
    "{ratio.high:.0%}) with the sun elsewhere, in {judged_h:.0f} h of open sun {against}.",
    "panels_changed": "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%}) since the change, "
    "{before:.0%} before it, in {judged_h:.0f} h of open sun {against}; the change is {change_z:.0f} times its "
    "doubt.",
    "panels_from_the_first": "{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%}) from the "
    "first reading on, in {judged_h:.0f} h of open sun {against}.",
    "against_clear_sky": "held against the cloudless sky alone, in its brightest steady hours",
    "against_other": "under the sky that the other controller tells of",
    "against_others": "under the sky that the other {others} controllers tell of",
    "sun_at": "with the sun {sides:each| or }, {low_deg:.0f} to {high_deg:.0f} degrees high",
    "sun_under": "with the sun {sides:each| or }, under {high_deg:.0f} degrees high",
    "side_any": "anywhere",
    "side_starboard": "{from_deg:.0f} to {to_deg:.0f} degrees to starboard",
    "side_port": "{from_deg:.0f} to {to_deg:.0f} degrees to port",
    "side_bow": "from {from_deg:.0f} degrees to port across the bow to {to_deg:.0f} to starboard",
    "side_stern": "from {from_deg:.0f} degrees to starboard across the stern to {to_deg:.0f} to port",
    "came_as_step": "It came as a step.",
    "came_unseen": "Whether it came as a step the readings do not show.",
    "substring_out": "One dark substring of {panel} would leave {left:.0%}. Cover the panel, then look for a burnt "
    "bypass diode, a cracked cell or a loose ribbon.",
    "look_for_gear": "Look for gear on deck, a flag or a lashed dinghy that stands there; the boat file does not "
    "have it.",
    "nothing_comes": "Next to nothing comes from it: look at fuse, connectors and wire first; a low panel that lost "
    "a substring would not reach the bank's volts either.",
    "wash_it": "Wash it and look at its connectors before you blame it.",
    "share_a_controller": "Its {panels} panels share the controller: {alone}. Cover one after the other at noon to "
    "find it.",
    "several_at_fault": "more than one of them is at fault, or one drags down its string",
    "one_at_fault": "if one of them alone is at fault it gives about {left:.0%}",
    "little_judged": "Only {judged_h:.1f} h of open sun could be judged.",
    "little_judged_aside": "Only {judged_h:.1f} h of open sun could be judged; set aside: {aside:each|, }.",
    "aside_full": "{hours:.0f} h with the bank full",
    "aside_clipped": "{hours:.0f} h with the controller at its limit",
    "aside_shaded": "{hours:.0f} h in shade by the model, or near it",
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
    "efficiency": "From full to full {efficiency.value:.1%} of the charge came out again ({efficiency.low:.1%} to "
    "{efficiency.high:.1%}; the model's is {modelled:.1%}).",
    "drift": "The monitor gains {drift.value:+.1%} a day on the count ({drift.low:+.1%} to {drift.high:+.1%}).",
    "loads_unknown": "Cannot tell: bank volts, bank amps and every controller's watts were read together, engine "
    "off, for {judged_h:.1f} h only; {least_h:.0f} h are needed.",
    "loads_drawn": "{read_w:.0f} W drawn on average with the engine off, {listed_w:.0f} W by the list, over "
    "{days:.1f} days of steps ({over.value:+.0f} W, {level:.0%} interval {over.low:+.0f} to {over.high:+.0f}).",
    "loads_drawn_since": "{read_w:.0f} W drawn on average with the engine off, {listed_w:.0f} W by the list, over "
    "{days:.1f} days of steps (since then {over.value:+.0f} W, {level:.0%} interval {over.low:+.0f} to "
    "{over.high:+.0f}).",
    "loads_less": "Less is drawn than the list says: something on it is off, or draws less.",
    "loads_explained": "The list is not known better than {doubt_w:.0f} W: nothing is unexplained.",
    "load_unlisted": "Not on the list: about {drawn.value:.0f} W ({drawn.low:.0f} to {drawn.high:.0f}) "
    "{when}{since}.",
    "at_all_hours": "at all hours",
    "at_night": "at night, {begins} to {ends} ship's time",
    "at_hours": "{begins} to {ends} ship's time",
    "since_about": ", since about {at:moment} ship's time",
    "draws_as_much": "Draws about as much: {loads:each|, }.",
    "load_drawing": "{name} ({watts:.0f} W)",
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
