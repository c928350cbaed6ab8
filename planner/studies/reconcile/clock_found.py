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
from planner.studies.reconcile.judged_steps import FULL_SOC, UNDER_ABSORPTION_V
from planner.studies.reconcile.sky_states import States, states_of

if TYPE_CHECKING:
    import xarray as xr


# the project's own, tested on made readings
FARTHEST_MIN: Final = 130  # min, either way
EVERY_MIN: Final = 2  # min
THIN_MIN: Final = 10  # min; denser readings are averaged over so long
SENSE: Final = 0.006  # 1, of what the controllers deliver at most: less is as good as dark
CLOUD_SD: Final = 0.5  # 1, of the logarithm of the light under cloud
CLOUD_H: Final = 1.5  # h, over which it forgets itself
DAY_SD: Final = 0.4  # 1, of a day's mean light
USUAL_LOG: Final = -0.35  # 1, logarithm of the usual light over the cloudless
READ_SD: Final = 0.12  # 1, of a reading about the model: shade, aim, burst of cloud
OVER: Final = 0.15  # 1, by which the logarithm may lie over the cloudless sky
OVER_SD: Final = 0.08  # 1, how hard it is to exceed that
LEAST_READ: Final = 12  # readings in a day's light
TEMPER: Final = 0.45  # 1, on the logarithm of the likelihood: the model's errors are not independent
MODEL_MIN: Final = 1.5  # min, standard deviation of what the model itself is off by, however many the days
TOO_LITTLE_MIN: Final = 10.0  # min; a smaller error is left as it is
MAY_BE_SMALL: Final = 0.02  # 1, chance of that with which readings are set back all the same
NEAR_SD_MIN: Final = 4.0  # min, of a clock that is right, or wrong by its zone alone
RIGHT: Final = 0.8  # 1, of clocks that are right before anything is read
WRONG_ZONE: Final = 0.1  # 1, that are off by whole or half hours


def find_clock(
    readings: xr.Dataset, states: xr.Dataset, track: xr.Dataset, *, bank: Bank, absorption_v: float
) -> ClockFinding:
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
    absorption_v : float
        Bank's volts near which controllers hold back [V].

    Returns
    -------
    ClockFinding
        ``corrected`` says that the readings should be set back before all else: the error is surely 10 minutes or
        more.
    """
    free = _free(readings, bank, absorption_v)
    at_h, watts, free_part = _thinned(readings, free, track)
    shifts = np.arange(-FARTHEST_MIN, FARTHEST_MIN + 1, EVERY_MIN)
    by_sun = _solar_day(at_h, track)
    days = [np.flatnonzero(by_sun == number) for number in np.unique(by_sun)]
    likelihood, used = np.zeros(shifts.size), 0
    middle_h, clear_w = _cloudless(states_of(states), track)
    for today in days:
        lit = np.nansum(watts[today], axis=1) > SENSE * clear_w.max(axis=0).sum()
        if lit.sum() < LEAST_READ:
            continue
        used += 1
        held = free_part[today] < 1.0
        likelihood += _of_day(at_h[today], watts[today], shifts / 60.0, held=held, middle_h=middle_h, clear_w=clear_w)
    if not used:
        return ClockFinding(
            Interval(0.0, -float(FARTHEST_MIN), float(FARTHEST_MIN)),
            corrected=False,
            evidence=Note("clock_unknown"),
        )
    prior = _prior(shifts.astype(np.float64))
    weight = np.exp(TEMPER * (likelihood - likelihood.max())) * prior
    weight = _blurred(weight / weight.sum())
    interval = _interval(shifts.astype(np.float64), weight)
    small = float(weight[np.abs(shifts) < TOO_LITTLE_MIN].sum())
    corrected = small < MAY_BE_SMALL and abs(interval.value) >= TOO_LITTLE_MIN
    return ClockFinding(interval, corrected=bool(corrected), evidence=_evidence(interval, corrected, used))


def _free(readings: xr.Dataset, bank: Bank, absorption_v: float) -> Bools:
    """Return which readings a full bank does not hold back."""
    volts, soc = (readings[name].to_numpy() for name in ("read_bank_voltage_v", "read_meter_soc"))
    held = _carried(volts) >= absorption_v - UNDER_ABSORPTION_V * bank.nominal_v / 12.0
    return np.asarray(~(held | (_carried(soc) >= FULL_SOC)))


def _carried(values: Floats) -> Floats:
    """Return values with the last one carried on where nothing was read; 0 before the first."""
    known = np.isfinite(values)
    last = np.maximum.accumulate(np.where(known, np.arange(values.size), -1))
    return np.where(last >= 0, values[np.maximum(last, 0)], 0.0)


def _thinned(readings: xr.Dataset, free: Bools, track: xr.Dataset) -> tuple[Floats, Floats, Floats]:
    """Return moments (reading,) [h since the track began], watts (reading, controller) and the part that is free.

    Each is of ten minutes.
    """
    start = track["time"].to_numpy()[0].astype("datetime64[ns]")
    at_h = (readings["time"].to_numpy().astype("datetime64[ns]") - start) / np.timedelta64(1, "h")
    if readings.attrs.get("covers") == "since the last" and at_h.size > 1:
        since = np.diff(at_h, prepend=at_h[0] - np.median(np.diff(at_h)))
        at_h = at_h - 0.5 * np.minimum(since, THIN_MIN / 60.0 * 2.0)
    watts = readings["read_controller_power_w"].to_numpy()
    good = np.isfinite(watts).any(axis=1)
    at_h, watts, part = at_h[good], watts[good], free[good].astype(np.float64)
    span = np.floor(at_h * 60.0 / THIN_MIN)
    first = np.flatnonzero(np.diff(span, prepend=-np.inf) > 0)
    if not first.size:
        return at_h, watts, part
    count = np.add.reduceat(np.ones(at_h.size), first)
    known = np.add.reduceat(np.isfinite(watts).astype(np.float64), first, axis=0)
    total = np.add.reduceat(np.nan_to_num(watts), first, axis=0)
    mean = np.where(known > 0.0, total / np.maximum(known, 1.0), np.nan)
    return np.add.reduceat(at_h, first) / count, mean, np.add.reduceat(part, first) / count


def _solar_day(at_h: Floats, track: xr.Dataset) -> Floats:
    """Return the day of the sun at the start's longitude, so that morning and evening are of one day."""
    start = track["time"].to_numpy()[0].astype("datetime64[ns]")
    begun_h = float((start - start.astype("datetime64[D]")) / np.timedelta64(1, "h"))
    return np.floor((at_h + begun_h + float(track["lon"].to_numpy()[0]) / 15.0) / 24.0)


