"""What studies find: why panels gain or lose on other headings, and what changed since the last plan."""

from __future__ import annotations

from typing import Final

TEMPLATES: Final = {
    "as_before": "as before",
    "sun_more": "faces the sun more",
    "sun_less": "faces the sun less",
    "heel_toward": "heel toward the sun",
    "heel_away": "heel away from the sun",
    "out_of_mainsail": "out of the mainsail's shadow",
    "in_mainsail": "in the mainsail's shadow",
    "out_of_headsail": "out of the headsail's shadow",
    "in_headsail": "in the headsail's shadow",
    "clear_of_boom": "clear of the boom",
    "under_boom": "under the boom's shadow",
    "clear_of_gear": "clear of mast, rigging and deck gear",
    "in_gear": "shaded by mast, rigging or deck gear",
    "sky_more": "sees more sky and sea",
    "sky_less": "sees less sky and sea",
    "partner_gains": "its string's partner gains",
    "partner_loses": "its string's partner loses",
    "wired_anew": "wired anew: {strings}",
    "lies_idle": "no string for {panels}, idle",
    "sums": "The rows come to {rows_h:.1f} h, all panels together save {all_h:.1f} h.",
    "sums_counted_twice": "What a panel takes out of its string with it stands in several rows: they hold "
    "{rows_kwh:.1f} kWh of the {all_kwh:.1f} kWh that all bring.",
    "sums_turned_away": "With one panel out the bank takes sun from the others that it turned away before: the rows "
    "hold {rows_kwh:.1f} kWh of the {all_kwh:.1f} kWh that all bring.",
    "sums_bank_bridges": "For a kWh that one panel leaves out the engine runs {rows_min:.0f} min, for one of all "
    "{all_min:.0f} min: the bank carries part of a small want.",
    "sums_first_dear": "For a kWh that one panel leaves out the engine runs {rows_min:.0f} min, for one of all "
    "{all_min:.0f} min: runs are longer than a small want asks for.",
    "by_monitor": "battery monitor",
    "by_volts": "resting volts",
    "by_both": "battery monitor and resting volts",
    "by_volts_alone": "resting volts; the battery monitor disagrees and wants resetting",
    "time": "time",
    "position": "position",
    "bank": "bank",
    "arrival": "arrival",
    "sun_to_come": "sun to come",
    "load_to_come": "load to come",
    "engine_to_charge": "engine to charge",
    "watch_from": "watch from {at:moment}",
    "moment": "{at:moment}",
    "span": "{begins:moment} to {ends:moment}",
    "place": "{lat:side|NS} {lon:side|EW}",
    "place_kept": "there",
    "place_off": "{off_nm:.0f} nm {bearing_deg:point} of there",
    "soc": "{soc:percent}",
    "soc_observed": "{soc:percent} ({low:percent} to {high:percent}), {amp_hours:+.0f} Ah",
    "energy": "{wh:.0f} Wh",
    "hours": "{hours:.1f} h",
    "old_ladder": "{minutes:run} at {reading} % by the old ladder",
    "new_ladder": "{minutes:run} by the new one",
    "outside_last_plan": "The fix is outside the last plan: nothing of it can be held against this one.",
    "bank_within": "Within eight forecasts in ten ({low:percent} to {high:percent}): the weather may explain it.",
    "bank_within_doubt": "Outside {low:percent} to {high:percent}, but the meter's doubt reaches it.",
    "bank_under": "Under {low:percent} to {high:percent}: more than the forecasts explain; look at loads, panels "
    "and meter.",
    "bank_over": "Over {low:percent} to {high:percent}: more than the forecasts explain; look at loads, panels and "
    "meter.",
    "later": "{hours:.1f} h later: place and wind.",
    "earlier": "{hours:.1f} h earlier: place and wind.",
    "energy_rate": "{wh_per_day:+.0f} Wh a day; the rest is the passage's length.",
    "engine_by_bank": "{hours:+.1f} h from the bank, {low_h:+.1f} to {high_h:+.1f} h in eight forecasts in ten.",
    "engine_by_sky": "{hours:+.1f} h from the sky that the log shows, {low_h:+.1f} to {high_h:+.1f} h in eight "
    "forecasts in ten.",
    "engine_by_rest": "{hours:+.1f} h from weather, place and the ladders made anew.",
    "sun_by_sky": "The sky that the log shows makes {wh_per_day:+.0f} Wh a day of it.",
    "by_log_monitor": "the log's battery monitor, read at {at:moment}",
    "by_log_count": "the log's engine and yields against the listed loads since {since:moment}, from {from:percent}",
    "meter_since_departure": "no full charge since departure",
    "meter_since_full": "last full at {at:moment}",
    "meter_drifted": "it showed {shown:percent} as the bank was full at {at:moment}, {times:.1f} times its usual "
    "drift",
    "count_doubt": "the listed loads are known to {loads:percent}",
    "log_bank": "The log has {soc:percent} in the bank by {source}; that is known to {error:percent}: {why}.",
    "log_overruled": "{key} was typed and goes before the log.",
    "log_sky": "On {days} days of the log the panels saw {found:percent} of the light forecast; the plan begins "
    "with {expected:percent} of it and forgets that over {memory_h:.0f} h.",
    "log_no_sky": "Of the sky the log shows nothing that this forecast covers: its light stands as forecast.",
    "ladders_anew": "Ladders are made anew from here.",
}
