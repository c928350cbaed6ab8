"""Synthetic passages for tests and benches: sun on an invented array, clouds that persist, members that part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import xarray as xr

from planner.domain.inputs.passage import Watch, Wishes
from planner.domain.inputs.power import Bank, Engine
from planner.domain.voyage import Course

STEP_S = 600.0  # s
SHIP_OFFSET = timedelta(hours=12)
WATCHES = tuple(
    Watch(start=f"{hour:02d}:00", end=f"{(hour + 4) % 24:02d}:00", role=role)
    for hour, role in zip(range(0, 24, 4), ("skipper", "mate", "cook") * 2, strict=True)
)
BANK = Bank(chemistry="lifepo4", nominal_v=12, capacity_ah=400.0, reserve_soc=0.3)
ENGINE = Engine(alternator_a=80.0, charging_l_per_h=1.8, motoring_l_per_h=3.0, tank_l=200.0)
WISHES = Wishes(quiet_hours=(("22:00", "06:00"),), arrival_soc=0.5)


@dataclass(frozen=True)
class Ensemble:
    """What one forecast makes of a passage.

    Attributes
    ----------
    harvest, demand, track : xarray.Dataset
        As the stages hand them on, the variables that a decision reads.
    """

    harvest: xr.Dataset
    demand: xr.Dataset
    track: xr.Dataset

    @property
    def course(self) -> Course:
        """All members along the one track."""
        return Course(self.track, self.harvest, self.demand)

    def members(self, chosen: slice | list[int]) -> Ensemble:
        """Return the same forecast with some of its members."""
        return Ensemble(self.harvest.isel(member=chosen), self.demand.isel(member=chosen), self.track)


def make_ensemble(
    *,
    seed: int,
    days: float = 10.0,
    members: int = 51,
    array_w: float = 600.0,
    load_w: float = 115.0,
    gloom: float = 0.0,
    motoring_h: tuple[float, float] | None = None,
) -> Ensemble:
    """Return a passage from 30 degrees south toward the tropics in May, as an ensemble of weathers.

    Parameters
    ----------
    seed : int
        Of the weather.
    days, members : float, int
        Length and number of weathers.
    array_w : float
        Rated panels [W].
    load_w : float
        Mean of the steady load [W].
    gloom : float
        Shift of the clouds' normal score: above zero is duller.
    motoring_h : tuple of float, optional
        Hours from departure between which the engine drives the boat.
    """
    rng = np.random.default_rng(seed)
    steps = round(days * 86400.0 / STEP_S)
    hours = np.arange(steps) * STEP_S / 3600.0
    time = np.datetime64("2026-05-03T21:00", "ns") + (hours * 3.6e12).astype("timedelta64[ns]")
    ship_hour = (9.0 + hours + 0.5 * STEP_S / 3600.0) % 24.0

    latitude, declination = np.radians(-30.0 + 9.0 * hours / 240.0), np.radians(17.0)
    height = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(
        np.radians(15.0 * (ship_hour - 12.0))
    )
    clear_w = array_w * 0.75 * np.maximum(height, 0.0) ** 1.15

    # clouds: a slow common course and the members' own, which takes over with lead time; both persist
    own_share = np.clip(0.1 + 0.7 * hours / 144.0, 0.0, 0.8)
    score = (
        np.sqrt(1.0 - own_share) * _persistent(rng, 1, steps, 30.0)
        + np.sqrt(own_share) * _persistent(rng, members, steps, 30.0)
        + 0.5 * _persistent(rng, members, steps, 2.0)
        + gloom
    )
    solar_w = clear_w * (1.0 - 0.8 / (1.0 + np.exp(-1.7 * score)))

    night_w = np.where(height < 0.0, 12.0, 0.0)
    demand_w = load_w * (1.0 + 0.12 * _persistent(rng, members, steps, 12.0)) + night_w
    under_engine = np.zeros(steps, dtype=np.int8)
    if motoring_h is not None:
        under_engine[(hours >= motoring_h[0]) & (hours < motoring_h[1])] = 1

    coords = {"time": time, "member": np.arange(members)}
    return Ensemble(
        harvest=xr.Dataset(
            {"controller_power_w": (("member", "time", "controller"), solar_w[:, :, None], {"units": "W"})},
            coords=coords,
            attrs={"step_s": STEP_S},
        ),
        demand=xr.Dataset(
            {"demand_power_w": (("member", "time"), np.maximum(demand_w, 0.0), {"units": "W"})},
            coords=coords,
            attrs={"step_s": STEP_S},
        ),
        track=xr.Dataset(
            {
                "under_engine": (("time",), under_engine, {"units": "1"}),
                "heel_deg": (("time",), np.full(steps, -8.0), {"units": "degree"}),
            },
            coords={"time": time},
            attrs={"step_s": STEP_S},
        ),
    )


def _persistent(rng: np.random.Generator, members: int, steps: int, memory_h: float) -> np.ndarray:
    """Return unit-variance first-order noise with so many hours of memory, array (member, step)."""
    keep = np.exp(-STEP_S / 3600.0 / memory_h)
    noise = rng.standard_normal((members, steps)) * np.sqrt(1.0 - keep**2)
    noise[:, 0] = rng.standard_normal(members)
    for step in range(1, steps):
        noise[:, step] += keep * noise[:, step - 1]
    return noise
