"""The log hour by hour: each controller's own part of the expected, with the covariance of all that is not known.

The logarithm of read over modelled is the sky of the step, shared by all and loosely known from the forecast, closely
in hours that look cloudless; the lean of its beam; the controller's level; errors that hours, days and directions of
the sun have in common; and noise. The sky is integrated out step by step, so that with two controllers their ratio is
what is known closely and what they have in common is known as far as the sky is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.linalg import block_diag

from planner.domain.arrays import Bools, Floats, Ints
from planner.studies.reconcile.evidence import Figures
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.shared_sky import LOOSE, USUAL_LEAN, SharedSky, shared_sky
from planner.studies.reconcile.sky.sky_states import States, states_of

if TYPE_CHECKING:
    import xarray as xr

HOUR: Final = np.timedelta64(1, "h")
A_DAY: Final = 24  # hours
BY_NIGHT: Final = 0.7  # 1, clear-sky index where there is no light
INDEX_SPAN: Final = (0.05, 1.1)  # 1, that a forecast's is taken for
DIMMEST: Final = np.log(0.2)  # clear-sky index, logarithm; under a darker sky panels are not judged
# standard deviations of a logarithm, set on made readings unless said otherwise
LIKE: Final = 0.4  # 1, correlation of steps within an hour
OWN_HOUR: Final = 0.004  # 1
OWN_DAY: Final = 0.003  # 1
OWN_SUN: Final = 0.01  # 1, of the model with the sun in one direction, eight times that where all is in shade
SHADE_TIMES: Final = 7.0  # 1
SUN_REACH: Final = np.radians(20.0)  # over which that hangs together
LEVEL: Final = 0.036  # 1, of sound controllers: tolerance, dirt, display, model (common practice)
CLOUDY: Final = (0.3, 0.2)  # 1, of the forecast's index: a day's, the whole log's
CLEAR: Final = (0.05, 0.07, 0.06)  # 1, of the index taken for cloudless: a step's, a day's, the whole log's haze
CLEAR_LOG: Final = -0.08  # 1, usual logarithm of the index in hours that look cloudless
CLEAR_FROM: Final = np.log(0.7)  # index from which a steady hour may be cloudless
STEADY: Final = 0.02  # 1, of the index's logarithm over half an hour of cloudless sky
CLEAR_ELEVATION_DEG: Final = 20.0  # degree
LEAN_COUNTS: Final = 0.1  # 1, of a step of lean beside one of the index, for the nearest made sky
FREE_DAY, FREE_SUN = 0.1, 0.6  # 1, that a fault may take off a day, off a direction of the sun


@dataclass(frozen=True, eq=False)
class Hours:
    """Figures, one a controller and hour under one kind of sky.

    Attributes
    ----------
    figures : Figures
        Logarithm of read over the expected under the sky that is likely beforehand [1].
    controller, hour, day : int array (figure,)
        Which, hour and day from the track's beginning.
    toward : array (figure, 3)
        Unit vector to the sun: ahead, to starboard, up.
    of_step : int array (time,)
        The hour of each step of the track.
    diffuse : array (time,)
        Part of each step's light that is not the beam's [1].
    sky : SharedSky
        That all controllers tell of, each with its own part of the hour taken off.
    """

    figures: Figures
    controller: Ints
    hour: Ints
    day: Ints
    toward: Floats
    of_step: Ints
    diffuse: Floats
    sky: SharedSky


def forecast_log_index(states: xr.Dataset, harvest: xr.Dataset) -> Floats:
    """Return the logarithm of the clear-sky index of the forecast's mean light, (time,) [1]."""
    clear = clear_light(states)
    ghi = harvest["ghi_w_m2"].mean("member").to_numpy()
    index = np.divide(ghi, clear, out=np.full(ghi.shape, BY_NIGHT), where=clear > 1.0)
    return np.asarray(np.log(np.clip(index, *INDEX_SPAN)), dtype=np.float64)


def clear_light(states: xr.Dataset) -> Floats:
    """Return the cloudless sky's global light, (time,) [W/m2]."""
    at = int(np.flatnonzero(np.isclose(states["clear_index"].to_numpy(), 1.0))[0])
    return np.asarray(states["ghi_w_m2"].to_numpy()[at], dtype=np.float64)


