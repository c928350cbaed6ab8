"""Why the engine runs in a watch, or why not. Times are ship's time."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from planner.decision.bill.case import Case
from planner.decision.bill.skip import Skipped
from planner.decision.policy.full_charge import full_soc
from planner.domain.arrays import Bools, Floats
from planner.domain.results.note import Note, together
from planner.simulation.clock import in_spans
from planner.simulation.ledger.simulate import bank_params

WH_ROUNDING = 10  # Wh, as far as a watch-hour is worth reading
HOURS_AHEAD = 24.0  # h, how far quiet hours and arrival are looked for
DAY_H = 24.0  # h
STEADY_PERCENT = 1  # %, a change of SOC over a watch not worth telling apart from none


def reason(case: Case, epoch: int, skipped: Skipped | None) -> Note:
    """Return why the engine runs in a watch on the planned course, or why not.

    Parameters
    ----------
    case : Case
    epoch : int
        The watch.
    skipped : Skipped or None
        What follows if its run is skipped; None when it has none.
    """
    if skipped is None:
        return together(_why_not(case, epoch))
    first = case.epoch_steps(epoch).start
    return together(
        [
            _night_and_day(case, first),
            *_ban_ahead(case, first),
            *_arrival_ahead(case, first),
            *_full_ahead(case, first),
            *_driving_ahead(case, first),
            _without_it(case, skipped),
        ]
    )


def propulsion_reason(case: Case, first: int) -> Note:
    """Return why the engine drives the boat from a step on."""
    return Note("drives", {"wind_kn": float(case.track["true_wind_speed_kn"].values[first])})


def quiet_steps(case: Case) -> Bools:
    """Return the steps that lie in the quiet hours, (time,)."""
    return np.asarray(in_spans(case.track["time"].values, case.passage.wishes.quiet_hours, case.ship_offset))


def _night_and_day(case: Case, first: int) -> Note:
    """Return what the night needs, and what the sun brings before it or, from the night on, after it."""
    dusk = case.next_step_where(~case.sun_up, first)
    dawn = case.next_step_where(case.sun_up, dusk)
    next_dusk = case.next_step_where(~case.sun_up, dawn)
    night_wh = _wh(case, case.planned_demand_w, dusk, dawn)
    if dusk == first:
        if dawn == case.steps:
            return Note("night", {"night_wh": night_wh})
        return Note("night_then_sun", {"night_wh": night_wh, "sun": _balance(case, dawn, next_dusk)})
    today = _balance(case, first, dusk)
    if dusk == case.steps:
        return Note("sun", {"sun": today})
    return Note("sun_then_night", {"sun": today, "night_wh": night_wh})


def _balance(case: Case, first: int, end: int) -> Note:
    """Return what the sun brings over the loads of the same hours, or by how much it falls short."""
    net = _wh(case, case.planned_solar_w - case.planned_demand_w, first, end)
    return Note("sun_over" if net >= 0 else "sun_short", {"wh": abs(net)})


def _arrival_ahead(case: Case, first: int) -> list[Note]:
    """Return what is wanted on arrival, if it is near."""
    if (case.steps - first) * case.step_h > HOURS_AHEAD:
        return []
    return [Note("arrival_ahead", {"soc": case.passage.wishes.arrival_soc, "arrival": case.ship_time(case.steps)})]


def _full_ahead(case: Case, first: int) -> list[Note]:
    """Return by when a full charge is due, if it is wanted and half of the time to it has passed."""
    days = case.passage.wishes.full_charge_every_days
    if days is None:
        return []
    full = np.flatnonzero(case.planned_soc[: first + 1] >= full_soc(bank_params(case.boat.bank)))
    last = int(full[-1]) if full.size else 0
    if (first - last) * case.step_h < days * DAY_H / 2.0:
        return []
    return [Note("full_charge_due", {"due": case.at(last) + timedelta(days=days) + case.ship_offset})]


def _ban_ahead(case: Case, first: int) -> list[Note]:
    """Return when quiet hours next stop the engine, if soon."""
    begins = case.next_step_where(quiet_steps(case), first)
    if begins == case.steps or (begins - first) * case.step_h > HOURS_AHEAD:
        return []
    ends = case.ship_time(case.next_step_where(~quiet_steps(case), begins))
    if begins == first:
        return [Note("quiet_until", {"ends": ends})]
    return [Note("quiet_ahead", {"begins": case.ship_time(begins), "ends": ends})]


def _driving_ahead(case: Case, first: int) -> list[Note]:
    """Return when the engine is to drive the boat soon, where the plan does not count on its charge."""
    drives = case.next_step_where(case.under_engine, first)
    if case.passage.model.tracks == "control" or (drives - first) * case.step_h > HOURS_AHEAD or drives == case.steps:
        return []
    return [Note("driving_ahead", {"begins": case.ship_time(drives)})]


def _without_it(case: Case, skipped: Skipped) -> Note:
    reserve = case.boat.bank.reserve_soc
    return Note(
        "skipped_under_reserve" if skipped.lowest_soc < reserve else "skipped",
        {"lowest": skipped.lowest_soc, "at": case.ship_time(skipped.lowest_step), "reserve": reserve},
    )


def _why_not(case: Case, epoch: int) -> list[Note]:
    steps = case.epoch_steps(epoch)
    under_engine = case.under_engine[steps]
    if not case.boat.engine.available:
        return [Note("engine_out"), _bank(case, steps)]
    if under_engine.any():
        current = case.planned["bank_current_a"].values[0, steps]
        amp_hours = float(np.clip(current[under_engine], 0.0, None).sum()) * case.step_h
        has_ladder = case.policy.allowed[steps].any() and case.policy.minutes[epoch].any()
        return [Note("drives_or_ladder" if has_ladder else "drives_and_charges", {"amp_hours": amp_hours})]
    if not case.policy.allowed[steps].any():
        return [_ban(case, steps), _bank(case, steps)]
    return [_bank(case, steps)]


def _ban(case: Case, steps: slice) -> Note:
    """Return what forbids a charging run throughout a watch."""
    if quiet_steps(case)[steps].all():
        return Note("quiet")
    heel, most = np.abs(case.track["heel_deg"].values[steps]), case.boat.engine.max_heel_deg
    return Note("heel", {"max_heel_deg": most}) if (heel > most).all() else Note("no_time")


def _bank(case: Case, steps: slice) -> Note:
    begins, ends = (round(100 * float(case.planned_soc[step])) for step in (steps.start, steps.stop))
    if abs(ends - begins) <= STEADY_PERCENT:
        return Note("bank_holds", {"ends": ends})
    return Note("sun_carries" if ends > begins else "bank_carries", {"begins": begins, "ends": ends})


def _wh(case: Case, power_w: Floats, first: int, end: int) -> int:
    return WH_ROUNDING * round(float(power_w[first:end].sum()) * case.step_h / WH_ROUNDING)
