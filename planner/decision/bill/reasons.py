"""Why the engine runs in a watch, or why not, in the words of a watch bill. Times are ship's time."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from planner.decision.bill.case import Case
from planner.decision.bill.skip import Skipped
from planner.decision.policy.full_charge import full_soc
from planner.domain.arrays import Bools
from planner.simulation.clock import in_spans
from planner.simulation.ledger.simulate import bank_params

WH_ROUNDING = 10  # Wh, as far as a watch-hour is worth reading
HOURS_AHEAD = 24.0  # h, how far quiet hours and arrival are looked for
DAY_H = 24.0  # h
STEADY_PERCENT = 1  # %, a change of SOC over a watch not worth telling apart from none


def reason(case: Case, epoch: int, skipped: Skipped | None) -> str:
    """Return why the engine runs in a watch on the planned course, or why not.

    Parameters
    ----------
    case : Case
    epoch : int
        The watch.
    skipped : Skipped or None
        What follows if its run is skipped; None when it has none.

    Returns
    -------
    str
        Short sentences.
    """
    if skipped is None:
        return _why_not(case, epoch)
    parts = [
        _night_and_day(case, epoch),
        _ban_ahead(case, epoch),
        _arrival_ahead(case, epoch),
        _full_ahead(case, epoch),
        _driving_ahead(case, epoch),
        _without_it(case, skipped),
    ]
    return " ".join(part for part in parts if part)


def propulsion_reason(case: Case, first: int) -> str:
    """Return why the engine drives the boat from a step on."""
    wind = float(case.track["true_wind_speed_kn"].values[first])
    return f"Too slow under sail in {round(wind)} kn of wind; the engine charges meanwhile."


def quiet_steps(case: Case) -> Bools:
    """Return the steps that lie in the quiet hours, (time,)."""
    return np.asarray(in_spans(case.track["time"].values, case.passage.wishes.quiet_hours, case.ship_offset))


def _night_and_day(case: Case, epoch: int) -> str:
    """Say what the night needs, and what the sun brings before it or, from the night on, after it."""
    first = case.epoch_steps(epoch).start
    dusk = case.next_step_where(~case.sun_up, first)
    dawn = case.next_step_where(case.sun_up, dusk)
    next_dusk = case.next_step_where(~case.sun_up, dawn)
    needs = _wh(case, case.planned_demand_w, dusk, dawn)
    if dusk == first:
        night = f"The night still needs {needs} Wh"
        return f"{night}." if dawn == case.steps else f"{night}; the sun after it {_balance(case, dawn, next_dusk)}."
    today = f"Today's sun {_balance(case, first, dusk)}"
    return f"{today}." if dusk == case.steps else f"{today}; the night needs {needs} Wh."


def _balance(case: Case, first: int, end: int) -> str:
    """Say what the sun brings over the loads of the same hours, or by how much it falls short."""
    net = _wh(case, case.planned_solar_w - case.planned_demand_w, first, end)
    return f"brings {net} Wh over use" if net >= 0 else f"falls {-net} Wh short of use"


def _arrival_ahead(case: Case, epoch: int) -> str:
    """Say what is wanted on arrival, if it is near."""
    left_h = (case.steps - case.epoch_steps(epoch).start) * case.step_h
    if left_h > HOURS_AHEAD:
        return ""
    return f"{round(100 * case.passage.wishes.arrival_soc)} % is wanted on arrival at {case.clock(case.steps)}."


def _full_ahead(case: Case, epoch: int) -> str:
    """Say by when a full charge is due, if it is wanted and half of the time to it has passed."""
    days = case.passage.wishes.full_charge_every_days
    if days is None:
        return ""
    first = case.epoch_steps(epoch).start
    full = np.flatnonzero(case.planned_soc[: first + 1] >= full_soc(bank_params(case.boat.bank)))
    last = int(full[-1]) if full.size else 0
    if (first - last) * case.step_h < days * DAY_H / 2.0:
        return ""
    due = case.at(last) + timedelta(days=days) + case.ship_offset
    return f"A full charge is due by {due:%a} {due.day} {due:%b %H:%M}."


def _ban_ahead(case: Case, epoch: int) -> str:
    """Say when quiet hours next stop the engine, if soon."""
    first = case.epoch_steps(epoch).start
    begins = case.next_step_where(quiet_steps(case), first)
    if begins == case.steps or (begins - first) * case.step_h > HOURS_AHEAD:
        return ""
    ends = case.next_step_where(~quiet_steps(case), begins)
    if begins == first:
        return f"Quiet until {case.clock(ends)}."
    return f"Quiet {case.clock(begins)} to {case.clock(ends)}."


def _driving_ahead(case: Case, epoch: int) -> str:
    """Say when the engine is to drive the boat soon, where the plan does not count on its charge."""
    first = case.epoch_steps(epoch).start
    drives = case.next_step_where(case.under_engine, first)
    if case.passage.model.tracks == "control" or (drives - first) * case.step_h > HOURS_AHEAD or drives == case.steps:
        return ""
    return f"Driving, as forecast from {case.clock(drives)}, is not counted on."


def _without_it(case: Case, skipped: Skipped) -> str:
    reserve = round(100 * case.boat.bank.reserve_soc)
    lowest = f"Without this run {round(100 * skipped.lowest_soc)} % by {case.clock(skipped.lowest_step)}"
    if skipped.lowest_soc < case.boat.bank.reserve_soc:
        return f"{lowest}, under the reserve of {reserve} %."
    return f"{lowest}; reserve {reserve} %."


def _why_not(case: Case, epoch: int) -> str:
    steps = case.epoch_steps(epoch)
    under_engine = case.under_engine[steps]
    if not case.boat.engine.available:
        return f"Engine out of service. {_bank_words(case, epoch)}"
    if under_engine.any():
        current = case.planned["bank_current_a"].values[0, steps]
        amp_hours = float(np.clip(current[under_engine], 0.0, None).sum()) * case.step_h
        words = f"The engine drives and charges, about {round(amp_hours)} Ah"
        has_ladder = case.policy.allowed[steps].any() and case.policy.minutes[epoch].any()
        return f"{words}; should she sail, charge by the meter." if has_ladder else f"{words}."
    if not case.policy.allowed[steps].any():
        return f"{_ban(case, epoch)} {_bank_words(case, epoch)}"
    return _bank_words(case, epoch)


def _ban(case: Case, epoch: int) -> str:
    """Say what forbids a charging run throughout a watch."""
    steps = case.epoch_steps(epoch)
    if quiet_steps(case)[steps].all():
        return "Quiet hours."
    heel = np.abs(case.track["heel_deg"].values[steps])
    if (heel > case.boat.engine.max_heel_deg).all():
        return f"Heel over {case.boat.engine.max_heel_deg:.0f} degrees: no charging."
    return "No time for a run of the shortest length."


def _bank_words(case: Case, epoch: int) -> str:
    steps = case.epoch_steps(epoch)
    begins, ends = (round(100 * float(case.planned_soc[step])) for step in (steps.start, steps.stop))
    if ends - begins > STEADY_PERCENT:
        return f"Sun carries the loads: bank {begins} to {ends} %."
    if begins - ends > STEADY_PERCENT:
        return f"Bank carries the loads: {begins} to {ends} %."
    return f"Bank holds at {ends} %."


def _wh(case: Case, power_w: np.ndarray, first: int, end: int) -> int:
    return WH_ROUNDING * round(float(power_w[first:end].sum()) * case.step_h / WH_ROUNDING)
