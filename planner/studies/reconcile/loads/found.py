"""Loads by the energy balance of readings, compared with the list: how much is unexplained, when, since when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from operator import itemgetter
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Load, SecondaryBank
from planner.domain.results.note import NOTHING, Note, together
from planner.domain.results.reconcile.findings import LEVEL, Interval, LoadFinding, LoadHour
from planner.domain.ship_clock import ShipOffset
from planner.domain.utc import from_numpy
from planner.simulation.ledger.demand import IDLE, INVERTER, STEERING
from planner.studies.reconcile.loads.balance import (
    HOURS_A_DAY,
    Balance,
    Contrast,
    balance_of,
    by_hour,
    contrast,
    day_scatter,
    scatter,
)

LEVEL_SCORE: Final = 1.75  # 1; the three scores are set together, see tests/studies/test_loads_found.py
SPAN_SCORE: Final = 3.6  # 1, higher: the most telling of some 450 spans is taken
STEP_SCORE: Final = 4.0  # 1, higher: the most telling of many moments is taken
SHORTEST_SPAN_H: Final = 3
LEAST_JUDGED_H: Final = 6.0  # h, under which nothing is said
LEAST_SIDE_H: Final = 24.0  # h, judged on each side of a beginning
QUIET_SHARE: Final = 0.5  # 1; outside its hours a load may draw less than this of what it draws within
ALIKE: Final = 0.25  # 1, within which a listed load draws about as much
NIGHT: Final = frozenset({17, 18, 19, 20, 21, 22, 23, 0, 1, 2, 3, 4, 5, 6, 7})


def judge_loads(
    steps: xr.Dataset,
    track: xr.Dataset,
    demand: xr.Dataset,
    ship_offset: ShipOffset,
    *,
    loads: Sequence[Load],
    secondary_banks: Sequence[SecondaryBank] = (),
) -> LoadFinding:
    """Return what the boat drew beyond its list, with the engine off.

    What it drew is the controllers' watts less bank volts times amps. It is compared with the planner's demand over
    the same steps. ``unexplained_w`` covers the truth by the scatter of what was drawn and the meters' tolerances;
    ``found`` asks for more than the list's own doubt explains, in one of three ways: the mean over the day, some
    hours against the others, or the time since a moment against the time before.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on the track's steps; NaN where not read.
    track, demand : xarray.Dataset
        As the glossary has them, over the same steps; the track with other sources, where the boat has any.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    loads, secondary_banks : sequence
        From the boat file: what is deferrable need not run when the planner says.
    """
    balance = balance_of(steps, track, demand, ship_offset, loads=loads, secondary_banks=secondary_banks)
    judged_h = balance.time.size * balance.step_h
    if judged_h < LEAST_JUDGED_H:
        evidence = Note("loads_unknown", {"judged_h": judged_h, "least_h": LEAST_JUDGED_H})
        return LoadFinding(None, False, _hours(balance, None), judged_h, evidence)
    strays = scatter(balance)
    began = _beginning(balance, strays)
    now = balance.since(began[0]) if began else balance
    strays_now = scatter(now) if began else strays
    level = contrast(now, by_hour(now.hour), strays_now)
    parted = _hours_of_draw(now, strays_now)
    span = parted[0] if parted else ()
    drawn = parted[1] if parted else began[1] if began else level if level.score > LEVEL_SCORE else None
    while_on = drawn.interval() if drawn else None
    since = from_numpy(began[0]) if began else None
    return LoadFinding(
        unexplained_w=level.interval(),
        found=drawn is not None,
        hours=_hours(balance, strays),
        judged_h=judged_h,
        evidence=_evidence(balance, level, while_on, since, span, ship_offset=ship_offset),
        since=since,
        spans=(_clock_span(span),) if span else (),
        while_on_w=while_on,
    )


def _beginning(balance: Balance, strays: Floats) -> tuple[np.datetime64, Contrast] | None:
    """Return the moment since which most more is drawn than before, and how much more; None when none is telling."""
    best: tuple[np.datetime64, Contrast] | None = None
    starts = np.flatnonzero(np.diff(balance.block, prepend=-1))
    steps = np.arange(balance.time.size)
    for start in starts:
        after = steps >= start
        days = np.array([after.sum(), (~after).sum()]) * balance.step_h / HOURS_A_DAY
        if days.min() * HOURS_A_DAY < LEAST_SIDE_H:
            continue
        shared = np.isin(balance.hour, np.intersect1d(balance.hour[after], balance.hour[~after]))
        weight = by_hour(balance.hour, after & shared) - by_hour(balance.hour, ~after & shared)
        day_sd, freedom = day_scatter(balance, strays, but_at=int(balance.block[start]))
        noise_sd = day_sd * float(np.sqrt((1.0 / days).sum()))
        change = replace(contrast(balance, weight, strays), noise_sd=noise_sd, freedom=freedom)
        if change.score > STEP_SCORE and (best is None or change.score > best[1].score):
            best = balance.time[start], change
    return best


def _hours_of_draw(balance: Balance, strays: Floats) -> tuple[tuple[int, ...], Contrast] | None:
    """Return the hours, one after another round the clock, in which most more is drawn than in the others; how much.

    None when no stretch of hours is telling, or half as much is drawn outside it and the list does not explain that.
    """
    read = np.unique(balance.hour)
    tried: list[tuple[float, tuple[int, ...], Contrast]] = []
    for length in range(SHORTEST_SPAN_H, HOURS_A_DAY - SHORTEST_SPAN_H + 1):
        for start in range(HOURS_A_DAY):
            hours = tuple((start + hour) % HOURS_A_DAY for hour in range(length))
            count = int(np.isin(read, hours).sum())
            if not SHORTEST_SPAN_H <= count <= read.size - SHORTEST_SPAN_H:
                continue
            inside = np.isin(balance.hour, hours)
            weight = by_hour(balance.hour, inside) - by_hour(balance.hour, ~inside)
            parted = contrast(balance, weight, strays)
            if parted.score > LEVEL_SCORE:
                # What parting the hours so takes off the squares, in units of what is not known of it.
                spared = parted.score**2 * count * (read.size - count)
                tried.append((spared, hours, parted))
    if not any(parted.score > SPAN_SCORE for _, _, parted in tried):
        return None
    _, hours, parted = max(tried, key=itemgetter(0))
    rest = contrast(balance, by_hour(balance.hour, ~np.isin(balance.hour, hours)), strays)
    steady = rest.score > LEVEL_SCORE and rest.value > QUIET_SHARE * parted.value
    return None if steady else (hours, parted)


def _hours(balance: Balance, strays: Floats | None) -> tuple[LoadHour, ...]:
    """Return what was drawn in each hour of the ship's day."""
    rows = []
    for hour in range(HOURS_A_DAY):
        inside = balance.hour == hour
        count = int(inside.sum())
        if not count:
            rows.append(LoadHour(hour, None, 0.0, 0.0))
            continue
        listed = float(balance.listed_w[inside].mean())
        read = None
        if strays is not None:
            over = contrast(balance, inside / count, strays).interval()
            read = Interval(listed + over.value, listed + over.low, listed + over.high)
        rows.append(LoadHour(hour, read, listed, count * balance.step_h))
    return tuple(rows)


