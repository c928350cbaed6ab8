"""Which kind a file's sunlight is, where its words leave that open: by the clear sky of the place and by continuity.

Under each reading the light is some part of a cloudless sky's, span by span. A wrong one puts light where none can
be, or makes the sky jump from span to span with the sun, every day and everywhere. Days, members and files speak
together; of readings that give the same energy by the day either serves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Times
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.sunlight.flux import HOUR, Flux, Reading, Values, read_as

SAMPLES: Final = 12  # moments within a span at which the sun is taken
MOST_OF_CLEAR: Final = 1.2  # 1, of a cloudless sky's light; on heights it is a tenth more, and cloud edges add
ROUNDING_W_M2: Final = 12.0  # W/m2, packing of differences of means
MOST_IMPOSSIBLE: Final = 0.01  # 1, part of all light that may stand where none can be; more rules a reading out
LIT_W_M2: Final = 40.0  # W/m2, cloudless light of a span below which its part of it says nothing
SAME_ENERGY: Final = 0.02  # 1, of a day's: readings so near each other serve as well
LESS_IMPOSSIBLE: Final = 0.002  # 1, by so much less, and a reading is not ruled out for its jumps: packing makes some
SURE: Final = 0.999  # 1, how surely the best must be smoother than those of other energy, by its days (Student's t)
BETTER: Final = 0.15  # 1, part by which it must be so, too
MOST_POLAR_DEG: Final = 66.0  # degree, beyond which no place is looked at where there are others
MOST_MEMBERS: Final = 50  # that are looked at
AFRESH: Final = "since the forecast was last so many whole hours old"
MEANING: Final = {
    "at its time": "as bright as it is at that moment",
    "over the step": "the mean or sum since the value before",
    "since the start": "the mean or sum since the forecast began",
}
"""What a reading means to a crew."""


@dataclass(frozen=True, eq=False)
class Given:
    """A file's sunlight as it stands there.

    Attributes
    ----------
    values : array (member, time, lat, lon)
        W/m2, or J/m2 where they are sums.
    time : array of datetime64 (time,)
        UTC, rising.
    lat, lon : array
        [degree].
    begun : datetime64
        Start of the forecast.
    """

    values: Values
    time: Times
    lat: Floats
    lon: Floats
    begun: np.datetime64

    def at_some_places(self) -> Given:
        """Return nine places of its grid, and not too many members."""
        rows, columns = _some_rows(self.lat), _some(self.lon)
        values = self.values[:MOST_MEMBERS][:, :, rows][:, :, :, columns]
        return Given(values, self.time, self.lat[rows], self.lon[columns], self.begun)


@dataclass(frozen=True, eq=False)
class OpenLight:
    """Sunlight that can be read in several ways.

    Attributes
    ----------
    readings : tuple of Reading
        That are left, the best first.
    given : tuple of Given
        By which they were judged.
    """

    readings: tuple[Reading, ...]
    given: tuple[Given, ...]


class UndecidedLightError(InputError):
    """The refusal of sunlight that can be read in several ways with other energies by the day."""

    def __init__(self, where: str, name: str, light: OpenLight) -> None:
        self.light, best = light, light.readings[0].given
        listed = "; or ".join(f'"{one.given}": {MEANING.get(one.given, AFRESH)}' for one in light.readings)
        problem = (
            f"nothing says what each value of its sunlight is, and a day's energy hangs on it. It may be {listed}."
        )
        remedy = f'See what the provider says, and write it in the passage file: sunlight_given = "{best}".'
        super().__init__([Fault(where, name, problem, remedy)])


def no_reading(where: str, name: str, words: str) -> InputError:
    """Return the refusal of sunlight that no usual reading brings under the sun."""
    problem = f"no usual reading of its {words} (values at their times, means or sums over spans) fits the sun."
    return InputError([Fault(where, name, problem, "Look at its units, times and the longitudes of the grid.")])


@dataclass(frozen=True, eq=False)
class _Fit:
    """How a reading suits the sun.

    Attributes
    ----------
    reading : Reading
    impossible : float
        Part of all light that stands where none can be [1].
    jumps : array (day,)
        Mean square of the changes of the part of a cloudless sky from span to span; one sky's members count once [1].
    energy : array (case,)
        Light of whole days and of each member, summed over the places [Wh/m2].
    """

    reading: Reading
    impossible: float
    jumps: Floats
    energy: Floats


def settle(candidates: Iterable[Reading], given: Sequence[Given]) -> list[Reading]:
    """Return the readings of sunlight that are left: one where it is clear, or where the others serve as well.

    Parameters
    ----------
    candidates : iterable of Reading
    given : sequence of Given
        The same variable of one file or several.

    Returns
    -------
    list of Reading
        The best first; none where no reading suits the sun.
    """
    some = [one.at_some_places() for one in given]
    fits = [fit for fit in (_fit(reading, some) for reading in candidates) if fit.impossible <= MOST_IMPOSSIBLE]
    if not fits:
        return []
    fits.sort(key=lambda fit: float(np.nanmean(fit.jumps)) if np.isfinite(fit.jumps).any() else np.inf)
    best, others = fits[0], fits[1:]
    return [best.reading, *(fit.reading for fit in others if not _same(best, fit) and not _worse(best, fit))]


def impossible_part(flux: Flux, lat: Floats, lon: Floats) -> float:
    """Return the part of all light that stands where none, or less, can be, at nine places.

    Parameters
    ----------
    flux : Flux
        Sunlight [W/m2].
    lat, lon : array
        Of its grid [degree].
    """
    rows, columns = _some_rows(lat), _some(lon)
    values = flux.values[:MOST_MEMBERS][:, :, rows][:, :, :, columns]
    return _impossible(values.astype(np.float64), _clear_mean(flux, lat[rows], lon[columns]))


def same_by_day(one: Reading, other: Reading, given: Given) -> bool:
    """Tell whether two readings of a file's sunlight give the same energy by the day."""
    some = given.at_some_places()
    return _same(_fit_one(one, some), _fit_one(other, some))


