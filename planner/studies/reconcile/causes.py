"""Named causes of what a controller lacks, and the search for those that the log calls for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final, Literal

import numpy as np

from planner.domain.arrays import Bools, Floats, Ints
from planner.studies.reconcile.evidence import NEVER, NOTHING, Figures, log_odds, onsets
from planner.studies.reconcile.hours import Hours
from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.sky.sky_states import Dark

CauseName = Literal["weak", "gained", "substring out", "panel dark", "shaded"]

USUAL: Final[dict[CauseName, tuple[float, float, float]]] = {
    # share of controllers' changes; usual size and spread as logarithms; the project's own
    "weak": (0.45, -0.15, 0.15),
    "gained": (0.03, 0.1, 0.1),
    "substring out": (0.2, 1.0, 0.05),  # its spread is a logarithm about what the model gives
    "panel dark": (0.15, 1.0, 0.05),
    "shaded": (0.03, 1.2, 0.4),  # of the depth that the beam's loss would have
}
FROM_FIRST: Final = 0.3  # 1, of causes that were there before the log
LEAST_HOURS: Final = 3  # on either side of a beginning
SURE: Final = 5.0  # 1, log odds from which a cause is taken in; set on made readings
WIDE: Final = 1.0  # 1, standard deviation of a size that was taken in
SECTORS: Final = (10.0, (40.0, 70.0, 100.0), (30.0, 60.0, 90.0))  # degree: starts every, widths, heights under
MOST_OF: Final = 0.6  # 1, of the hours that a shadow may cover
ODD_DAYS: Final = 2  # that may show a shadow from the first reading on: shade is what the model knows least
SHALLOWEST: Final = 0.4  # 1, of the depth, under which it is none
MATTERS: Final = 0.05  # 1, a logarithm, that a dark part must take


@dataclass(frozen=True, eq=False)
class Found:
    """A cause that the log calls for.

    Attributes
    ----------
    controller : int
    name : str
        Likeliest of ``CauseName``.
    panel : str
        For a substring or a panel.
    begins_hour : int or None
        From the track's beginning; None where it was there from the first reading.
    column : array (figure,)
        Its shape.
    by_step : array (time,)
        The same over the track's steps.
    sector : tuple of float
        Of a shadow: first bearing from the bow, last, and the height under which the sun stands [degree]; else empty.
    odds : float
        Logarithm of its odds against none [1].
    named : dict of str to float
        Log odds against none of every cause that may be at this controller, "none" among them [1].
    """

    controller: int
    name: CauseName
    panel: str
    begins_hour: int | None
    column: Floats
    by_step: Floats
    sector: tuple[float, ...]
    odds: float
    named: dict[str, float]


@dataclass(frozen=True, eq=False)
class _Columns:
    """Causes that may be at a controller; shapes are (time, cause), shares are logarithms."""

    name: tuple[CauseName, ...]
    panel: tuple[str, ...]
    sector: tuple[tuple[float, ...], ...]
    by_step: Floats
    usual: Floats
    spread: Floats
    share: Floats


def search(
    hours: Hours, judged: Judged, darks: Sequence[tuple[Dark, ...]]
) -> tuple[Figures, list[Found], list[Found]]:
    """Return the figures with every cause that they call for taken in, those causes, and the likeliest of the rest.

    Parameters
    ----------
    hours : Hours
    judged : Judged
    darks : sequence of tuple of Dark
        Of each controller.
    """
    figures, found = hours.figures, list[Found]()
    columns = [_columns(judged, c, darks[c], hours.diffuse) for c in range(len(darks))]
    while True:
        known = {one.controller for one in found}
        tried = (_best(figures, hours, judged, columns[c], c) for c in range(len(darks)) if c not in known)
        rest = [one for one in tried if one is not None]
        best = max(rest, key=lambda one: one.odds, default=None)
        if best is None or best.odds < SURE:
            return figures, found, rest
        found.append(best)
        figures = figures.given(best.column, WIDE)


def _columns(judged: Judged, c: int, darks: tuple[Dark, ...], diffuse: Floats) -> _Columns:
    """Return the causes that may be at a controller."""
    fair, steps = judged.fair[:, c], judged.elevation_deg.size
    rows: list[tuple[CauseName, str, tuple[float, ...], Floats, float, float, float]] = []

    def add(
        name: CauseName,
        panel: str,
        shape: Floats,
        among: int,
        *,
        usual: float | None = None,
        at: tuple[float, ...] = (),
    ) -> None:
        share, mean, spread = USUAL[name]
        rows.append((name, panel, at, shape, mean if usual is None else usual, spread, share / among))

    even = np.ones(steps)
    add("weak", "", even, 1)
    add("gained", "", even, 1)
    for dark in darks:
        taken = dark.log_ratio[fair & np.isfinite(dark.log_ratio)]
        if taken.size and np.median(taken) < -MATTERS:
            name: CauseName = "panel dark" if dark.part == "panel" else "substring out"
            add(name, dark.panel, even, len(darks), usual=float(np.median(taken)))
    whole = [np.exp(np.nan_to_num(dark.log_ratio)) for dark in darks if dark.part == "panel"] or [np.zeros(steps)]
    sectors = _sectors(judged, fair)
    for left in whole:
        depth = np.log(left + (1.0 - left) * diffuse)
        for at, inside in sectors.items():
            add("shaded", "", depth * inside, len(sectors) * len(whole), at=at)
    names, panels, places, shapes, usuals, spreads, shares = zip(*rows, strict=True)
    by_step = np.stack(shapes, axis=1)
    return _Columns(names, panels, places, by_step, np.array(usuals), np.array(spreads), np.log(shares))


def _sectors(judged: Judged, fair: Bools) -> dict[tuple[float, ...], Bools]:
    """Return the parts of the sky that a shadow may cover, each as the steps (time,) in which the sun is there."""
    ahead, starboard, up = judged.toward.T
    bearing, height = np.degrees(np.arctan2(starboard, ahead)) % 360.0, np.degrees(np.arcsin(up))
    every, widths, tops = SECTORS
    found: dict[bytes, tuple[tuple[float, ...], Bools]] = {}
    for first, width, top in product(np.arange(0.0, 360.0, every).tolist(), widths, tops):
        inside = ((bearing - first) % 360.0 <= width) & (height < top)
        if 0 < inside[fair].sum() <= MOST_OF * fair.sum():
            found.setdefault(inside[fair].tobytes(), ((first, (first + width) % 360.0, top), inside))
    return dict(found.values())


def _best(figures: Figures, hours: Hours, judged: Judged, columns: _Columns, c: int) -> Found | None:
    """Return the likeliest cause at a controller, None where it was hardly read."""
    own = np.flatnonzero(hours.controller == c)
    if own.size < 2 * LEAST_HOURS:
        return None
    shapes = _by_hour(columns.by_step[judged.fair[:, c]], hours.of_step[judged.fair[:, c]], hours.hour[own])
    names = np.array(columns.name)
    starts = np.array([0, *range(LEAST_HOURS, own.size - LEAST_HOURS + 1)])
    new_day = np.diff(hours.day[own], prepend=-1)[starts] > 0
    score, information = np.zeros((starts.size, names.size)), np.full((starts.size, names.size), NOTHING)
    for kind, at in ((names != "shaded", np.ones_like(new_day)), (names == "shaded", new_day)):
        rows = np.ix_(at, kind)
        score[rows], information[rows] = onsets(figures, own, shapes[:, kind], starts[at])
    # what fits worse than it should, with the likeliest cause taken off, tells less
    left = float(figures.value @ figures.pulled) - float((score**2 / information).max())
    over = max(left / figures.value.size, 1.0)
    size, score, information = score / information, score / over, information / over
    prior = (
        columns.share
        + np.log(np.where(starts == 0, FROM_FIRST, (1.0 - FROM_FIRST) / max(starts.size - 1, 1)))[:, None]
    )
    odds = log_odds(score, information, columns.usual, columns.spread)
    odds[
        ((names == "shaded") & (size < SHALLOWEST))
        | ((names == "weak") & (size > 0.0))
        | ((names == "gained") & (size < 0.0))
    ] = NEVER
    best: Found | None = None
    totals = {"none": 0.0}
    for name in dict.fromkeys(columns.name):
        row, column = np.unravel_index(np.argmax(np.where(names == name, odds + prior, 2.0 * NEVER)), odds.shape)
        start = int(starts[row])
        shape = np.zeros(figures.value.size)
        shape[own[start:]] = shapes[start:, column]
        # one odd hour makes no change, one odd day no shadow, and two none that was there before
        group = np.where(np.isin(np.arange(shape.size), own), hours.day if name == "shaded" else hours.hour, -1)
        telling = np.bincount(group[own], weights=shape[own] * figures.pulled[own] * np.sign(size[row, column]))
        usual, spread = columns.usual[column], columns.spread[column]
        odd = telling.argsort()[-ODD_DAYS if name == "shaded" and start == 0 else -1 :]
        scored, told = figures.without(shape, np.isin(group, odd))
        rest = float(log_odds(scored / over, told / over, usual, spread))
        total = float(np.logaddexp.reduce((odds + prior)[:, names == name], axis=None))
        totals[name] = total + min(rest - float(odds[row, column]), 0.0)
        if best is None or totals[name] > best.odds:
            begun = int(hours.hour[own[start]]) if start else None
            by_step = columns.by_step[:, column] * (hours.of_step >= (begun or 0))
            best = Found(
                c, name, columns.panel[column], begun, shape, by_step, columns.sector[column], totals[name], totals
            )
    return best


def _by_hour(by_step: Floats, of_step: Ints, hour: Ints) -> Floats:
    """Return the means (figure, cause) over each figure's hour of what is given by step."""
    numbers, first, count = np.unique(of_step, return_index=True, return_counts=True)
    means = np.add.reduceat(by_step, first, axis=0) / count[:, None]
    return np.asarray(means[np.searchsorted(numbers, hour)], dtype=np.float64)
