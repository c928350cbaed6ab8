#!/usr/bin/env python3
"""Fit what a typed sky lets through on the days of two stations, and print how far its words can be trusted.

Usage: ``python scripts/fit_words.py ../shared/data`` (the folder of open data).

A bulletin's word stands for a span, so days are fitted, not hours: a day's light over that of a cloudless day against
its mean cover, each station weighing the same. One is an observer's (pvlib's 12839.tm2, hours flagged as measured),
one a sky imager's (SRRL); pvlib's other files hold modelled light alone, which would be a circle. Halves are odd and
even months of the first, odd and even days of the second. Beside them stand published relations, one for days at sea.
The observer's depths in planner/physics/sky/cloud.py and HAND_AT_ONCE in planner/physics/sky/doubt.py come from here.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
from fit_cloud import Cases, kasten_czeplak, observer, sky_imager
from scipy.optimize import least_squares

from planner.domain.inputs.hand_weather import OKTAS, WORD_OKTAS
from planner.physics.sky.cloud import index_of_observer
from planner.physics.sky.doubt import BRIGHTEST, HAND_AT_ONCE, deviation_at, on_scale, usual_at
from planner.physics.sky.sun import sun_position
from planner.simulation.sky.climate import clearness_at

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

SOLID = 8.0  # exponent of what closed cloud takes besides
WORD_ENDS = (0.5, 2.5, 4.5, 7.5)  # oktas, upper ends of the words'
QUANTILES = np.array([NormalDist().inv_cdf((k + 0.5) / 99.0) for k in range(99)])
TENTHS = slice(9, 90, 80)  # of them, p10 and p90
TRUSTS = (0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8)


@dataclass(frozen=True)
class Days:
    """Measured days of a station.

    Attributes
    ----------
    cover, index : array (n,)
        Mean cover [0..1]; light over that of a cloudless day [1].
    half : array of bool (n,)
        True in one half.
    when : array of datetime64 (n,)
    lat, lon : float
        [degree].
    """

    cover: Floats
    index: Floats
    half: Bools
    when: npt.NDArray[np.datetime64]
    lat: float
    lon: float

    def only(self, keep: Bools) -> Days:
        """Return the days of one half."""
        return Days(self.cover[keep], self.index[keep], self.half[keep], self.when[keep], self.lat, self.lon)

    def words(self, *, next_ones: bool) -> list[Floats]:
        """Return the covers that words for the days stand for: the right word, and beside it one up and one down."""
        said = np.array(list(WORD_OKTAS.values())) / OKTAS
        right = np.searchsorted(WORD_ENDS, self.cover * OKTAS)
        return [said[np.clip(right + step, 0, said.size - 1)] for step in ((0, 0, -1, 1) if next_ones else (0,))]


def stations(folder: Path) -> dict[str, Days]:
    """Return the measured days of both stations."""
    return {
        "12839": _days(observer(), 25.8, -80.267),
        "SRRL": _days(sky_imager(folder, "TotCld (tenths)"), 39.742, -105.179),
    }


def _days(cases: Cases, lat: float, lon: float) -> Days:
    hours = cases.by_day(np.ones(cases.truth.size))
    assert cases.day is not None
    when = cases.by_day(cases.day.astype("datetime64[D]").astype(float)) / hours
    return Days(
        cover=cases.by_day(cases.cover[:, 0]) / hours,
        index=cases.by_day(cases.truth) / cases.by_day(cases.clear),
        half=cases.by_day(cases.half.astype(float)) / hours > 0.5,
        when=when.round().astype(np.int64).astype("datetime64[D]").astype("datetime64[ns]"),
        lat=lat,
        lon=lon,
    )


def passes(p: Floats, cover: Floats) -> Floats:
    """Return what is let through by cloud that takes in proportion to its cover, and more where it is closed."""
    return np.asarray((1.0 - p[0] * cover) * (1.0 - p[1] * cover**SOLID))


def fit(each: Sequence[Days]) -> Floats:
    """Return the two depths of least squares, each station weighing the same."""
    found = least_squares(
        lambda p: np.concatenate([(passes(p, one.cover) - one.index) / np.sqrt(one.index.size) for one in each]),
        [0.3, 0.2],
        bounds=(0.0, 0.98),
    )
    return np.asarray(found.x)


def score(said: Floats, index: Floats) -> tuple[float, float]:
    """Return by how much what was said is too bright, and how it scatters about what came, over its mean [1]."""
    error = said - index
    return float(error.mean() / index.mean()), float(error.std() / index.mean())


def at_sea(days: Days) -> Floats:
    """Return what a published relation for days at sea lets through, by the sun's height at noon.

    Reed 1977, J. Phys. Oceanogr. 7, 482-485: 1 less 0.62 of the cover, more by 0.0019 a degree; never above 1.
    """
    noon = days.when + np.timedelta64(int((12.0 - days.lon / 15.0) * 3600.0), "s")
    _, height = sun_position(noon, np.full(noon.size, days.lat), np.full(noon.size, days.lon))
    return np.minimum(1.0 - 0.62 * days.cover + 0.0019 * height, 1.0)


def trusted(days: Days, p: Floats, trust: float) -> tuple[float, float]:
    """Return the score (CRPS over the mean) of words half of which are one off, and what p10 to p90 hold [1]."""
    usual = usual_at(clearness_at(days.when, np.full(days.when.size, days.lat)))
    spread = float(deviation_at(np.array(trust)))
    scores, held = [], []
    for cover in days.words(next_ones=True):
        middle = usual + trust * (on_scale(passes(p, cover)) - usual)
        outcomes = BRIGHTEST / (1.0 + np.exp(-(middle[:, None] + spread * QUANTILES)))
        weight = (2.0 * np.arange(QUANTILES.size) - QUANTILES.size + 1.0) / QUANTILES.size**2
        scores.append(np.abs(outcomes - days.index[:, None]).mean(axis=1) - outcomes @ weight)
        p10, p90 = outcomes[:, TENTHS].T
        held.append((p10 <= days.index) & (days.index <= p90))
    return float(np.mean(scores) / days.index.mean()), float(np.mean(held))


def report_relations(both: Mapping[str, Days]) -> None:
    """Print each relation's brightness and scatter at each station, those fitted on one half scored on the other."""
    for half in (True, False):
        fitted = {"both stations": list(both.values()), **{f"{name} alone": [days] for name, days in both.items()}}
        found = {name: fit([days.only(days.half == half) for days in each]) for name, each in fitted.items()}
        print(f"\nFitted on the {'odd' if half else 'even'} half, scored on the other: too bright by, and scatter")
        for name, p in found.items():
            print(f"  {name:15} {_scores(both, half, p)}   depths {np.round(p, 3).tolist()}")
        published = {"Kasten-Czeplak": lambda days: kasten_czeplak(days.cover, days.cover[:, None]), "Reed": at_sea}
        for name, relation in {"as planned": lambda days: index_of_observer(days.cover), **published}.items():
            unseen = {station: days.only(days.half != half) for station, days in both.items()}
            row = [_line(station, *score(relation(days), days.index)) for station, days in unseen.items()]
            print(f"  {name:15} {'   '.join(row)}")
    print(f"\nFitted on all days of both: {np.round(fit(list(both.values())), 3).tolist()}")
    for name, days in both.items():
        sea = at_sea(days)
        print(
            _line(
                f"  as planned against days at sea (Reed) under {name}'s cover",
                *score(index_of_observer(days.cover), sea),
            )
        )
        alone = passes(fit([both["12839"]]), days.cover)
        print(_line(f"  12839 alone against the same under {name}'s cover", *score(alone, sea)))


