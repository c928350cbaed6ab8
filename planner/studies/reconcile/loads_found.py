"""Loads by the energy balance of readings with the engine off, against the list: how much more, when, since when.

Hour by hour, what the boat drew (controllers less what went into the bank) less what is listed. Not known of it: each
listed load's watts, when the crew ran what can wait, gains and zero of the meters, and what comes and goes. A load on
nobody's list is a column: at all hours, in a span of the ship's day, or since a moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import product
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Bools, Floats, Ints, Times
from planner.domain.inputs.power import Load, SecondaryBank
from planner.domain.results.note import NOTHING, Note, together
from planner.domain.results.reconcile.findings import LEVEL, Interval, LoadFinding, LoadHour
from planner.domain.ship_clock import ShipOffset
from planner.domain.utc import from_numpy
from planner.simulation.clock import in_spans, ship_hour, step_seconds
from planner.simulation.ledger.demand import STEERING
from planner.simulation.ledger.sources import other_offered_w
from planner.studies.reconcile.evidence import SIGMAS, Figures, about, log_odds, onsets

# standard deviations (common practice unless said otherwise)
CONTROLLER_GAIN: Final = 0.02  # 1, of what a controller shows of its output
BANK_GAIN: Final = 0.01  # 1, of bank volts times amps: shunt and voltmeter
SHUNT_ZERO_A: Final = 0.05  # A
LIST_DOUBT: Final = 0.15  # 1, of a listed load's watts: plates say the most, not the mean
WEATHER_DOUBT: Final = 0.2  # 1, of steering and of what works harder in the warm
OWN_DAY: Final = 0.01  # 1, of a day's draw, by how the day went
OTHER_CHARGE_W: Final = 25.0  # W, and the gains' doubt on top: below nothing by so much, something else charged
USUAL_W: Final = (30.0, 25.0)  # W, mean and standard deviation of a load that is found; the project's own
SURE: Final = 0.5  # 1, log odds from which a load is told; set on made readings
SHORTEST_SPAN_H: Final = 3
LEAST_JUDGED_H: Final = 6.0  # h, under which nothing is said
LEAST_SIDE_H: Final = 24  # hours judged on each side of a beginning
NIGHT: Final = frozenset({17, 18, 19, 20, 21, 22, 23, 0, 1, 2, 3, 4, 5, 6, 7})
A_DAY: Final = 24  # hours
NORMAL_MAD: Final = 0.6745  # 1, median of what a standard normal is off by


@dataclass(frozen=True, eq=False)
class Balance:
    """Hours with the engine off in which every flow was read; arrays (hour,) unless said otherwise.

    Attributes
    ----------
    time : array of datetime64
        Their beginnings, UTC.
    read_w, listed_w : array
        What the boat drew, and what its list asks for [W].
    hour, day : int array
        Of the ship's day; since the track began.
    read_h : array
        Read of it [h].
    known : Figures
        Read less listed, with the covariance of what comes and goes and of the meters [W].
    listing : array (hour, hour)
        Covariance of what is not known of the list [W2].
    """

    time: Times
    read_w: Floats
    listed_w: Floats
    hour: Ints
    day: Ints
    read_h: Floats
    known: Figures
    listing: Floats


def balance_of(
    steps: xr.Dataset,
    track: xr.Dataset,
    demand: xr.Dataset,
    ship_offset: ShipOffset,
    *,
    loads: Sequence[Load],
    secondary_banks: Sequence[SecondaryBank],
) -> Balance:
    """Return the balance of every hour in which all was read, engine off, nothing else charging.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on the track's steps.
    track, demand : xarray.Dataset
        As the glossary has them, over the same steps.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    loads, secondary_banks : sequence
        From the boat file.
    """
    volts = steps["read_bank_voltage_v"].to_numpy()
    bank_w = volts * steps["read_bank_current_a"].to_numpy()
    each_w = steps["read_controller_power_w"].to_numpy()
    solar_w = each_w.sum(axis=1)
    engine = steps["read_engine_on"].to_numpy()
    still = np.where(np.isnan(engine), track["under_engine"].to_numpy(), engine) == 0.0
    least_w = -(OTHER_CHARGE_W + 2.0 * BANK_GAIN * np.abs(bank_w) + 2.0 * CONTROLLER_GAIN * solar_w)
    kept = still & (other_offered_w(track) == 0.0) & (solar_w - bank_w >= least_w)
    time = track["time"].to_numpy().astype("datetime64[ns]")
    item_w = demand["load_item_power_w"].to_numpy()
    listed_w = demand["demand_power_w"].mean("member").to_numpy()
    numbers, first, count = np.unique(
        ((time - time[0]) // np.timedelta64(1, "h"))[kept].astype(np.int64), return_index=True, return_counts=True
    )

    def hourly(values: Floats) -> Floats:
        if not numbers.size:
            return values[:0]
        return np.asarray((np.add.reduceat(values[kept], first, axis=0).T / count).T, dtype=np.float64)

    read, listed, items, solar, bank, at_v = map(hourly, (solar_w - bank_w, listed_w, item_w, each_w, bank_w, volts))
    step_h = step_seconds(track) / 3600.0
    begins = time[kept][first] if numbers.size else time[:0]
    hour, day = ship_hour(begins, ship_offset), numbers // A_DAY
    read_h = np.asarray(count * step_h, dtype=np.float64)
    off = read - listed
    usual = float(np.median(np.abs(np.diff(off)))) if off.size > 1 else 0.0
    noise_w = max(usual / NORMAL_MAD / np.sqrt(2.0), 1.0)
    same_day = day[:, None] == day
    known = np.diag(noise_w**2 / read_h) + same_day * (OWN_DAY * float(listed.mean() if listed.size else 0.0)) ** 2
    gains = [(column, CONTROLLER_GAIN) for column in solar.T]
    for column, doubt in (*gains, (bank, BANK_GAIN), (at_v, SHUNT_ZERO_A)):
        known += doubt**2 * np.outer(column, column)
    by_name: dict[str, Load | SecondaryBank] = {load.name: load for load in loads}
    by_name |= {bank.name: bank for bank in secondary_banks}
    listing = np.zeros_like(known)
    for number, name in enumerate(str(name) for name in demand["load"].to_numpy()):
        item, watts = by_name.get(name), items[:, number]
        warm = isinstance(item, Load) and item.per_c > 0.0
        listing += (WEATHER_DOUBT if name == STEERING or warm else LIST_DOUBT) ** 2 * np.outer(watts, watts)
        if isinstance(item, SecondaryBank) or (isinstance(item, Load) and item.wh_per_day is not None):
            may_run = np.ones(hour.size, dtype=np.bool_)
            if isinstance(item, Load) and item.hours:
                may_run = in_spans(begins, item.hours, ship_offset)
            listing += _moved(watts, may_run, hour, day)
    return Balance(begins, read, listed, hour, day, read_h, Figures(off, known), listing)


def _moved(watts: Floats, may_run: Bools, hour: Ints, day: Ints) -> Floats:
    """Return the covariance of a load that the crew may run at other hours than planned, each day's sum kept [W2].

    At hours of their own every day, and on any one day at others.
    """
    allowed = may_run / np.maximum([np.unique(hour[may_run & (day == one)]).size for one in day], 1)
    habit = (hour[:, None] == np.arange(A_DAY)) * may_run[:, None] - allowed[:, None]
    once = np.diag(may_run.astype(np.float64)) - np.outer(may_run, allowed) * (day[:, None] == day)
    spread = float(watts[may_run].var()) if may_run.any() else 0.0
    return np.asarray(spread * (habit @ habit.T + once), dtype=np.float64)


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

    ``unexplained_w`` covers the truth by what comes and goes and the meters' tolerances; ``found`` asks for more than
    the list's own doubt explains.

    Parameters
    ----------
    steps, track, demand, ship_offset, loads, secondary_banks
        As for ``balance_of``.
    """
    balance = balance_of(steps, track, demand, ship_offset, loads=loads, secondary_banks=secondary_banks)
    judged_h = float(balance.read_h.sum())
    if judged_h < LEAST_JUDGED_H:
        evidence = Note("loads_unknown", {"judged_h": judged_h, "least_h": LEAST_JUDGED_H})
        return LoadFinding(None, False, _hours(balance), judged_h, evidence)
    start, span, odds = _likeliest(balance)
    found = odds > SURE
    inside = np.isin(balance.hour, span) if span else np.ones(balance.hour.size, dtype=np.bool_)
    after = np.arange(inside.size) >= start
    drawn = _mean(balance, inside & after, ~inside if span else ~after) if found else None
    since = from_numpy(balance.time[start]) if found and start else None
    over = _mean(balance, after if since else np.ones_like(after))
    return LoadFinding(
        unexplained_w=over,
        found=found,
        hours=_hours(balance),
        judged_h=judged_h,
        evidence=_evidence(balance, over, drawn, since + ship_offset if since else None, span),
        since=since,
        spans=(_clock_span(span),) if found and span else (),
        while_on_w=drawn,
    )


