"""Readings under suns reckoned in the head: power is the product of sun, clear-sky index and controller.

Twelve hours of sun a day over a boat that heads north at the equator; three controllers of known watts. Cloud comes
and goes smoothly, the middle of every other day is clear. Nothing here uses the planner's physics.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import xarray as xr

from planner.domain.inputs.power import Bank
from planner.studies.reconcile.panels_found import Held, hold
from planner.studies.reconcile.sky.sky_states import Dark

STEPS_A_DAY = 144
START = np.datetime64("2027-05-09T00:00", "ns")
NAMES = ("arch", "bimini", "hatch")
WATTS = np.array([200.0, 150.0, 100.0])
BY_LEAN = np.array([0.05, 0.0, -0.05])
INDICES, LEANS = np.array([0.05, 0.2, 0.6, 1.0, 1.25]), np.array([-1.0, 0.0, 1.0])
NOISE = 0.01
BOAT = SimpleNamespace(
    controller=[
        SimpleNamespace(name=name, strings=((f"{name} panel",),), max_output_a=50.0, max_output_w=None)
        for name in NAMES
    ],
    panel=[SimpleNamespace(name=f"{name} panel", max_power_w=100.0, measured_fraction=1.0) for name in NAMES],
    bank=Bank(chemistry="lifepo4", capacity_ah=300.0, reserve_soc=0.3),
)


def hour_of(days: int) -> np.ndarray:
    return (np.arange(days * STEPS_A_DAY) + 0.5) / 6.0 % 24.0


def elevation_deg(days: int) -> np.ndarray:
    return 70.0 * np.sin((hour_of(days) - 6.0) / 12.0 * np.pi)


def bearing_deg(days: int) -> np.ndarray:
    """East at six, north at noon, west at eighteen; the boat heads north."""
    return (90.0 - (hour_of(days) - 6.0) * 15.0) % 360.0


def index_of(days: int, *, seed: int = 1) -> np.ndarray:
    """A clear-sky index that drifts over hours, and is steady and clear for four hours of every other day."""
    rng = np.random.default_rng(seed)
    knots = rng.uniform(0.35, 0.9, days * 8 + 2)
    index = np.interp(np.arange(days * STEPS_A_DAY) / 18.0, np.arange(knots.size), knots)
    hour, day = hour_of(days), np.arange(days * STEPS_A_DAY) // STEPS_A_DAY
    return np.where((np.abs(hour - 12.0) < 2.0) & (day % 2 == 0), 0.96, index)


def time_of(days: int) -> np.ndarray:
    return START + np.arange(days * STEPS_A_DAY) * np.timedelta64(10, "m")


def states_of(days: int) -> xr.Dataset:
    """What the controllers give under each made sky; cloudless light is 900 W/m2 at the zenith, a fifth not beam."""
    sun = np.maximum(np.sin(np.radians(elevation_deg(days))), 0.0)
    index, lean = (grid.ravel() for grid in np.meshgrid(INDICES, LEANS, indexing="ij"))
    power = index[:, None, None] * np.exp(lean[:, None, None] * BY_LEAN) * sun[None, :, None] * WATTS
    ghi = 900.0 * index[:, None] * sun
    return xr.Dataset(
        {
            "controller_power_w": (("member", "time", "controller"), power),
            "ghi_w_m2": (("member", "time"), ghi),
            "dhi_w_m2": (("member", "time"), 0.2 * ghi),
            "sun_elevation_deg": ("time", elevation_deg(days)),
            "sun_azimuth_deg": ("time", bearing_deg(days)),
            "surely_lit_fraction": (("time", "panel"), np.ones((sun.size, 3))),
        },
        coords={
            "clear_index": ("member", index),
            "beam_lean": ("member", lean),
            "time": time_of(days),
            "panel": [panel.name for panel in BOAT.panel],
        },
    )


def harvest_of(days: int, *, of_clear: float) -> xr.Dataset:
    """A forecast of so much of the cloudless light, in five outcomes."""
    clear = 900.0 * np.maximum(np.sin(np.radians(elevation_deg(days))), 0.0)
    outcomes = of_clear * np.linspace(0.9, 1.1, 5)[:, None] * clear
    return xr.Dataset({"ghi_w_m2": (("member", "time"), outcomes)})


def held_days(
    days: int,
    factor: np.ndarray,
    *,
    read: np.ndarray | None = None,
    seed: int = 2,
    darks: dict[str, tuple[Dark, ...]] | None = None,
    soc: np.ndarray | float = 0.6,
) -> Held:
    """Readings of controllers that give so much of what they should, held against the model.

    ``factor`` and ``read`` are (step, controller) or (controller,); what is not read is left out.
    """
    rng = np.random.default_rng(seed)
    steps = days * STEPS_A_DAY
    sun = np.maximum(np.sin(np.radians(elevation_deg(days))), 0.0)
    watts = (index_of(days) * sun)[:, None] * WATTS * np.exp(0.2 * BY_LEAN) * factor
    watts = watts * np.exp(NOISE * rng.standard_normal((steps, 3)))
    readings = xr.Dataset(
        {
            "read_controller_power_w": (
                ("time", "controller"),
                watts if read is None else np.where(read, watts, np.nan),
            ),
            "read_bank_voltage_v": ("time", np.full(steps, 13.2)),
            "read_meter_soc": ("time", np.broadcast_to(soc, steps).astype(float)),
        }
    )
    track = xr.Dataset({"heading_deg": ("time", np.zeros(steps))}, coords={"time": time_of(days)})
    return hold(
        readings,
        track.assign_attrs(step_s=600.0),
        states_of(days),
        harvest_of(days, of_clear=0.6),
        darks or dict.fromkeys(NAMES, ()),
        boat=BOAT,
    )
