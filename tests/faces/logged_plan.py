"""A log that holds what a plan said: a healthy boat's, as her display would export it."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import xarray as xr


def write_log(plan_nc: Path, path: Path, *, days: float, every_steps: int = 3) -> Path:
    """Write the planned course of a plan.nc's first days as CSV, rounded as displays round."""
    with xr.open_dataset(plan_nc) as plan:
        steps = slice(0, round(days * 86400.0 / float(np.diff(plan["time"].values[:2])[0] / np.timedelta64(1, "s"))))
        part = plan.isel(time=steps).load()
    watts = part["controller_power_w"].mean("member").values
    offered = np.maximum(watts.sum(axis=1), 1e-9)
    taken = part["planned_solar_power_w"].values / offered
    names = [str(name) for name in part["controller"].values]
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["time", *(f"{name} W" for name in names), "bank V", "bank A", "SOC %", "engine"])
        for t in range(0, part.sizes["time"], every_steps):
            read = [round(float(w * min(taken[t], 1.0))) for w in watts[t]]
            volts, amps = (float(part[f"planned_bank_{what}"].values[t]) for what in ("voltage_v", "current_a"))
            soc, engine = (float(part[f"planned_{what}"].values[t]) for what in ("bank_soc", "engine_on"))
            stamp = str(part["time"].values[t].astype("datetime64[s]")) + "Z"
            writer.writerow([stamp, *read, f"{volts:.2f}", f"{amps:.1f}", round(100.0 * soc), int(engine)])
    return path