def _likeliest(balance: Balance) -> tuple[int, tuple[int, ...], float]:
    """Return first hour, hours of the ship's day (none: all) and log odds of the likeliest load on nobody's list."""
    figures = Figures(balance.known.value, balance.known.covariance + balance.listing)
    every = np.arange(balance.hour.size)
    spans: list[tuple[int, ...]] = [()]
    for length, first in product(range(SHORTEST_SPAN_H, A_DAY - SHORTEST_SPAN_H + 1), range(A_DAY)):
        hours = tuple((first + hour) % A_DAY for hour in range(length))
        if np.intersect1d(balance.hour, hours).size >= SHORTEST_SPAN_H:
            spans.append(hours)
    columns = np.stack([np.isin(balance.hour, hours) if hours else every >= 0 for hours in spans], axis=1).astype(
        float
    )
    starts = np.array([0, *range(LEAST_SIDE_H, every.size - LEAST_SIDE_H + 1, A_DAY // 6)])
    always = np.array([not hours for hours in spans])
    best: tuple[int, tuple[int, ...], float] = (0, (), -np.inf)
    for kind, at in ((always, starts), (~always, starts[:1])):
        if not kind.any():
            continue
        score, information = onsets(figures, every, columns[:, kind], at)
        odds = log_odds(score, information, *USUAL_W) - np.log(max(at.size - 1, 1) * (at > 0) + (at == 0))[:, None]
        odds = np.where(score > 0.0, odds - np.log(kind.sum()), -np.inf)
        row, column = np.unravel_index(odds.argmax(), odds.shape)
        if odds[row, column] > best[2]:
            best = int(at[row]), spans[int(np.flatnonzero(kind)[column])], float(odds[row, column])
    return best


def _mean(balance: Balance, here: Bools, against: Bools | None = None) -> Interval:
    """Return read less listed, mean over the day of some hours, less that of others; without the list's doubt [W]."""

    def weight(among: Bools) -> Floats:
        hours, at = np.unique(balance.hour[among], return_inverse=True)
        each = np.zeros(among.size)
        each[among] = 1.0 / np.bincount(at)[at] / hours.size
        return each

    whole = weight(here) - (weight(against) if against is not None and against.any() else 0.0)
    return about(float(whole @ balance.known.value), float(np.sqrt(whole @ balance.known.covariance @ whole)))


def _hours(balance: Balance) -> tuple[LoadHour, ...]:
    """Return what was drawn in each hour of the ship's day."""
    rows = []
    for hour in range(A_DAY):
        here = balance.hour == hour
        if not here.any():
            rows.append(LoadHour(hour, None, 0.0, 0.0))
            continue
        listed, over = float(balance.listed_w[here].mean()), _mean(balance, here)
        read = Interval(listed + over.value, listed + over.low, listed + over.high)
        rows.append(LoadHour(hour, read, listed, float(balance.read_h[here].sum())))
    return tuple(rows)


def _evidence(
    balance: Balance,
    over: Interval,
    drawn: Interval | None,
    since: datetime | None,
    span: tuple[int, ...],
) -> Note:
    """Return what was read, and what it draws that the list does not have."""
    weight = 1.0 / balance.read_h.size
    figures = {"read_w": float(balance.read_w.mean()), "listed_w": float(balance.listed_w.mean()), "over": over}
    days = float(balance.read_h.sum()) / A_DAY
    read = Note("loads_drawn_since" if since else "loads_drawn", {**figures, "days": days, "level": LEVEL})
    if drawn is None:
        doubt_w = SIGMAS * weight * float(np.sqrt(balance.listing.sum()))
        if over.low <= 0.0 <= over.high:
            return together([read, Note("loads_as_listed")])
        return together([read, Note("loads_less" if over.high < -doubt_w else "loads_differ", {"doubt_w": doubt_w})])
    when = Note("at_all_hours")
    if span:
        begins, ends = _clock_span(span)
        when = Note("at_night" if set(span) <= NIGHT else "at_hours", {"begins": begins, "ends": ends})
    began = NOTHING if since is None else Note("since_about", {"at": since})
    return together([read, Note("load_unlisted", {"drawn": drawn, "when": when, "since": began})])


def _clock_span(span: tuple[int, ...]) -> tuple[str, str]:
    """Return hours of the day in order as the span from the first to the end of the last, HH:MM."""
    return f"{span[0]:02d}:00", f"{(span[-1] + 1) % A_DAY:02d}:00"
