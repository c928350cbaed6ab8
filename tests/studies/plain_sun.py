"""Readings under suns reckoned in the head: power is the product of sun, clear-sky index and controller.

Twelve hours of sun a day over a boat that heads north at the equator; three controllers of known watts. Cloud comes
and goes smoothly, the middle of every other day is clear. Nothing here uses the planner's physics.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.studies.reconcile.judged_steps import Judged
from planner.studies.reconcile.panels.found import Held
from planner.studies.reconcile.panels.levels import panel_levels
from planner.studies.reconcile.sky_states import States

STEPS_A_DAY = 144
START = np.datetime64("2027-05-09T00:00", "ns")
WATTS = np.array([200.0, 150.0, 100.0])
BY_LEAN = np.array([0.05, 0.0, -0.05])
INDICES, LEANS = np.array([0.05, 0.2, 0.6, 1.25]), np.array([-1.0, 0.0, 1.0])
NOISE = 0.02


def hour_of(days: int) -> np.ndarray:
    return (np.arange(days * STEPS_A_DAY) + 0.5) / 6.0 % 24.0


def elevation_deg(days: int) -> np.ndarray:
    return 70.0 * np.sin((hour_of(days) - 6.0) / 12.0 * np.pi)


def bearing_deg(days: int) -> np.ndarray:
    """East at six, north at noon, west at eighteen; the boat heads north."""
    return (90.0 - (hour_of(days) - 6.0) * 15.0) % 360.0


def index_of(days: int, *, seed: int = 1, clear_every: int = 2) -> np.ndarray:
    """A clear-sky index that drifts over hours, and is steady and clear for four hours of every so many-th day."""
    rng = np.random.default_rng(seed)
    knots = rng.uniform(0.35, 0.95, days * 8 + 2)
    index = np.interp(np.arange(days * STEPS_A_DAY) / 18.0, np.arange(knots.size), knots)
    hour, day = hour_of(days), np.arange(days * STEPS_A_DAY) // STEPS_A_DAY
    return np.where((np.abs(hour - 12.0) < 2.0) & (day % clear_every == 0), 1.0, index)


def states_of_days(days: int) -> States:
    sun = np.maximum(np.sin(np.radians(elevation_deg(days))), 1e-6)
    log_w = (
        np.log(INDICES)[:, None, None, None]
        + LEANS[None, :, None, None] * BY_LEAN
        + np.log(sun)[None, None, :, None]
        + np.log(WATTS)
    )
    return States(INDICES, LEANS, log_w)


def judged_days(days: int, factor: np.ndarray, *, seed: int = 2, clear_every: int = 2) -> Judged:
    """Readings of controllers that give so much of what they should, (step, controller) or (controller,)."""
    rng = np.random.default_rng(seed)
    states, index = states_of_days(days), index_of(days, clear_every=clear_every)
    expected, _, _ = states.at(np.log(index), np.full(index.size, 0.2))
    log_w = expected + np.log(factor) + NOISE * rng.standard_normal(expected.shape)
    sun = elevation_deg(days)
    day, high = (np.repeat((sun > least)[:, None], 3, axis=1) for least in (5.0, 12.0))
    return Judged(
        log_w=np.where(day, log_w, np.nan),
        rounding=np.full(log_w.shape, 0.003),
        usable=day,
        fair=high,
        full=np.zeros_like(day),
        clipped=np.zeros_like(day),
        shaded=np.zeros_like(day),
        lit=np.ones(log_w.shape),
        elevation_deg=sun,
        bearing_deg=bearing_deg(days),
        step_h=1.0 / 6.0,
        bank_read=True,
    )


def time_of(days: int) -> np.ndarray:
    return START + np.arange(days * STEPS_A_DAY) * np.timedelta64(10, "m")


def day_of(days: int) -> np.ndarray:
    return np.arange(days * STEPS_A_DAY) // STEPS_A_DAY + 1


def held_days(
    days: int, factor: np.ndarray, *, usable: np.ndarray | None = None, seed: int = 2, clear_every: int = 2
) -> Held:
    """The same, held against the model; ``usable`` (step, controller) leaves readings out."""
    judged = judged_days(days, factor, seed=seed, clear_every=clear_every)
    if usable is not None:
        judged = replace(judged, usable=judged.usable & usable, fair=judged.fair & usable)
    levels = panel_levels(states_of_days(days), judged, time_of(days), day_of(days), np.log(index_of(days, seed=9)))
    read = np.exp(judged.log_w)
    return Held(time_of(days), day_of(days), judged, levels, read, read / np.exp(levels.sky.apart))
