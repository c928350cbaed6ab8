"""Why the engine runs in a watch, or why not, in the words of a watch bill. Times are ship's time."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from planner.decision.bill.skip import Skipped
from planner.decision.policy.full_charge import full_soc
from planner.domain.arrays import Bools
from planner.domain.voyage import Voyage
from planner.simulation.clock import in_spans
from planner.simulation.ledger.simulate import bank_params

WH_ROUNDING = 10  # Wh, as far as a watch-hour is worth reading
HOURS_AHEAD = 24.0  # h, how far quiet hours and arrival are looked for
DAY_H = 24.0  # h
STEADY_PERCENT = 1  # %, a change of SOC over a watch not worth telling apart from none


def reason(voyage: Voyage, epoch: int, skipped: Skipped | None) -> str:
    """Return why the engine runs in a watch on the planned course, or why not.

    Parameters
    ----------
    voyage : Voyage
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
        return _why_not(voyage, epoch)
    parts = [
        _night_and_day(voyage, epoch),
        _ban_ahead(voyage, epoch),
        _arrival_ahead(voyage, epoch),
        _full_ahead(voyage, epoch),
        _driving_ahead(voyage, epoch),
        _without_it(voyage, skipped),
    ]
    return " ".join(part for part in parts if part)


def propulsion_reason(voyage: Voyage, first: int) -> str:
    """Return why the engine drives the boat from a step on."""
    wind = float(voyage.track["true_wind_speed_kn"].values[first])
    return f"Too slow under sail in {round(wind)} kn of wind; the engine charges meanwhile."


def quiet_steps(voyage: Voyage) -> Bools:
    """Return the steps that lie in the quiet hours, (time,)."""
    return np.asarray(in_spans(voyage.track["time"].values, voyage.passage.wishes.quiet_hours, voyage.ship_offset))


def _night_and_day(voyage: Voyage, epoch: int) -> str:
    """Say what the night needs, and what the sun brings before it or, from the night on, after it."""
    first = voyage.epoch_steps(epoch).start
    dusk = voyage.next_step_where(~voyage.sun_up, first)
    dawn = voyage.next_step_where(voyage.sun_up, dusk)
    next_dusk = voyage.next_step_where(~voyage.sun_up, dawn)
    needs = _wh(voyage, voyage.planned_demand_w, dusk, dawn)
    if dusk == first:
        night = f"The night still needs {needs} Wh"
        return (
            f"{night}." if dawn == voyage.steps else f"{night}; the sun after it {_balance(voyage, dawn, next_dusk)}."
        )
    today = f"Today's sun {_balance(voyage, first, dusk)}"
    return f"{today}." if dusk == voyage.steps else f"{today}; the night needs {needs} Wh."


def _balance(voyage: Voyage, first: int, end: int) -> str:
    """Say what the sun brings over the loads of the same hours, or by how much it falls short."""
    net = _wh(voyage, voyage.planned_solar_w - voyage.planned_demand_w, first, end)
    return f"brings {net} Wh over use" if net >= 0 else f"falls {-net} Wh short of use"


def _arrival_ahead(voyage: Voyage, epoch: int) -> str:
    """Say what is wanted on arrival, if it is near."""
    left_h = (voyage.steps - voyage.epoch_steps(epoch).start) * voyage.step_h
    if left_h > HOURS_AHEAD:
        return ""
    return f"{round(100 * voyage.passage.wishes.arrival_soc)} % is wanted on arrival at {voyage.clock(voyage.steps)}."


def _full_ahead(voyage: Voyage, epoch: int) -> str:
    """Say by when a full charge is due, if it is wanted and half of the time to it has passed."""
    days = voyage.passage.wishes.full_charge_every_days
    if days is None:
        return ""
    first = voyage.epoch_steps(epoch).start
    full = np.flatnonzero(voyage.planned_soc[: first + 1] >= full_soc(bank_params(voyage.boat.bank)))
    last = int(full[-1]) if full.size else 0
    if (first - last) * voyage.step_h < days * DAY_H / 2.0:
        return ""
    due = voyage.at(last) + timedelta(days=days) + voyage.ship_offset
    return f"A full charge is due by {due:%a} {due.day} {due:%b %H:%M}."


