"""Which steps of a log say something of a controller's panels, and why the others do not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Bools, Floats
from planner.domain.inputs.power import Bank, Controller
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.bank import bank_params

if TYPE_CHECKING:
    import xarray as xr


# the project's own
LEAST_ELEVATION_DEG: Final = 10.0  # degree; a lower sun is seen through too much model
DAYLIGHT_DEG: Final = 5.0  # degree, from which on a sky is looked for
LEAST_LIT: Final = 0.5  # 1, part of each panel that the beam must reach by the model
AT_LIMIT: Final = 0.97  # 1, of a controller's limit
UNDER_ABSORPTION_V: Final = 0.2  # V on a 12 V bank; controllers hold back from here on
FULL_SOC: Final = 0.98  # 1, by the monitor
SETTLES_H: Final = 0.35  # h on either side of a full bank: a step may be full in part


@dataclass(frozen=True, eq=False)
class Judged:
    """What may be made of the steps.

    Attributes
    ----------
    log_w : array (time, controller)
        Natural logarithm of the power read, NaN where nothing was; under a watt counts as half of one.
    rounding : array (time, controller)
        Variance of that logarithm from a display of whole watts [1].
    usable : bool array (time, controller)
        Read by day, neither held back by a full bank nor at the controller's limit: informs on the sky.
    fair : bool array (time, controller)
        And lit by the model, the sun high enough: informs on the panels.
    full, clipped, shaded : bool array (time, controller)
        Read with the sun high enough and set aside, the first reason that holds.
    lit : array (time, controller)
        Part of the panels that the beam reaches by the model, of the worst panel [1].
    elevation_deg : array (time,)
        The sun over the horizon [degree].
    toward : array (time, 3)
        Unit vector to the sun: ahead, to starboard, up.
    step_h : float
        [h].
    bank_read : bool
        Whether volts or charge were read, so that a full bank shows.
    """

    log_w: Floats
    rounding: Floats
    usable: Bools
    fair: Bools
    full: Bools
    clipped: Bools
    shaded: Bools
    lit: Floats
    elevation_deg: Floats
    toward: Floats
    step_h: float
    bank_read: bool


def judged_steps(
    steps: xr.Dataset,
    track: xr.Dataset,
    states: xr.Dataset,
    *,
    controllers: Sequence[Controller],
    bank: Bank,
) -> Judged:
    """Return which steps say something of sky and panels.

    Parameters
    ----------
    steps : xarray.Dataset
        READINGS on the track's steps.
    track : xarray.Dataset
        As the glossary has it.
    states : xarray.Dataset
        Of ``sky_states``.
    controllers : sequence of Controller
        In boat order.
    bank : Bank
    """
    step_h = step_seconds(track) / 3600.0
    read = steps["read_controller_power_w"].to_numpy()
    known = np.isfinite(read)
    elevation = states["sun_elevation_deg"].to_numpy()
    full = held_back(steps, bank)
    settles = np.ones(2 * round(SETTLES_H / step_h) + 1)
    held = (np.convolve(full.astype(np.float64), settles, mode="same") > 0.5)[:, None] & known
    at_limit = np.nan_to_num(read) >= AT_LIMIT * _limits(steps, controllers, bank)
    lit = _worst_lit(states, controllers)
    high = (elevation > LEAST_ELEVATION_DEG)[:, None] & known
    usable = (elevation > DAYLIGHT_DEG)[:, None] & known & ~held & ~at_limit
    watts = np.where(known, np.maximum(read, 0.5), np.nan)
    bearing = np.radians(states["sun_azimuth_deg"].to_numpy() - track["heading_deg"].to_numpy())
    up = np.radians(elevation)
    toward = np.stack([np.cos(up) * np.cos(bearing), np.cos(up) * np.sin(bearing), np.sin(up)], axis=1)
    bank_read = any(np.isfinite(steps[name]).any() for name in ("read_bank_voltage_v", "read_meter_soc"))
    return Judged(
        log_w=np.log(watts),
        rounding=np.where(known, np.square(0.3 / np.nan_to_num(watts, nan=1.0)), 1.0),
        usable=usable,
        fair=usable & high & (lit > LEAST_LIT),
        full=high & held,
        clipped=high & ~held & at_limit,
        shaded=high & ~held & ~at_limit & (lit <= LEAST_LIT),
        lit=lit,
        elevation_deg=elevation,
        toward=toward,
        step_h=step_h,
        bank_read=bank_read,
    )


def held_back(read: xr.Dataset, bank: Bank) -> Bools:
    """Return where volts or monitor say that a full bank may hold the controllers back, (time,).

    Parameters
    ----------
    read : xarray.Dataset
        READINGS.
    bank : Bank
    """
    volts, soc = (read[name].to_numpy() for name in ("read_bank_voltage_v", "read_meter_soc"))
    least_v = bank_params(bank).absorption_v - UNDER_ABSORPTION_V * bank.nominal_v / 12.0
    return np.asarray((np.nan_to_num(volts) >= least_v) | (np.nan_to_num(soc) >= FULL_SOC))


def _limits(steps: xr.Dataset, controllers: Sequence[Controller], bank: Bank) -> Floats:
    """Return the most that each controller delivers at the volts of the bank, (time, controller) [W]."""
    volts = steps["read_bank_voltage_v"].to_numpy()
    at_v = np.where(np.isfinite(volts), volts, bank.nominal_v)
    amps = np.array([controller.max_output_a for controller in controllers])
    watts = np.array([controller.max_output_w or np.inf for controller in controllers])
    return np.asarray(np.minimum(amps * at_v[:, None], watts), dtype=np.float64)


def _worst_lit(states: xr.Dataset, controllers: Sequence[Controller]) -> Floats:
    lit = states["surely_lit_fraction"]
    return np.stack(
        [lit.sel(panel=[name for string in c.strings for name in string]).min("panel") for c in controllers], axis=1
    )
