"""Figures of the whole passage and of each day: on the planned course, and their spread over the members."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from planner.decision.policy.full_charge import full_soc
from planner.domain.arrays import Floats
from planner.domain.results.figures import Spread
from planner.domain.results.plan import Day
from planner.domain.voyage import Voyage, soc_course
from planner.simulation.clock import passage_days
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.simulate import HOURS_PER_DAY, fuel_l

if TYPE_CHECKING:
    import xarray as xr

WHOLE = 1.0 - 1e-9  # 1, a full bank but for rounding
PERCENTILES = (10.0, 50.0, 90.0)
STUB_H = 4.0  # h, a last day shorter than a watch is counted with the day before it


def spread(planned: float, members: npt.ArrayLike) -> Spread:
    """Return a planned figure with its percentiles over members.

    Parameters
    ----------
    planned : float
        On the members' mean weather.
    members : array_like (member,)
        The same figure for each member.

    Returns
    -------
    Spread
        Percentiles are read linearly between the sorted members.
    """
    low, middle, high = np.percentile(np.asarray(members, dtype=float), PERCENTILES)
    return Spread(planned=float(planned), p10=float(low), p50=float(middle), p90=float(high))


def energy_wh(voyage: Voyage, quantity: str, steps: slice) -> Spread:
    """Return the energy of a power of the ledger over a range of steps [Wh]."""
    return _summed(voyage, quantity, steps)


def engine_hours(voyage: Voyage, steps: slice) -> Spread:
    """Return the hours that the engine runs, whatever for, over a range of steps [h]."""
    return _summed(voyage, "engine_on", steps)


def charging_hours(voyage: Voyage) -> Spread:
    """Return the hours over the passage in which the engine runs only to charge [h]."""

    def hours(ledger: xr.Dataset) -> Floats:
        only = ledger["engine_on"].values.astype(bool) & ~voyage.under_engine
        return np.asarray(only.sum(axis=1) * voyage.step_h, dtype=float)

    return spread(hours(voyage.planned)[0], hours(voyage.ledger))


def fuel(voyage: Voyage, steps: slice) -> Spread:
    """Return the fuel burnt over a range of steps [L]."""

    def burnt(ledger: xr.Dataset) -> Floats:
        return np.asarray(fuel_l(ledger, voyage.track, voyage.boat.engine)[:, steps].sum(axis=1))

    return spread(burnt(voyage.planned)[0], burnt(voyage.ledger))


def lowest_soc(voyage: Voyage, steps: slice) -> Spread:
    """Return the lowest SOC from the start of the first step to the end of the last [0..1]."""
    states = slice(steps.start, steps.stop + 1)
    return spread(voyage.planned_soc[states].min(), soc_course(voyage.ledger)[:, states].min(axis=1))


def soc_at(voyage: Voyage, step: int) -> Spread:
    """Return the SOC at the start of a step [0..1]."""
    return spread(voyage.planned_soc[step], soc_course(voyage.ledger)[:, step])


def days(voyage: Voyage) -> tuple[Day, ...]:
    """Return the totals of each passage day: 24 hours from the first departure, first and last what there is of them.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    tuple of Day
        In order. Where less than a watch would be left for the last day, the day before it goes on to arrival.
    """
    distance = _distance_nm(voyage)
    numbers = day_numbers(voyage)
    begins = np.flatnonzero(np.diff(numbers, prepend=0))
    rows = []
    for first, end in zip(begins, [*begins[1:], voyage.steps], strict=True):
        steps = slice(int(first), int(end))
        rows.append(
            Day(
                day=int(numbers[first]),
                start=voyage.at(steps.start),
                distance_nm=float(distance[steps.stop] - distance[steps.start]),
                solar_wh=energy_wh(voyage, "solar_power_w", steps),
                curtailed_wh=energy_wh(voyage, "curtailed_power_w", steps),
                load_wh=energy_wh(voyage, "load_power_w", steps),
                engine_h=engine_hours(voyage, steps),
                fuel_l=fuel(voyage, steps),
                soc_start=soc_at(voyage, steps.start),
                soc_min=lowest_soc(voyage, steps),
                float_h=_float_h(voyage, steps),
                since_full_d=(steps.start - last_full(voyage, steps.start)) * voyage.step_h / HOURS_PER_DAY,
            )
        )
    return tuple(rows)


def last_full(voyage: Voyage, step: int) -> int:
    """Return the last step up to a given one at which the planned course is full; departure counts as full."""
    full = np.flatnonzero(voyage.planned_soc[: step + 1] >= full_soc(bank_params(voyage.boat.bank)))
    return int(full[-1]) if full.size else 0


def _float_h(voyage: Voyage, steps: slice) -> float:
    """Return how long the planned course stands at float: full, and nothing drawn from the bank [h]."""
    held = (voyage.planned["bank_soc"].values[0] >= WHOLE) & (voyage.planned["bank_current_a"].values[0] >= 0.0)
    return float(held[steps].sum() * voyage.step_h)


def day_numbers(voyage: Voyage) -> npt.NDArray[np.int64]:
    """Return the day of the passage, from 1, in which each step lies, (time,)."""
    numbers = passage_days(voyage.track["time"].values, voyage.passage.days_from)
    last = numbers == numbers[-1]
    if not last.all() and last.sum() * voyage.step_h < STUB_H:
        numbers[last] -= 1
    return numbers


def _summed(voyage: Voyage, quantity: str, steps: slice) -> Spread:
    def total(ledger: xr.Dataset) -> Floats:
        return np.asarray(ledger[quantity].values[:, steps].sum(axis=1) * voyage.step_h, dtype=float)

    return spread(total(voyage.planned)[0], total(voyage.ledger))


def _distance_nm(voyage: Voyage) -> Floats:
    """Return the distance sailed at the start of each step and at arrival, (time + 1,) [nm]."""
    sailed = voyage.track["distance_nm"].values
    last = sailed[-1] + voyage.track["speed_over_ground_kn"].values[-1] * voyage.step_h
    return np.append(sailed, last)