def _scores(both: Mapping[str, Days], half: bool, p: Floats) -> str:
    unseen = {station: days.only(days.half != half) for station, days in both.items()}
    return "   ".join(_line(station, *score(passes(p, days.cover), days.index)) for station, days in unseen.items())


def _line(what: str, bright: float, scatter: float) -> str:
    return f"{what}: {bright:+6.1%} {scatter:5.1%}"


def report_trust(both: Mapping[str, Days]) -> None:
    """Print the score of words at each trust: its constants fitted on one half, scored on the other."""
    for half in (True, False):
        p = fit([days.only(days.half == half) for days in both.values()])
        print(f"\nTrust in words, scored on the {'even' if half else 'odd'} half: CRPS, and days held by p10 to p90")
        for trust in TRUSTS:
            found = {name: trusted(days.only(days.half != half), p, trust) for name, days in both.items()}
            row = "   ".join("{}: {:.4f} {:3.0%}".format(name, *each) for name, each in found.items())
            mean = np.mean(list(found.values()), axis=0)
            mark = " <- as planned" if trust == HAND_AT_ONCE else ""
            print(f"  {trust:4.2f}   {row}   both: {mean[0]:.4f} {mean[1]:3.0%}{mark}")


def main() -> None:
    """Print every table."""
    both = stations(Path(sys.argv[1]))
    for name, days in both.items():
        print(f"{name}: {days.index.size} measured days, {np.count_nonzero(days.half)} in the odd half")
    report_relations(both)
    report_trust(both)


if __name__ == "__main__":
    main()