def _cloudless(states: States, track: xr.Dataset) -> tuple[Floats, Floats]:
    """Return the middles of the steps [h since the track began] and the controllers' power under no cloud [W]."""
    step_h = step_seconds(track) / 3600.0
    time = track["time"].to_numpy().astype("datetime64[ns]")
    middle = (time - time[0]) / np.timedelta64(1, "h") + 0.5 * step_h
    log_w, _, _ = states.at(np.zeros(time.size), np.zeros(time.size))
    return middle, np.exp(log_w)


def _of_day(
    at_h: Floats, watts: Floats, shifts_h: Floats, *, held: Bools, middle_h: Floats, clear_w: Floats
) -> Floats:
    """Return the logarithm of the likelihood of one day's readings at every shift, (shift,).

    Controllers that a full bank holds back give no more than the sky allows; how much less says nothing.
    """
    from scipy.linalg import solve_triangular

    many = watts.shape[1]
    sense = SENSE * clear_w.max(axis=0)
    known = np.isfinite(watts)
    read = np.where(known, watts, 0.0).sum(axis=1)
    floor = np.where(known, sense, 0.0).sum(axis=1)
    free_h = at_h[~held]
    apart_h = np.abs(free_h[:, None] - free_h[None, :])
    cloud = CLOUD_SD**2 * np.exp(-apart_h / CLOUD_H) + DAY_SD**2
    found = np.empty(shifts_h.size)
    for k, shift in enumerate(shifts_h):
        true_h = at_h - shift
        clear = np.stack([np.interp(true_h, middle_h, clear_w[:, c]) for c in range(many)], axis=1)
        expected = np.where(known, clear, 0.0).sum(axis=1)
        value = np.log((read + floor) / (expected + floor))
        answers = expected / (expected + floor)  # how much a cloud shows in it
        over = np.maximum(value - OVER, 0.0) / OVER_SD
        answers, off = answers[~held], (value - USUAL_LOG * answers)[~held]
        covariance = answers[:, None] * cloud * answers[None, :]
        covariance[np.diag_indices(off.size)] += READ_SD**2
        factor = np.linalg.cholesky(covariance)
        white = solve_triangular(factor, off, lower=True, check_finite=False)
        # a burst or a patch of shade is no proof
        found[k] = -0.5 * white @ white - np.log(np.diag(factor)).sum() - np.log1p(0.5 * over**2).sum()
    return found


def _prior(shifts: Floats) -> Floats:
    """Return how likely each shift is before anything is read: right, off by a zone, or anything."""

    def near(centre: float) -> Floats:
        bell = np.exp(-0.5 * ((shifts - centre) / NEAR_SD_MIN) ** 2)
        return np.asarray(bell / bell.sum(), dtype=np.float64)

    zones = [near(centre) for centre in (-120.0, -60.0, -30.0, 30.0, 60.0, 120.0)]
    anything = (1.0 - RIGHT - WRONG_ZONE) / shifts.size
    return np.asarray(RIGHT * near(0.0) + WRONG_ZONE * np.mean(zones, axis=0) + anything, dtype=np.float64)


def _blurred(weight: Floats) -> Floats:
    """Return what is known of the shift with the model's own error."""
    reach = np.arange(-4, 5) * EVERY_MIN
    bell = np.exp(-0.5 * (reach / MODEL_MIN) ** 2)
    wide = np.convolve(weight, bell / bell.sum(), mode="same")
    return np.asarray(wide / wide.sum(), dtype=np.float64)


def _interval(shifts: Floats, weight: Floats) -> Interval:
    passed = np.cumsum(weight) - 0.5 * weight  # a shift's weight lies evenly about it
    low, middle, high = (
        float(np.interp(part, passed, shifts)) for part in (0.5 - LEVEL / 2.0, 0.5, 0.5 + LEVEL / 2.0)
    )
    return Interval(middle, min(low, middle), max(high, middle))


def _evidence(fast_min: Interval, corrected: bool, days: int) -> Note:
    figures = {"days": days, "off_min": abs(fast_min.value), "fast_min": fast_min}
    if not corrected:
        return Note("clock_right", figures)
    return Note("clock_fast" if fast_min.value >= 0.0 else "clock_slow", figures)