def _same(best: _Fit, other: _Fit) -> bool:
    """Tell whether two readings give the same energy by the day."""
    known = np.isfinite(best.energy) & np.isfinite(other.energy)
    if not known.any():
        return False
    apart = np.abs(best.energy[known] - other.energy[known]).mean()
    return bool(apart <= SAME_ENERGY * best.energy[known].mean())


def _worse(best: _Fit, other: _Fit) -> bool:
    """Tell whether the sky jumps surely more under another reading than under the best."""
    from scipy.stats import t as student

    # a mean over a longer time is smoother, whatever the sky: what is longer must put light where none can be
    longer = (other.reading.restart_h or 0.0) > (best.reading.restart_h or 0.0)
    if other.impossible < best.impossible - LESS_IMPOSSIBLE or (longer and other.impossible < LESS_IMPOSSIBLE):
        return False
    more = other.jumps - best.jumps
    more = more[np.isfinite(more)]
    if more.size < 2:
        return False
    least = float(student.ppf(SURE, more.size - 1)) * more.std(ddof=1) / np.sqrt(more.size)
    return bool(more.mean() > max(least, BETTER * float(np.nanmean(best.jumps))))


def _fit(reading: Reading, given: Sequence[Given]) -> _Fit:
    fits = [_fit_one(reading, one) for one in given]
    days = np.full((len(fits), max(fit.jumps.size for fit in fits)), np.nan)
    for row, fit in zip(days, fits, strict=True):
        row[: fit.jumps.size] = fit.jumps
    known = np.isfinite(days)
    return _Fit(
        reading,
        float(np.mean([fit.impossible for fit in fits])),
        np.where(known.any(axis=0), np.nansum(days, axis=0) / np.maximum(known.sum(axis=0), 1), np.nan),
        np.concatenate([fit.energy for fit in fits]),
    )