def _evidence(
    balance: Balance,
    level: Contrast,
    while_on: Interval | None,
    since: datetime | None,
    span: tuple[int, ...],
    *,
    ship_offset: ShipOffset,
) -> Note:
    """Return what was read, when it draws and what on the list draws about as much."""
    over = level.interval()
    drawn = Note(
        "loads_drawn_since" if since else "loads_drawn",
        {
            "read_w": float(by_hour(balance.hour) @ balance.read_w),
            "listed_w": float(by_hour(balance.hour) @ balance.listed_w),
            "days": balance.time.size * balance.step_h / HOURS_A_DAY,
            "over": over,
            "level": LEVEL,
        },
    )
    if while_on is None:
        doubt_w = 2.0 * level.list_sd
        less = over.high < -doubt_w
        return together([drawn, Note("loads_less" if less else "loads_explained", {"doubt_w": doubt_w})])
    when = Note("at_all_hours")
    if span:
        begins, ends = _clock_span(span)
        when = Note("at_night" if set(span) <= NIGHT else "at_hours", {"begins": begins, "ends": ends})
    began = Note("since_about", {"at": since + ship_offset}) if since is not None else NOTHING
    alike = _alike(balance, while_on.value)
    return together(
        [
            drawn,
            Note("load_unlisted", {"drawn": while_on, "when": when, "since": began}),
            *([Note("draws_as_much", {"loads": alike})] if alike else []),
        ]
    )


def _clock_span(span: tuple[int, ...]) -> tuple[str, str]:
    """Return hours of the day in order as the span from the first to the end of the last, HH:MM."""
    return f"{span[0]:02d}:00", f"{(span[-1] + 1) % HOURS_A_DAY:02d}:00"


def _alike(balance: Balance, watts: float) -> list[Note]:
    """Return the two listed loads whose draw while on comes nearest, within a quarter."""
    own = {STEERING, IDLE, INVERTER}
    near = []
    for index, name in enumerate(balance.names):
        drawn = balance.item_w[:, index]
        if name in own or not (drawn > 0.0).any():
            continue
        draw = float(drawn[drawn > 0.0].mean())
        if abs(draw - watts) <= ALIKE * watts:
            near.append((abs(draw - watts), name, draw))
    return [Note("load_drawing", {"name": name, "watts": draw}) for _, name, draw in sorted(near)[:2]]
