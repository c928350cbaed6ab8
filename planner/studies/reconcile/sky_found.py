"""What the sky really was: the light that all panels together show, against the forecast's."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.given import SeenSky
from planner.domain.results.note import Note
from planner.domain.results.reconcile.findings import Interval, SkyDay, SkyFinding
from planner.domain.utc import to_numpy
from planner.physics.sky.doubt import BRIGHTEST, EDGE, deviation_at, lasting_error, off_scale, on_scale, run_trust
from planner.studies.reconcile.evidence import times
from planner.studies.reconcile.hours import A_DAY, HOUR, clear_light
from planner.studies.reconcile.panels_found import Held

if TYPE_CHECKING:
    import xarray as xr


Moment = np.datetime64
LARGEST_SD: Final = 0.3  # 1, standard deviation of a step's logarithm beyond which the panels do not tell
STEP_LIKE: Final = 0.3  # 1, correlation of steps' errors within a day; the project's own
CLEAR_LIGHT_SD: Final = 0.03  # 1, of the light that a sound panel's power stands for, all day long


@dataclass(frozen=True)
class Seen:
    """What the panels showed of the forecast's light.

    Attributes
    ----------
    sky : SeenSky
        What of it is expected to last.
    of_forecast, expected : float
        Light found over forecast, and what is expected as it begins, at the usual index of these days [1].
    days : int
        On which it was seen.
    """

    sky: SeenSky
    of_forecast: float
    expected: float
    days: int


def find_sky(held: Held, states: xr.Dataset, harvest: xr.Dataset) -> SkyFinding:
    """Return the light found, day by day and in all.

    Parameters
    ----------
    held : Held
        Readings compared with the model.
    states : xarray.Dataset
        Of ``sky_states``.
    harvest : xarray.Dataset
        The forecast's own.

    Returns
    -------
    SkyFinding
        Of steps in which some controller showed the sky: by day, not at its limit, not held back by a full bank.
    """
    sky, step_h = held.sky, held.judged.step_h
    clear = clear_light(states)
    seen = (sky.controllers_used > 0) & (sky.log_index_sd < LARGEST_SD)
    found = np.where(seen, clear * np.exp(sky.log_index), 0.0)
    forecast = harvest["ghi_w_m2"].to_numpy()
    standing = float(np.hypot(held.common_sd, CLEAR_LIGHT_SD))
    day = held.hours.of_step // A_DAY + 1
    days = []
    for number in np.unique(day[seen]):
        here = seen & (day == number)
        own = _day_sd(found[here], sky.log_index_sd[here])
        total = float(found[here].sum() * step_h)
        outcomes = forecast[:, here].sum(axis=1) * step_h
        days.append(
            SkyDay(
                day=int(number),
                found_wh_m2=times(np.log(total), float(np.hypot(own, standing))),
                forecast_wh_m2=(
                    float(np.quantile(outcomes, 0.1)),
                    float(np.quantile(outcomes, 0.5)),
                    float(np.quantile(outcomes, 0.9)),
                ),
            )
        )
    expected = float(forecast.mean(axis=0)[seen].sum() * step_h)
    total = float(found.sum() * step_h)
    if expected <= 0.0:
        return SkyFinding((), Interval(1.0, 0.0, np.inf), Note("sky_unknown"))
    of_forecast = times(
        np.log(total / expected), float(np.hypot(standing, _day_sd(found[seen], sky.log_index_sd[seen])))
    )
    return SkyFinding(tuple(days), of_forecast, _evidence(tuple(days), of_forecast, float(seen.sum() * step_h)))


def seen_sky(held: Held, states: xr.Dataset, harvest: xr.Dataset, *, issued: Moment, until: datetime) -> Seen | None:
    """Return what the panels let expect of the forecast's light from a moment on; None where they showed none of it.

    Its error is taken day by day from the steps that the forecast itself covers, and expected to last as long as its
    errors do.

    Parameters
    ----------
    held, states, harvest
        As for ``find_sky``.
    issued : datetime64
        When the forecast began, UTC.
    until : datetime
        Up to which readings count; with its offset.
    """
    sky, clear = held.sky, clear_light(states)
    told = (sky.controllers_used > 0) & (sky.log_index_sd < LARGEST_SD) & (held.time < to_numpy(until))
    told &= harvest["beyond_forecast"].to_numpy() == 0
    forecast, found = harvest["ghi_w_m2"].to_numpy().mean(axis=0), clear * np.exp(sky.log_index)
    standing = float(np.hypot(held.common_sd, CLEAR_LIGHT_SD))
    rows = []
    for number in np.unique(held.hours.of_step[told] // A_DAY):
        here = told & (held.hours.of_step // A_DAY == number)
        whole, expected = float(clear[here].sum()), float(forecast[here].sum())
        index = np.array([float(found[here].sum()), expected]) / whole
        scaled = on_scale(index)
        steepness = BRIGHTEST / (BRIGHTEST - min(float(index[0]), BRIGHTEST - EDGE))
        middle = held.time[here][int(np.searchsorted(np.cumsum(clear[here]), whole / 2.0))]
        rows.append(
            (
                scaled[0] - scaled[1],
                (to_numpy(until) - middle) / HOUR,
                float(deviation_at(run_trust(np.array((middle - issued) / HOUR)))),
                steepness * _day_sd(found[here], sky.log_index_sd[here]),
                steepness * standing,
                index[1],
            )
        )
    if not rows:
        return None
    off, ago_h, deviation, noise, together, index = (np.array(column) for column in zip(*rows, strict=True))
    error = lasting_error(
        off, ago_h=ago_h, deviation=deviation, noise=noise, in_common=float(together.mean() / deviation.mean())
    )
    usual = float(index.mean())
    return Seen(
        sky=SeenSky(until.astimezone(UTC), error),
        of_forecast=float(found[told].sum() / forecast[told].sum()),
        expected=float(off_scale(on_scale(np.array(usual)) + error) / usual),
        days=len(rows),
    )


def _day_sd(found: Floats, deviation: Floats) -> float:
    """Return the relative standard deviation of a sum of light whose steps err partly together."""
    err = found * deviation
    apart, together = float(err @ err), float(err.sum()) ** 2
    return float(np.sqrt((1.0 - STEP_LIKE) * apart + STEP_LIKE * together) / max(float(found.sum()), 1e-9))


def _evidence(days: tuple[SkyDay, ...], of_forecast: Interval, hours: float) -> Note:
    darker = sum(one.found_wh_m2.value < one.forecast_wh_m2[0] for one in days)
    brighter = sum(one.found_wh_m2.value > one.forecast_wh_m2[2] for one in days)
    beyond = Note("days_beyond" if darker or brighter else "no_days_beyond", {"darker": darker, "brighter": brighter})
    return Note("sky_found", {"hours": hours, "of_forecast": of_forecast, "days": len(days), "beyond": beyond})