def _ban_ahead(voyage: Voyage, epoch: int) -> str:
    """Say when quiet hours next stop the engine, if soon."""
    first = voyage.epoch_steps(epoch).start
    begins = voyage.next_step_where(quiet_steps(voyage), first)
    if begins == voyage.steps or (begins - first) * voyage.step_h > HOURS_AHEAD:
        return ""
    ends = voyage.next_step_where(~quiet_steps(voyage), begins)
    if begins == first:
        return f"Quiet until {voyage.clock(ends)}."
    return f"Quiet {voyage.clock(begins)} to {voyage.clock(ends)}."


def _driving_ahead(voyage: Voyage, epoch: int) -> str:
    """Say when the engine is to drive the boat soon, where the plan does not count on its charge."""
    first = voyage.epoch_steps(epoch).start
    drives = voyage.next_step_where(voyage.under_engine, first)
    if (
        voyage.passage.model.tracks == "control"
        or (drives - first) * voyage.step_h > HOURS_AHEAD
        or drives == voyage.steps
    ):
        return ""
    return f"Driving, as forecast from {voyage.clock(drives)}, is not counted on."


def _without_it(voyage: Voyage, skipped: Skipped) -> str:
    reserve = round(100 * voyage.boat.bank.reserve_soc)
    lowest = f"Without this run {round(100 * skipped.lowest_soc)} % by {voyage.clock(skipped.lowest_step)}"
    if skipped.lowest_soc < voyage.boat.bank.reserve_soc:
        return f"{lowest}, under the reserve of {reserve} %."
    return f"{lowest}; reserve {reserve} %."


def _why_not(voyage: Voyage, epoch: int) -> str:
    steps = voyage.epoch_steps(epoch)
    under_engine = voyage.under_engine[steps]
    if not voyage.boat.engine.available:
        return f"Engine out of service. {_bank_words(voyage, epoch)}"
    if under_engine.any():
        current = voyage.planned["bank_current_a"].values[0, steps]
        amp_hours = float(np.clip(current[under_engine], 0.0, None).sum()) * voyage.step_h
        words = f"The engine drives and charges, about {round(amp_hours)} Ah"
        has_ladder = voyage.policy.allowed[steps].any() and voyage.policy.minutes[epoch].any()
        return f"{words}; should she sail, charge by the meter." if has_ladder else f"{words}."
    if not voyage.policy.allowed[steps].any():
        return f"{_ban(voyage, epoch)} {_bank_words(voyage, epoch)}"
    return _bank_words(voyage, epoch)


def _ban(voyage: Voyage, epoch: int) -> str:
    """Say what forbids a charging run throughout a watch."""
    steps = voyage.epoch_steps(epoch)
    if quiet_steps(voyage)[steps].all():
        return "Quiet hours."
    heel = np.abs(voyage.track["heel_deg"].values[steps])
    if (heel > voyage.boat.engine.max_heel_deg).all():
        return f"Heel over {voyage.boat.engine.max_heel_deg:.0f} degrees: no charging."
    return "No time for a run of the shortest length."


def _bank_words(voyage: Voyage, epoch: int) -> str:
    steps = voyage.epoch_steps(epoch)
    begins, ends = (round(100 * float(voyage.planned_soc[step])) for step in (steps.start, steps.stop))
    if ends - begins > STEADY_PERCENT:
        return f"Sun carries the loads: bank {begins} to {ends} %."
    if begins - ends > STEADY_PERCENT:
        return f"Bank carries the loads: {begins} to {ends} %."
    return f"Bank holds at {ends} %."


def _wh(voyage: Voyage, power_w: np.ndarray, first: int, end: int) -> int:
    return WH_ROUNDING * round(float(power_w[first:end].sum()) * voyage.step_h / WH_ROUNDING)
