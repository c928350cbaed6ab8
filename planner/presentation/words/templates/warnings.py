"""What a plan warns of: reserve, full charges and fuel; track, clocks, strings and forecast."""

from __future__ import annotations

from typing import Final

TEMPLATES: Final = {
    "unusual": "{key} = {given:g} is beyond what boats have, {low:g} to {high:g}: {reason}.",
    "panel_too_strong": "{key} = {given_w:.0f} W is more than a panel of its size can give, {most_w:.0f} W at 1000 "
    "W/m2 and 25 %: one of its figures is misread.",
    "panels_meet": "{key}: the panels '{one}' and '{other}' go through each other.",
    "charger_over_bank": "{key}: it can give {given_a:.0f} A, and the bank takes {limit_a:.0f} A at the most; see "
    "that its regulator keeps to that.",
    "loads_over_inverter": "{key}: the loads on it draw {drawn_w:.0f} W together, and it gives {rated_w:.0f} W.",
    "mast_and_hull": "{key}: a mast of {mast_m:.1f} m does not go with a hull of {length_m:.1f} m.",
    "panel_off_hull": "{key}: the panel lies {off_m:.1f} m off the hull.",
    "wind_beyond": "{key}: its wind reaches {most_kn:.0f} kn, and a hurricane begins at {limit_kn:.0f}: no passage "
    "is planned into one, or its units are not what they say.",
    "acknowledged_idle": "{key} is acknowledged, and nothing is to be said of it.",
    "reserve_missed": "The reserve of {reserve:percent} cannot be kept as surely as asked: it was in {kept} of "
    "{members} trials, {confidence:percent} wanted.",
    "reserve_missed_own": "The reserve of {reserve:percent} cannot be kept as surely as asked: it was in {kept} of "
    "{members} trials, each in its own wind, {confidence:percent} wanted.",
    "reserve_missed_mean": "In the forecast's mean weather the bank falls under the reserve of {reserve:percent}.",
    "engine_out_of_service": "The engine is out of service.",
    "alternator_small": "The alternator adds too little for any run to be worth it.",
    "members_under": "{under} of {members} members fall under it, the first on {first:moment}, the worst to "
    "{worst:percent} on {worst_at:moment} (ship's time).",
    "members_under_control": "On the control's track {under} of {members} members fall under it, the first on "
    "{first:moment}, the worst to {worst:percent} on {worst_at:moment} (ship's time).",
    "shedding_saves": "Shedding {loads:list} saves it, if begun by {latest:moment}.",
    "shedding_fails": "Shedding every load that may be shed does not save it: it takes more engine, sun or bank.",
    "nothing_to_shed": "The boat file names no load that may be shed.",
    "full_charge_missed": "Full charge: wanted every {wanted_d:g} days, but the plan goes {longest_d:.1f} days "
    "without, from {first:moment} to {end:moment} (ship's time): runs long enough cost more than they are worth, or "
    "nothing allows them.",
    "lead_not_full": "Full charge: the plan goes {longest_d:.1f} days without, from {first:moment} to {end:moment} "
    "(ship's time), and lead that is not full within a week sulphates: set wishes.full_charge_every_days to have "
    "runs for it weighed.",
    "fuel_short": "Fuel: the plan burns {burnt_l:.0f} L, {burnt_p90_l:.0f} L in the poor tenth of the weather, and "
    "the tank holds {spare_l:.0f} L above what landfall needs.",
    "fuel_used_up": "Fuel: the plan burns {burnt_l:.0f} L, {burnt_p90_l:.0f} L in the poor tenth of the weather, "
    "and the tank holds {spare_l:.0f} L above what landfall needs: as planned it is used up on {used_up:moment} "
    "(ship's time). It is enough for {charging_h:.1f} h of charging: take more, shed loads, or drive less.",
    "few_members": "{confidence:percent} is wanted, but {members} outcomes of the weather cannot show more than "
    "{can_show:percent}, even if all keep the reserve (95 % confidence). A forecast of more members would.",
    "arrives_short": "{as_wanted} of {members} outcomes arrive with the {wanted:percent} that is wanted or more, "
    "{confidence:percent} would: charging for it costs more engine than it is worth, or nothing allows it.",
    "own_tracks_late": "Each forecast on its own track: {late} of {members} do not arrive within what the forecast "
    "serves; what becomes of their bank after it is not known.",
    "own_tracks_fuel": "Each forecast on its own track: one in ten burns {burnt_p90_l:.0f} L or more, and the tank "
    "holds {spare_l:.0f} L above what landfall needs.",
    "fuel_over_last": "Fuel aboard is taken to be {aboard_l:.0f} L, {more_l:.0f} L more than the {last_l:.0f} L of "
    "the last plan: where none was taken aboard, an engine log that lacks runs, or another boat.engine.tank_l, is "
    "the likely cause. Sound the tank.",
    "string_volts": "The string {string} on '{controller}' can reach {open_v:.0f} V DC open-circuit in the cold: "
    "over {limit_v:.0f} V it can kill. Cover the panels before touching its wiring.",
    "cells_assumed": "Where the cells of {panels} lie is not stated: {along} along the length by {across} across are "
    "taken by size. It decides what a narrow shadow costs; state cells_along, cells_across and substrings_across.",
    "leg_long": "Route: a leg of {leg_nm:.0f} nm from {begin} to {end}, over a quarter of the way round the world. "
    "Is a sign wrong, or are latitude and longitude swapped?",
    "route_thinned": "Route: of {points} points {kept} are sailed; those left out lie within {off_nm:g} nm of their "
    "line. Waypoints are numbered as they are left.",
    "waits": "She waits {wait_h:.1f} h at {waypoint} to arrive as wanted.",
    "slows": "She goes at {pace:.0%} of her speed to arrive as wanted.",
    "early": "The wind lets her come {early_h:.1f} h before that, or after it, but not then.",
    "wait_missed": "The wait at {waypoint} until {until:%d %b %H:%M} (UTC{until:%z}) is over before the boat comes.",
    "variation": "Variation: the magnetic models aboard serve {first} to {end}; for {year} the nearest is run on by "
    "its yearly change. Compare it with the chart's compass rose.",
    "compass_weak": "Compass: for {weak_h:.0f} h the earth's field is too steep to trust a magnetic course, for "
    "{blind_h:.0f} h not at all: its level part is {least_nt:.0f} nT at the least, and compasses err much under "
    "6000. Steer by true headings.",
    "beyond_polar": "Polar: for {hours:.0f} h the wind is beyond the table's last {end_kn:g} kn, up to "
    "{most_kn:.0f} kn; its last speeds are held, with the reefs that the boat file has. What she does there is not "
    "known.",
    "fixed_over_polar": "Fixed speed: for {hours:.0f} h up to {fixed_kn:g} kn are to be sailed where the polar gives "
    "half of that or less, {polar_kn:.1f} kn at the least.",
    "slow_progress": "Progress: for {hours:.0f} h, from {first:utc}, she gains under a knot toward the destination, "
    "{least_kn:.1f} kn at the least over a watch of 4 h. Look at wind and current there; another departure may serve "
    "better.",
    "date_twice": "Clocks: on {at:date} at {at:clock} ship's time the date is counted twice (the 180th meridian).",
    "date_left_out": "Clocks: on {at:date} at {at:clock} ship's time a date is left out (the 180th meridian).",
    "clock_on": "Clocks: on {at:date} at {at:clock} ship's time they are put on {hours:g} h.",
    "clock_back": "Clocks: on {at:date} at {at:clock} ship's time they are put back {hours:g} h.",
    "forecast_note": "Forecast: {words}",
    "forecast_ends": "The forecast ends at {ends:utc}, {after_h:.0f} hours after departure: from then on, for "
    "{part:.0%} of the passage, the weather is drawn from the forecast's own days. Plan again under way with a "
    "fresh forecast.",
    "forecast_begins": "The forecast begins at {begins:utc}, {after_h:.0f} hours after departure: until then the "
    "weather is drawn from the forecast's own days. Take one that covers the departure.",
    "outside_grid": "From {first:utc}, {after_h:.0f} hours after departure, the boat is outside the forecast's grid "
    "for {part:.0%} of the passage: the weather at its edge is held. Take a wider one.",
    "forecast_stale": "The forecast is stale: it was begun at {issued:utc}, {age_h:.0f} hours before departure; a "
    "fresh one would be {fresh_h:.0f} hours old at most. Its light and wind are given the wider doubt of its age. "
    "Fetch the latest.",
    "lone_run": "The forecast is a single run, without members: the spread shown is that of {outcomes} outcomes "
    "whose light and wind err as single runs do, more with every day, the light coming back towards what the season "
    "usually gives; temperature and rain are the same in all.",
    "sky_of_season": "The forecast has neither cloud nor sunlight: its light is what the season usually gives at the "
    "latitude, and scatters as its days do. Type the sky as a bulletin says it, or take a file with cloud.",
    "by_hand": "Typed by hand: {parts:list} as rows of [[weather]] have it.",
    "by_hand_part": "the {what} of {part:.0%} of the passage, {first:utc} to {last:utc},",
    "by_hand_no_doubt": "Its light is given no doubt, as model.lone_outcomes = 1 asks.",
    "by_hand_doubt": "Its light is given the doubt of a bulletin's words, more with every day: a day's sunlight "
    "errs by {least:.0%} to {most:.0%} (standard deviation over {outcomes} outcomes), most under thick cloud.",
    "by_hand_wind": "Wind that is typed errs as a single run's of its age does; air and rain are the same in all "
    "outcomes.",
}