def _fit_one(reading: Reading, given: Given) -> _Fit:
    flux = read_as(reading, given.values, given.time, given.begun)
    if not flux.end.size:
        return _Fit(reading, np.inf, np.array([]), np.array([]))
    values, clear = flux.values.astype(np.float64), _clear_mean(flux, given.lat, given.lon)
    part = np.where(clear >= LIT_W_M2, values / np.maximum(clear, LIT_W_M2), np.nan)
    day, count = _days(flux.start + (flux.end - flux.start) // 2, given)
    weight = np.minimum(clear[1:], clear[:-1]) * (day[1:] == day[:-1])[:, None, None]
    jump = np.diff(part, axis=1) ** 2
    weights = np.where(np.isfinite(jump), weight, 0.0)
    squares = np.nan_to_num(jump) * weights
    jumps, lit = (_by_day(each.sum(axis=(2, 3)), day[1:], count).sum(axis=0) for each in (squares, weights))
    means = flux
    if reading.restart_h is None and flux.end.size > 1:
        means = _between(np.nan_to_num(part), flux, given)
        day, _ = _days(means.start + (means.end - means.start) // 2, given)
    energy = means.values * ((means.end - means.start) / HOUR)[:, None, None]
    of_day = _by_day(energy.sum(axis=(2, 3)), day, count)
    whole = of_day[:, 2:-2] if count > 4 else of_day.sum(axis=1, keepdims=True)  # days of which no span is cut off
    return _Fit(
        reading,
        _impossible(values, clear),
        np.where(lit > 0.0, jumps / np.where(lit > 0.0, lit, 1.0), np.nan),
        whole.ravel(),
    )


def _days(moments: Times, given: Given) -> tuple[npt.NDArray[np.int64], int]:
    """Return the day by the sun of moments, counted from the day before the first value's, and how many there are."""
    shift = np.timedelta64(round(240.0 * float((given.lon.mean() + 180.0) % 360.0 - 180.0)), "s")
    first, last = ((edge + shift).astype("datetime64[D]").astype(np.int64) for edge in given.time[[0, -1]])
    day = (moments + shift).astype("datetime64[D]").astype(np.int64) - (int(first) - 1)
    count = int(last) - int(first) + 3
    return np.clip(day, 0, count - 1), count


def _by_day(values: Floats, day: npt.NDArray[np.int64], count: int) -> Floats:
    """Return sums over days, (member, count), of values, (member, n)."""
    return np.array([np.bincount(day, weights=row, minlength=count) for row in values])


def _between(part: Floats, flux: Flux, given: Given) -> Flux:
    """Return means between moments of a cloudless sky's light times its part, drawn straight from one to the next."""
    share = (np.arange(SAMPLES) + 0.5) / SAMPLES
    spans = Flux(flux.end[:-1], flux.end[1:], flux.values[:, 1:])
    clear = clear_light(_moments(spans, share), given.lat, given.lon)
    on = share[:, None, None]
    drawn = part[:, :-1, None] * (1.0 - on) + part[:, 1:, None] * on
    return Flux(spans.start, spans.end, (drawn * clear).mean(axis=2))


def _moments(flux: Flux, share: Floats) -> Times:
    """Return moments within spans, (n, sample)."""
    seconds = (flux.end - flux.start).astype("timedelta64[s]").astype(np.int64)
    moments: Times = flux.start[:, None] + np.round(seconds[:, None] * share).astype("timedelta64[s]")
    return moments


def _clear_mean(flux: Flux, lat: Floats, lon: Floats) -> Floats:
    """Return a cloudless sky's light over spans, (n, lat, lon) [W/m2]."""
    mean: Floats = clear_light(_moments(flux, (np.arange(SAMPLES) + 0.5) / SAMPLES), lat, lon).mean(axis=1)
    return mean


def _impossible(values: Floats, clear: Floats) -> float:
    """Return the part of all light that stands where none, or less, can be."""
    excess = np.maximum(values - MOST_OF_CLEAR * clear - ROUNDING_W_M2, 0.0) + np.maximum(
        -values - ROUNDING_W_M2, 0.0
    )
    return float(np.nansum(excess) / max(float(np.nansum(np.abs(values))), 1e-9))


def _some_rows(lat: Floats) -> npt.NDArray[np.int64]:
    """Return some rows of a grid off the poles: over ice on heights a cloudless sky is brighter by more than that."""
    sailed = np.flatnonzero(np.abs(lat) <= MOST_POLAR_DEG)
    return sailed[_some(sailed)] if sailed.size else _some(lat)


def _some(axis: npt.NDArray[np.generic]) -> npt.NDArray[np.int64]:
    """Return both ends of an axis and its middle."""
    return np.unique(np.linspace(0, axis.size - 1, 3).round().astype(np.int64))


def clear_light(time: Times, lat: Floats, lon: Floats) -> Floats:
    """Return a cloudless sky's light on the level by the sun's height alone (no equation of the year's ellipse).

    Parameters
    ----------
    time : array of datetime64 (...)
        UTC.
    lat, lon : array (y,), (x,)
        [degree].

    Returns
    -------
    array (..., y, x)
        [W/m2].

    References
    ----------
    Haurwitz (1945), Insolation in relation to cloudiness and cloud density, J. Meteorology 2, 154-166, and Spencer
    (1971), Fourier series representation of the position of the sun, Search 2(5), 172, both as pvlib has them.
    """
    from pvlib.solarposition import declination_spencer71, equation_of_time_spencer71

    day = (time.astype("datetime64[D]") - time.astype("datetime64[Y]")).astype(np.int64) + 1
    minutes = (time - time.astype("datetime64[D]")) / np.timedelta64(60, "s") + equation_of_time_spencer71(day)
    hour_angle = np.radians(minutes[..., None] / 4.0 - 180.0 + lon)
    declination = declination_spencer71(day)[..., None, None]
    north = np.radians(lat)[:, None]
    height = np.sin(north) * np.sin(declination) + np.cos(north) * np.cos(declination) * np.cos(
        hour_angle[..., None, :]
    )
    above = np.maximum(height, 1e-3)
    return np.where(height > 0.0, 1098.0 * above * np.exp(-0.057 / above), 0.0)