def hours_of(states: xr.Dataset, judged: Judged, time: Floats, prior: Floats) -> Hours:
    """Return each controller's own part of the expected, hour by hour.

    Parameters
    ----------
    states : xarray.Dataset
        Of ``sky_states``.
    judged : Judged
    time : array of datetime64 (time,)
        Starts of the steps, UTC.
    prior : array (time,)
        Of ``forecast_log_index``.
    """
    hour = ((time - time[0]) // HOUR).astype(np.int64)
    sky = _sky(states_of(states), judged, hour, prior)
    clear = _cloudless(sky, judged, hour // A_DAY)
    taken = judged.fair & (sky.log_index > DIMMEST)[:, None]
    loose = np.where(clear, CLEAR[0], LOOSE)
    usual = np.where(clear, CLEAR_LOG, prior)
    off = np.where(taken, sky.apart, 0.0) + (sky.log_index - usual)[:, None]
    off += sky.by_lean * (sky.lean - USUAL_LEAN[0])[:, None]
    spread = loose[:, None, None] ** 2 + USUAL_LEAN[1] ** 2 * sky.by_lean[:, :, None] * sky.by_lean[:, None, :]
    many = np.arange(taken.shape[1])
    spread[:, many, many] += np.where(taken, sky.variance, 1e6)
    weight = np.linalg.inv(spread)
    kind = np.where(taken.any(axis=1), 2 * hour + clear, -1)
    rows: list[tuple[float, ...]] = []
    blocks = []
    for number in np.unique(kind[kind >= 0]):
        here = kind == number
        count = taken[here].sum(axis=0)
        own = np.flatnonzero(count)
        covariance = np.linalg.inv(weight[here].sum(axis=0))
        mean = covariance @ np.einsum("tce,te->c", weight[here], off[here])
        blocks.append(covariance[np.ix_(own, own)] * (1.0 + LIKE * (count.max() - 1)))
        toward = judged.toward[here].mean(axis=0)
        toward /= np.linalg.norm(toward)
        rows += [(mean[c], float(c), float(number), *toward, judged.lit[here & taken[:, c], c].mean()) for c in own]
    table = np.array(rows).reshape(-1, 7)
    controller, number = table[:, 1].astype(np.int64), table[:, 2].astype(np.int64)
    found = Hours(
        Figures(table[:, 0], block_diag(*blocks) if blocks else np.zeros((0, 0))),
        controller,
        number // 2,
        number // 2 // A_DAY,
        table[:, 3:6],
        hour,
        _diffuse(states, sky),
        sky,
    )
    return _with_errors(found, number % 2 == 1, OWN_SUN * (1.0 + SHADE_TIMES * (1.0 - table[:, 6])))


def _with_errors(hours: Hours, clear: Bools, own_sun: Floats) -> Hours:
    """Return hours with what errs in common, and those tamed that lie far off."""
    same = hours.controller[:, None] == hours.controller
    day = hours.day[:, None] == hours.day
    near = np.exp((hours.toward @ hours.toward.T - 1.0) / SUN_REACH**2)
    cloudy, whole = CLOUDY[0] ** 2 * day + CLOUDY[1] ** 2, CLEAR[1] ** 2 * day + CLEAR[2] ** 2
    covariance = hours.figures.covariance + np.where(clear, whole, cloudy) * (clear[:, None] == clear)
    own = OWN_HOUR**2 * np.eye(clear.size) + OWN_DAY**2 * day + np.outer(own_sun, own_sun) * near + LEVEL**2
    figures = Figures(hours.figures.value, covariance + same * own)
    free = same * (FREE_DAY**2 * day + FREE_SUN**2 * near)
    return replace(hours, figures=figures.tamed(free))


def _diffuse(states: xr.Dataset, sky: SharedSky) -> Floats:
    """Return the part of the light that is not the beam's under the sky that was found, (time,) [1]."""
    index, lean = states["clear_index"].to_numpy(), states["beam_lean"].to_numpy()
    share = (states["dhi_w_m2"] / states["ghi_w_m2"].where(states["ghi_w_m2"] > 0.0)).to_numpy()
    away = np.abs(index[:, None] - np.exp(sky.log_index)) + LEAN_COUNTS * np.abs(lean[:, None] - sky.lean)
    return np.asarray(np.nan_to_num(share[away.argmin(axis=0), np.arange(sky.lean.size)], nan=1.0), dtype=np.float64)


def _sky(states: States, judged: Judged, hour: Ints, prior: Floats) -> SharedSky:
    """Return the sky with what each controller has of its own in an hour taken off: a fault is no outlier."""
    own = np.zeros_like(judged.log_w)
    for _ in range(2):
        apart = np.where(judged.fair, shared_sky(states, judged, own=own, prior=prior).apart, np.nan)
        for number in np.unique(hour[judged.fair.any(axis=1)]):
            here = hour == number
            kept = np.isfinite(apart[here]).any(axis=0)
            middle = np.nanmedian(apart[here][:, kept], axis=0)
            own[np.ix_(here, kept)] = middle - middle.mean()
    return shared_sky(states, judged, own=own, prior=prior)


def _cloudless(sky: SharedSky, judged: Judged, day: Ints) -> Bools:
    """Return the steps that look cloudless: steady, bright, and among the brightest of their day."""
    good = judged.fair.any(axis=1) & (judged.elevation_deg > CLEAR_ELEVATION_DEG) & (sky.log_index > CLEAR_FROM)
    index = np.where(good, sky.log_index, np.nan)
    around = np.stack([index[:-2], index[1:-1], index[2:]])
    steady = np.pad(around.std(axis=0) < STEADY, 1)  # NaN compares false
    clear = np.zeros(day.size, dtype=np.bool_)
    for number in np.unique(day[steady]):
        today = steady & (day == number)
        clear |= today & (sky.log_index > np.quantile(sky.log_index[today], 0.85) - CLEAR[0])
    return clear
