"""How a plan and the reference model are set side by side: within 1e-6, absolute or relative, whichever is more."""

from __future__ import annotations

import math
from collections.abc import Iterable

import model_ledger
import numpy as np
from model_chain import Chain

TOLERANCE = 1e-6
ANGLES = ("course_deg", "heading_deg", "heading_magnetic_deg", "leg_bearing_deg", "true_wind_from_deg")
ANGLES = (*ANGLES, "true_wind_angle_deg", "apparent_wind_angle_deg", "sun_azimuth_deg", "lon")
"""Quantities that are the same a full turn on."""
SKY = ("sun_azimuth_deg", "sun_elevation_deg", "cloud_cover", "ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_temp_c")
PANELS = (
    "wire_loss_power_w",
    "soiled_fraction",
    "poa_w_m2",
    "beam_lit_fraction",
    "sky_view_fraction",
    "cell_temp_c",
    "panel_power_w",
    "controller_power_w",
)


class Worst:
    """The largest difference of each quantity, against 1 or the value itself, whichever is larger."""

    def __init__(self) -> None:
        self.of: dict[str, tuple[float, object]] = {}

    def add(self, name: str, reference, given, where: object = None) -> None:
        difference = np.asarray(reference, dtype=float) - np.asarray(given, dtype=float)
        if name in ANGLES:
            difference = (difference + 180.0) % 360.0 - 180.0
        size = np.abs(difference) / np.maximum(1.0, np.abs(np.asarray(given, dtype=float)))
        worst = float(np.max(np.where(np.isnan(size), math.inf, size), initial=0.0))
        if worst >= self.of.get(name, (-1.0, None))[0]:
            self.of[name] = (worst, where if where is not None else int(np.argmax(size)))

    def assert_close(self) -> None:
        assert self.of
        print({name: f"{worst:.0e}" for name, (worst, _) in self.of.items()})  # with -s or on failure
        apart = {name: found for name, found in self.of.items() if found[0] > TOLERANCE}
        assert not apart, f"differences beyond {TOLERANCE}: {apart}"


def compare_track(worst: Worst, rows: list[dict], track) -> None:
    assert len(rows) == track.sizes["time"]
    for name in rows[0]:
        if name != "time":
            worst.add(name, [row[name] for row in rows], track[name].to_numpy())


def compare_sky(worst: Worst, chain: Chain, plan, members: list[int], steps: Iterable[int]) -> None:
    for t in steps:
        for member, sky in zip(members, chain.light(t, members), strict=True):
            _compare_at(worst, SKY, sky, plan, member=member, t=t)


def compare_harvest(worst: Worst, chain: Chain, plan, members: list[int], steps: Iterable[int]) -> None:
    for t in steps:
        for member, harvest in zip(members, chain.harvest(t, members), strict=True):
            _compare_at(worst, (*SKY, *PANELS), harvest, plan, member=member, t=t)


def _compare_at(worst: Worst, names, reference: dict, plan, *, member: int, t: int) -> None:
    for name in names:
        given = plan[name].isel(time=t)
        if "member" in given.dims:
            given = given.isel(member=member)
        worst.add(name, reference[name], given.to_numpy(), (member, t))


def compare_demand(worst: Worst, plan, *, boat, watches, ship_offset, step_s: float) -> None:
    rows = rows_of(plan)
    solar = plan["controller_power_w"].sum("controller").to_numpy().tolist()
    air = plan["air_temp_c"].to_numpy().tolist()
    about = {"boat": boat, "watches": watches, "ship_offset": ship_offset, "step_s": step_s}
    total, items = model_ledger.demand(rows, air, solar, **about)
    worst.add("demand_power_w", total, plan["demand_power_w"].to_numpy())
    for name in plan["load"].to_numpy():
        worst.add(f"load {name}", items[str(name)], plan["load_item_power_w"].sel(load=name).to_numpy())


def compare_ledger(worst: Worst, plan, members: list[int], *, boat, policy, start_soc, ship_offset, step_s) -> None:
    rows = rows_of(plan)
    other = [model_ledger.other_w(row, boat, ship_offset) for row in rows]
    motoring = [row["under_engine"] for row in rows]
    for member in members:
        solar = plan["controller_power_w"].isel(member=member).sum("controller").to_numpy().tolist()
        asked = plan["demand_power_w"].isel(member=member).to_numpy().tolist()
        about = {"boat": boat, "policy": policy, "start_soc": start_soc, "step_s": step_s}
        ledger = model_ledger.simulate(solar, asked, motoring, other, **about)
        for name in set(ledger[0]) - {"soc_next", "fuel_l"}:
            worst.add(name, [step[name] for step in ledger], plan[name].isel(member=member).to_numpy())
        worst.add("bank_soc_end", ledger[-1]["soc_next"], float(plan["bank_soc_end"].isel(member=member)))


def rows_of(plan) -> list[dict]:
    """Track and sun of a plan, a dict a step."""
    names = [str(name) for name in plan.variables if plan[name].dims == ("time",) and name != "time"]
    columns = {name: plan[name].to_numpy().tolist() for name in names}
    times = plan["time"].to_numpy().astype("M8[us]").tolist()
    return [
        {name: column[t] for name, column in columns.items()} | {"time": moment} for t, moment in enumerate(times)
    ]
