"""Whether a log's clock goes right: the readings are laid against the sun at every shift, and the likeliest taken.

Before the sun is up no panel gives power, and none gives more than the cloudless sky allows. Under cloud the light
lies anywhere below, drifts over an hour or two, and knows no side of noon. First and last light and the balance of
morning and evening so give the shift, even when it is cloudy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.power import Bank
from planner.domain.results.note import Note
from planner.domain.results.reconcile.findings import LEVEL, ClockFinding, Interval
from planner.simulation.clock import step_seconds
from planner.studies.reconcile.evidence import Figures
from planner.studies.reconcile.judged_steps import held_back
from planner.studies.reconcile.read_steps import on_steps
from planner.studies.reconcile.sky.sky_states import states_of

if TYPE_CHECKING:
    import xarray as xr


# the project's own, set on made readings
SHIFTS_MIN: Final = np.arange(-130.0, 131.0, 2.0)  # min
SENSE: Final = 0.006  # 1, of what the controllers deliver at most: less is as good as dark
CLOUD: Final = (0.5, 1.5)  # 1, of the logarithm of the light under cloud; h, over which it forgets itself
DAY_SD: Final = 0.4  # 1, of a day's mean light
USUAL_LOG: Final = -0.35  # 1, logarithm of the usual light over the cloudless
READ_SD: Final = 0.12  # 1, of a reading about the model: shade, aim, burst of cloud
OVER: Final = (0.15, 0.08)  # 1, by which the logarithm may lie over the cloudless sky; how hard it is to exceed that
LEAST_READ: Final = 12  # readings in a day's light
TEMPER: Final = 0.45  # 1, on the logarithm of the likelihood: the model's errors are not independent
MODEL_MIN: Final = 1.5  # min, standard deviation of what the model itself is off by, however many the days
TOO_LITTLE: Final = (10.0, 0.02)  # min, a smaller error is left as it is; 1, chance of that which is too much
NEAR_SD_MIN: Final = 4.0  # min, of a clock that is right, or wrong by its zone alone
RIGHT, WRONG_ZONE = 0.8, 0.1  # 1, of clocks, before anything is read; the rest may be anything
ZONES_MIN: Final = (-120.0, -60.0, -30.0, 30.0, 60.0, 120.0)  # min


def find_clock(readings: xr.Dataset, states: xr.Dataset, track: xr.Dataset, *, bank: Bank) -> ClockFinding:
    """Return how fast the log's clock is, with its interval.

    Parameters
    ----------
    readings : xarray.Dataset
        READINGS at their own moments.
    states : xarray.Dataset
        Of ``sky_states``.
    track : xarray.Dataset
        As the glossary has it.
    bank : Bank

    Returns
    -------
    ClockFinding
        ``corrected`` says that the readings should be set back before all else: the error is surely 10 minutes or
        more.
    """
    steps = on_steps(readings, track)
    watts, held = steps["read_controller_power_w"].to_numpy(), held_back(steps, bank)
    time = track["time"].to_numpy().astype("datetime64[ns]")
    at_h = (time - time[0]) / np.timedelta64(1, "h") + step_seconds(track) / 7200.0
    clear_w = np.exp(states_of(states).at(np.zeros(time.size), np.zeros(time.size))[0])
    # a day of the sun at the start's longitude, so that morning and evening are of one day
    begun_h = float((time[0] - time[0].astype("datetime64[D]")) / np.timedelta64(1, "h"))
    day = np.floor((at_h + begun_h + float(track["lon"].to_numpy()[0]) / 15.0) / 24.0)
    likelihood, days = np.zeros(SHIFTS_MIN.size), 0
    known = np.isfinite(watts).any(axis=1)
    lit = np.nansum(watts, axis=1) > SENSE * clear_w.max(axis=0).sum()
    for number in np.unique(day):
        today = known & (day == number)
        if (lit & today).sum() >= LEAST_READ:
            days += 1
            likelihood += _of_day(at_h, clear_w, watts, today, held)
    if not days:
        return ClockFinding(Interval(0.0, *SHIFTS_MIN[[0, -1]].tolist()), False, Note("clock_unknown"))
    weight = np.exp(TEMPER * (likelihood - likelihood.max())) * _prior()
    blur = np.exp(-0.5 * (SHIFTS_MIN[(np.abs(SHIFTS_MIN) < 5.0 * MODEL_MIN)] / MODEL_MIN) ** 2)
    weight = np.convolve(weight, blur, mode="same")
    weight /= weight.sum()
    tail = 0.5 - LEVEL / 2.0
    passed = np.cumsum(weight) - 0.5 * weight  # a shift's weight lies evenly about it
    fast = Interval(*np.interp([0.5, tail, 1.0 - tail], passed, SHIFTS_MIN).tolist())
    small = float(weight[np.abs(SHIFTS_MIN) < TOO_LITTLE[0]].sum())
    corrected = small < TOO_LITTLE[1] and abs(fast.value) >= TOO_LITTLE[0]
    figures = {"days": days, "off_min": abs(fast.value), "fast_min": fast}
    if not corrected:
        return ClockFinding(fast, False, Note("clock_right", figures))
    return ClockFinding(fast, True, Note("clock_fast" if fast.value >= 0.0 else "clock_slow", figures))


def _of_day(at_h: Floats, clear_w: Floats, watts: Floats, today: Bools, held: Bools) -> Floats:
    """Return the logarithm of the likelihood of one day's readings at every shift, (shift,).

    Controllers that a full bank holds back give no more than the sky allows; how much less says nothing.
    """
    read, free = watts[today], ~held[today]
    known = np.isfinite(read)
    floor = (known * SENSE * clear_w.max(axis=0)).sum(axis=1)
    apart_h = np.abs(at_h[today][free][:, None] - at_h[today][free])
    cloud = CLOUD[0] ** 2 * np.exp(-apart_h / CLOUD[1]) + DAY_SD**2
    found = np.empty(SHIFTS_MIN.size)
    for k, shift_min in enumerate(SHIFTS_MIN):
        clear = np.stack([np.interp(at_h[today] - shift_min / 60.0, at_h, each) for each in clear_w.T], axis=1)
        expected = (known * clear).sum(axis=1)
        value = np.log((np.nansum(read, axis=1) + floor) / (expected + floor))
        answers = expected / (expected + floor)  # how much a cloud shows in it
        over = np.maximum(value - OVER[0], 0.0) / OVER[1]
        covariance = np.outer(answers[free], answers[free]) * cloud + READ_SD**2 * np.eye(int(free.sum()))
        off = Figures((value - USUAL_LOG * answers)[free], covariance)
        # a burst or a patch of shade is no proof
        found[k] = -0.5 * (off.value @ off.pulled + np.linalg.slogdet(covariance)[1]) - np.log1p(0.5 * over**2).sum()
    return found


def _prior() -> Floats:
    """Return how likely each shift is before anything is read: right, off by a zone, or anything."""
    bells = [np.exp(-0.5 * ((SHIFTS_MIN - centre) / NEAR_SD_MIN) ** 2) for centre in (0.0, *ZONES_MIN)]
    right, *zones = (bell / bell.sum() for bell in bells)
    anything = (1.0 - RIGHT - WRONG_ZONE) / SHIFTS_MIN.size
    return np.asarray(RIGHT * right + WRONG_ZONE * np.mean(zones, axis=0) + anything, dtype=np.float64)
