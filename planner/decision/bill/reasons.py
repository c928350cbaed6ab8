"""Why the engine runs in a watch, or why not. Times are ship's time."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from planner.decision.bill.skip import Skipped
from planner.decision.bill.summary import last_full
from planner.domain.arrays import Bools, Floats
from planner.domain.results.note import Note, together
from planner.domain.voyage import Voyage
from planner.simulation.clock import in_spans

WH_ROUNDING = 10  # Wh, as far as a watch-hour is worth reading
HOURS_AHEAD = 24.0  # h, how far quiet hours and arrival are looked for
DAY_H = 24.0  # h
STEADY_PERCENT = 1  # %, a change of SOC over a watch not worth telling apart from none


def reason(voyage: Voyage, epoch: int, skipped: Skipped | None) -> Note:
    """Return why the engine runs in a watch on the planned course, or why not.

    Parameters
    ----------
    voyage : Voyage
    epoch : int
        The watch.
    skipped : Skipped or None
        What follows if its run is skipped; None when it has none.
    """
    if skipped is None:
        return together(_why_not(voyage, epoch))
    first = voyage.epoch_steps(epoch).start
    return together(
        [
            _night_and_day(voyage, first),
            *_ban_ahead(voyage, first),
            *_arrival_ahead(voyage, first),
            *_full_ahead(voyage, first),
            *_driving_ahead(voyage, first),
            _without_it(voyage, skipped),
        ]
    )


def propulsion_reason(voyage: Voyage, first: int) -> Note:
    """Return why the engine drives the boat from a step on."""
    return Note("drives", {"wind_kn": float(voyage.track["true_wind_speed_kn"].values[first])})


def quiet_steps(voyage: Voyage) -> Bools:
    """Return the steps that lie in the quiet hours, (time,)."""
    return np.asarray(in_spans(voyage.track["time"].values, voyage.passage.wishes.quiet_hours, voyage.ship_offset))


def _night_and_day(voyage: Voyage, first: int) -> Note:
    """Return what the night needs, and what the sun brings before it or, from the night on, after it."""
    dusk = voyage.next_step_where(~voyage.sun_up, first)
    dawn = voyage.next_step_where(voyage.sun_up, dusk)
    next_dusk = voyage.next_step_where(~voyage.sun_up, dawn)
    night_wh = _wh(voyage, voyage.planned_demand_w, dusk, dawn)
    if dusk == first:
        if dawn == voyage.steps:
            return Note("night", {"night_wh": night_wh})
        return Note("night_then_sun", {"night_wh": night_wh, "sun": _balance(voyage, dawn, next_dusk)})
    today = _balance(voyage, first, dusk)
    if dusk == voyage.steps:
        return Note("sun", {"sun": today})
    return Note("sun_then_night", {"sun": today, "night_wh": night_wh})


def _balance(voyage: Voyage, first: int, end: int) -> Note:
    """Return what the sun brings over the loads of the same hours, or by how much it falls short."""
    net = _wh(voyage, voyage.planned_solar_w - voyage.planned_demand_w, first, end)
    return Note("sun_over" if net >= 0 else "sun_short", {"wh": abs(net)})


def _arrival_ahead(voyage: Voyage, first: int) -> list[Note]:
    """Return what is wanted on arrival, if it is near."""
    if (voyage.steps - first) * voyage.step_h > HOURS_AHEAD:
        return []
    return [
        Note("arrival_ahead", {"soc": voyage.passage.wishes.arrival_soc, "arrival": voyage.ship_time(voyage.steps)})
    ]


def _full_ahead(voyage: Voyage, first: int) -> list[Note]:
    """Return by when a full charge is due, if it is wanted and half of the time to it has passed."""
    days = voyage.passage.wishes.full_charge_every_days
    if days is None:
        return []
    last = last_full(voyage, first)
    if (first - last) * voyage.step_h < days * DAY_H / 2.0:
        return []
    return [Note("full_charge_due", {"due": voyage.at(last) + timedelta(days=days) + voyage.ship_offset})]


def _ban_ahead(voyage: Voyage, first: int) -> list[Note]:
    """Return when quiet hours next stop the engine, if soon."""
    begins = voyage.next_step_where(quiet_steps(voyage), first)
    if begins == voyage.steps or (begins - first) * voyage.step_h > HOURS_AHEAD:
        return []
    ends = voyage.ship_time(voyage.next_step_where(~quiet_steps(voyage), begins))
    if begins == first:
        return [Note("quiet_until", {"ends": ends})]
    return [Note("quiet_ahead", {"begins": voyage.ship_time(begins), "ends": ends})]


def _driving_ahead(voyage: Voyage, first: int) -> list[Note]:
    """Return when the engine is to drive the boat soon, where the plan does not count on its charge."""
    drives = voyage.next_step_where(voyage.under_engine, first)
    if (
        voyage.passage.model.tracks == "control"
        or (drives - first) * voyage.step_h > HOURS_AHEAD
        or drives == voyage.steps
    ):
        return []
    return [Note("driving_ahead", {"begins": voyage.ship_time(drives)})]


def _without_it(voyage: Voyage, skipped: Skipped) -> Note:
    reserve = voyage.boat.bank.reserve_soc
    return Note(
        "skipped_under_reserve" if skipped.lowest_soc < reserve else "skipped",
        {"lowest": skipped.lowest_soc, "at": voyage.ship_time(skipped.lowest_step), "reserve": reserve},
    )


def _why_not(voyage: Voyage, epoch: int) -> list[Note]:
    steps = voyage.epoch_steps(epoch)
    under_engine = voyage.under_engine[steps]
    if not voyage.boat.engine.available:
        return [Note("engine_out"), _bank(voyage, steps)]
    if under_engine.any():
        current = voyage.planned["bank_current_a"].values[0, steps]
        amp_hours = float(np.clip(current[under_engine], 0.0, None).sum()) * voyage.step_h
        has_ladder = voyage.policy.allowed[steps].any() and voyage.policy.minutes[epoch].any()
        return [Note("drives_or_ladder" if has_ladder else "drives_and_charges", {"amp_hours": amp_hours})]
    if not voyage.policy.allowed[steps].any():
        return [_ban(voyage, steps), _bank(voyage, steps)]
    return [_bank(voyage, steps)]


def _ban(voyage: Voyage, steps: slice) -> Note:
    """Return what forbids a charging run throughout a watch."""
    if quiet_steps(voyage)[steps].all():
        return Note("quiet")
    heel, most = np.abs(voyage.track["heel_deg"].values[steps]), voyage.boat.engine.max_heel_deg
    return Note("heel", {"max_heel_deg": most}) if (heel > most).all() else Note("no_time")


def _bank(voyage: Voyage, steps: slice) -> Note:
    begins, ends = (round(100 * float(voyage.planned_soc[step])) for step in (steps.start, steps.stop))
    if abs(ends - begins) <= STEADY_PERCENT:
        return Note("bank_holds", {"ends": ends})
    return Note("sun_carries" if ends > begins else "bank_carries", {"begins": begins, "ends": ends})


def _wh(voyage: Voyage, power_w: Floats, first: int, end: int) -> int:
    return WH_ROUNDING * round(float(power_w[first:end].sum()) * voyage.step_h / WH_ROUNDING)
