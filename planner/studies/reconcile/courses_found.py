"""What was read beside what a sound boat would show, step by step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats
from planner.domain.glossary import HARVEST
from planner.domain.inputs.boat import Boat
from planner.domain.results.reconcile.courses import ControllerCourse, Courses
from planner.domain.schema import attributes
from planner.simulation.ledger.simulate import mean_harvest, simulate
from planner.studies.reconcile.evidence import SIGMAS
from planner.studies.reconcile.hours import LEVEL
from planner.studies.reconcile.logged_policy import policy_of_record, ran, track_of_record
from planner.studies.reconcile.panels_found import Held

if TYPE_CHECKING:
    import xarray as xr


LEAST_W: Final = 0.5  # W; a display of whole watts shows no less


def courses_of(held: Held, steps: xr.Dataset, track: xr.Dataset, demand: xr.Dataset, *, boat: Boat) -> Courses:
    """Return read and expected of controllers and bank along the track.

    The bank's is the ledger under the log's engine, begun at the first state of charge that the monitor showed, with
    controllers as read, or as expected where they were not, and the loads of the list.

    Parameters
    ----------
    held : Held
        Readings compared with the model.
    steps : xarray.Dataset
        READINGS on the track's steps, the clock put right.
    track, demand : xarray.Dataset
        As the glossary has them, over the same steps.
    boat : Boat
    """
    expected, low, high = _expected(held)
    read, shown = (steps[f"read_{name}"].to_numpy() for name in ("controller_power_w", "meter_soc"))
    known = np.flatnonzero(np.isfinite(shown))
    soc = volts = np.full(shown.size, np.nan)
    if known.size:
        first, start_soc = int(known[0]), float(shown[known[0]])
        soc, volts = ledger_of_record(
            delivered_w(held, steps), first, start_soc, steps=steps, track=track, demand=demand, boat=boat
        )
    return Courses(
        time=held.time,
        step_s=held.judged.step_h * 3600.0,
        controllers=tuple(
            ControllerCourse(
                controller.name, read[:, c], expected[:, c], low[:, c], high[:, c], _use(held, read[:, c], c)
            )
            for c, controller in enumerate(boat.controller)
        ),
        sun_elevation_deg=held.judged.elevation_deg,
        engine_on=ran(steps, track).astype(np.float64),
        read_soc=shown,
        model_soc=soc,
        read_v=steps["read_bank_voltage_v"].to_numpy(),
        model_v=volts,
    )


def delivered_w(held: Held, steps: xr.Dataset) -> Floats:
    """Return what controllers delivered, (time, controller): as read, or as expected where they were not [W]."""
    read = steps["read_controller_power_w"].to_numpy()
    return np.where(np.isfinite(read), read, np.nan_to_num(_expected(held)[0]))


def _expected(held: Held) -> tuple[Floats, Floats, Floats]:
    """Return the watts of sound controllers and their interval; none by night, NaN where none showed the sky."""
    sky, judged = held.sky, held.judged
    unknown = ((sky.controllers_used == 0) & (judged.elevation_deg > 0.0))[:, None]
    dark = (judged.elevation_deg <= 0.0)[:, None]
    sd = np.minimum(np.sqrt(sky.variance + LEVEL**2 + sky.log_index_sd[:, None] ** 2), 1.0)

    def shown(log_watts: Floats) -> Floats:
        watts = np.exp(log_watts)
        return np.where(unknown, np.nan, np.where(dark | (watts < LEAST_W), 0.0, watts))

    return shown(sky.expected), shown(sky.expected - SIGMAS * sd), shown(sky.expected + SIGMAS * sd)


def _use(held: Held, read: Floats, c: int) -> npt.NDArray[np.str_]:
    judged = held.judged
    return np.select(
        [
            judged.elevation_deg <= 0.0,
            np.isnan(read),
            judged.full[:, c],
            judged.clipped[:, c],
            judged.shaded[:, c],
            judged.fair[:, c],
        ],
        ["no sun", "not read", "full bank", "clipped", "shaded", "judged"],
        default="unsure",
    ).astype(np.str_)


def ledger_of_record(
    delivered: Floats,
    first: int,
    start_soc: float,
    *,
    steps: xr.Dataset,
    track: xr.Dataset,
    demand: xr.Dataset,
    boat: Boat,
) -> tuple[Floats, Floats]:
    """Return state of charge and volts by the ledger under the log's engine, (time,) each; NaN before it begins.

    Parameters
    ----------
    delivered : array (time, controller)
        Of the controllers [W].
    first : int
        Step in which it begins.
    start_soc : float
        State of charge then [0..1].
    steps, track, demand, boat
        As for ``courses_of``.
    """
    soc, volts = np.full(len(delivered), np.nan), np.full(len(delivered), np.nan)
    here, engine_ran = slice(first, None), ran(steps, track)
    sailed = track_of_record(track, engine_ran).isel(time=here)
    quantity = HARVEST["controller_power_w"]
    harvest = (
        sailed[["lat"]]
        .drop_vars("lat")
        .assign(controller_power_w=(quantity.dims, delivered[None, here], attributes(quantity)))
    )
    ledger = simulate(
        harvest,
        mean_harvest(demand).isel(time=here),
        sailed,
        bank=boat.bank,
        engine=boat.engine.model_copy(update={"available": True}),
        policy=policy_of_record(engine_ran[here], sailed),
        start_soc=float(np.clip(start_soc, 0.0, 1.0)),
    )
    soc[here], volts[here] = ledger["bank_soc"].values[0], ledger["bank_voltage_v"].values[0]
    return soc, volts
