"""What each controller yields under any sky, by the scalar reference with other physics than the planner's.

Along the passage's track, every daylight step, at some states of the sky: the reference's shade and array, but the
beam is split from the sky by Boland, Ridley and Lauret (2008), cells warm by Faiman (2008), and the hull rolls and
yaws by draws instead of a regular swing. That is slow, and the same for every sky, so it is done once a boat and kept
in ``yields/`` (``make_yields.py``); what changes from log to log is read out of it.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import model_array
import model_shade
import numpy as np
from model_cells import Attitude, Series, rough_tops
from model_chain import Chain
from model_layout import grid, wiring
from model_sky import middle

KEPT = Path(__file__).parent / "yields"
VERSION = 2  # of what is kept; raised with every change here that moves a figure
CLEARNESS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0, 1.25)  # states of the sky: light over the clear sky's
NODES = 3  # draws of roll a step
POINTS = 4  # of shade a cell
YAW_DEG, HEEL_DEG, PITCH_DEG = 3.0, 1.5, 1.0  # degree, how she wanders about the planned attitude
AIR_WARMER_C = 1.0  # C, than forecast
FAIMAN = {"open": (25.0, 6.84), "ventilated": (20.0, 4.0), "on_canvas": (13.0, 2.0), "on_deck": (13.0, 2.0)}
WEAK = 0.8  # of its light, in the table of a weak panel
DAYS = 29  # of the passage, that are worked through
FAULTY = {
    "as listed": {"arch port": ("weak", "substring out", "no beam"), "bimini port": ("weak",)},
    "each alone": {"bimini port": ("weak", "substring out", "no beam")},
}
"""Panels whose faults are in the table; a panel in parallel takes the reference long."""


@dataclass(frozen=True)
class Yields:
    """What is kept of a boat's passage.

    Attributes
    ----------
    rows : list of dict
        The reference's track, with ``clear_w_m2``, ``sun_azimuth_deg`` and ``sun_elevation_deg`` at mid-step.
    power_w : dict
        (controller, panel at fault or "", case) -> array (step, clearness).
    """

    rows: list[dict]
    power_w: dict[tuple[str, str, str], np.ndarray]


def diffuse_share(clearness: float) -> float:
    """Diffuse over global irradiance by the clearness index (Boland, Ridley and Lauret 2008, Renewable Energy 33)."""
    return 1.0 / (1.0 + math.exp(8.645 * (clearness - 0.613)))


def light_of(index: float, sun: dict) -> tuple[float, float, float]:
    """Global, direct normal and diffuse irradiance at a clear-sky index."""
    up = math.sin(math.radians(sun["sun_elevation_deg"]))
    ghi = sun["clear_w_m2"] * index
    if up <= 0.0 or ghi <= 0.0:
        return 0.0, 0.0, 0.0
    plain = sun["clear_w_m2"] * min(index, 1.0)  # what is more than that comes off the edges of clouds
    share = max(diffuse_share(plain / (sun["above_w_m2"] * max(up, 0.065))), 0.09)
    return ghi, min(plain * (1.0 - share) / max(up, 0.02), 0.85 * sun["above_w_m2"]), plain * share + ghi - plain


def rolled(row: dict, draw: random.Random) -> dict:
    """An attitude at a moment: roll at a random phase and of a random size of the same energy, and some wander."""
    size = row["roll_amplitude_deg"] * math.sqrt(draw.expovariate(1.0))
    return row | {
        "heel_deg": row["heel_deg"] + size * math.cos(draw.uniform(0.0, 2.0 * math.pi)) + draw.gauss(0.0, HEEL_DEG),
        "heading_deg": row["heading_deg"] + draw.gauss(0.0, YAW_DEG),
        "pitch_deg": row["pitch_deg"] + draw.gauss(0.0, PITCH_DEG),
        "roll_amplitude_deg": 0.0,
    }


def make(chain: Chain, boat_name: str, *, seed: int = 1) -> dict[str, np.ndarray]:
    """Work the whole passage through; arrays by name as they are kept."""
    boat, rows = chain.boat, chain.rows[: round(DAYS * 86400.0 / chain.step_s)]
    cases = [(controller, "", "sound") for controller in boat.controller]
    cases += [
        (controller, panel, case)
        for panel, faults in FAULTY[boat_name].items()
        for controller in boat.controller
        if any(panel in string for string in controller.strings)
        for case in faults
    ]
    power = np.zeros((len(cases), len(rows), len(CLEARNESS)))
    for t, row in enumerate(rows):
        moment = middle(row, chain.step_s)
        sun = chain.sky.sun(*moment)
        row |= {name: sun[name] for name in ("sun_azimuth_deg", "sun_elevation_deg", "clear_w_m2")}
        row["air_temp_c"] = chain.sky.sample("air_temp_c", 0, *moment)
        if sun["sun_elevation_deg"] > 0.0:
            power[:, t] = _step(chain, t, sun, cases, random.Random(f"{seed} {t}"))
    names = [name for name in rows[0] if name != "time"]
    keys = [f"{controller.name}|{panel}|{case}" for controller, panel, case in cases]
    # to 0.02 W, in whole numbers, which pack well
    return {
        "version": np.array(VERSION),
        "start": np.array(rows[0]["time"].isoformat()),
        "step_s": np.array(chain.step_s),
        "names": np.array(names),
        "rows": np.array([[float(row[name]) for name in names] for row in rows], dtype=np.float32).T,
        "keys": np.array(keys),
        "power": np.round(power * 50.0).astype(np.uint16),
    }


def kept(boat_name: str) -> Yields:
    """What ``make_yields.py`` has kept for a boat."""
    from datetime import datetime

    with np.load(path_of(boat_name)) as file:
        held = {name: file[name] for name in file}
    if int(held["version"]) != VERSION:
        raise ValueError(f"yields/ holds version {held['version']}, not {VERSION}: run make_yields.py")
    start, step = datetime.fromisoformat(str(held["start"])), timedelta(seconds=float(held["step_s"]))
    names = [str(name) for name in held["names"]]
    rows = [
        dict(zip(names, column.tolist(), strict=True)) | {"time": start + t * step}
        for t, column in enumerate(held["rows"].astype(float).T)
    ]
    keys = [tuple(str(key).split("|")) for key in held["keys"]]
    return Yields(rows, dict(zip(keys, held["power"].astype(float) / 50.0, strict=True)))


def path_of(boat_name: str) -> Path:
    return KEPT / f"{boat_name.replace(' ', '-')}.npz"


def _step(chain: Chain, t: int, sun: dict, cases: list, draw: random.Random) -> np.ndarray:
    """Power of each case at each state of the sky, over the draws of roll."""
    row, boat = chain.rows[t], chain.boat
    views = chain.view.views(t)
    toward = (sun["sun_azimuth_deg"], sun["sun_elevation_deg"])
    wind_kn = [
        row["apparent_wind_speed_kn"] * model_array.lee(boat.rig.sprayhood, panel, row["apparent_wind_angle_deg"])
        for panel in boat.panel
    ]
    nodes = [
        model_shade.beam(boat.rig, boat.panel, rolled(row, draw), toward, points=POINTS, nodes=1) | views
        for _ in range(NODES)
    ]
    dirt = [panel[t] for panel in chain.dirt[0]]
    power = np.zeros((len(cases), len(CLEARNESS)))
    for k, index in enumerate(CLEARNESS):
        ghi, dni, dhi = light_of(index, sun)
        light = model_array.split_sky(sun["sun_elevation_deg"], ghi, dni, dhi, sun["day_of_year"])
        grade = model_array.gradation(sun["sun_elevation_deg"], dni, dhi)
        wired, states = model_array.Wired(), []
        for shade in nodes:
            gains = _gains(boat.panel, light, grade, shade, dirt)
            warm = [
                row["air_temp_c"] + AIR_WARMER_C + _warmer_c(panel, *gain, wind)
                for panel, gain, wind in zip(boat.panel, gains, wind_kn, strict=True)
            ]
            states.append({"gains": gains, "shade": shade, "warm": warm})
        for c, (controller, panel, case) in enumerate(cases):
            power[c, k] = _delivered(chain, controller, wired, states, faulty=panel, case=case)
    return power


def _gains(panels, light, grade: float, shade: dict, dirt: list[float]) -> list[tuple[float, float, float]]:
    """Direct light on an unshaded cell, the sky's and the sea's light of each panel [W/m2]."""
    beam, sky, sea = light
    gains = []
    for p, panel in enumerate(panels):
        facing = max(shade["cosines"][0][p], 0.0)
        even = shade["sky_view"][p]
        view = max(even + grade * (shade["overcast_view"][p] - even), 0.0)
        kept_part = max(0.0, 1.0 - panel.ageing_per_year * panel.age_years) * (1.0 - dirt[p])
        tilt = min(math.degrees(math.acos(min(max(1.0 - 2.0 * shade["sea_view"][p], -1.0), 1.0))), 90.0)
        sky_iam = model_array.incidence(math.cos(math.radians(59.7 - 0.1388 * tilt + 0.001497 * tilt**2)))
        sea_iam = model_array.incidence(math.cos(math.radians(90.0 - 0.5788 * tilt + 0.002693 * tilt**2)))
        diffuse = (kept_part * sky * view * sky_iam, kept_part * sea * shade["sea_view"][p] * sea_iam)
        gains.append((beam * facing * model_array.incidence(facing) * kept_part, *diffuse))
    return gains


def _warmer_c(panel, direct: float, from_sky: float, from_sea: float, wind_kn: float) -> float:
    """How much warmer than the air cells are (Faiman 2008, Progress in Photovoltaics 16)."""
    still, by_wind = FAIMAN[panel.mounting]
    return (direct + from_sky + from_sea) / (still + by_wind * wind_kn * 1852.0 / 3600.0)


def _delivered(chain: Chain, controller, wired, states: list[dict], *, faulty: str, case: str) -> float:
    """What a controller puts on the bus over the draws of roll, one panel being at fault in the case's way."""
    panels = chain.boat.panel
    index = {panel.name: p for p, panel in enumerate(panels)}
    wire = 2.0 * controller.wire_length_m * 0.017241 / controller.wire_section_mm2
    attitudes = []
    for state in states:
        strings = []
        for names in controller.strings:
            parts = []
            for name in names:
                p = index[name]
                light = _on_cells(panels[p], p, state, case if name == faulty else "sound")
                parts += wired.panel(panels[p], light, state["warm"][p])
            strings.append(Series(parts))
        attitudes.append((1.0 / len(states), Attitude(strings, wire)))
    least_v = max(chain.bus_v + controller.headroom_v, controller.min_input_v)
    tops = rough_tops(attitudes, least_v, controller.tracker)
    rated = min(controller.max_output_a * chain.bus_v, controller.max_output_w or math.inf)
    curve = controller.efficiency_curve
    delivered = 0.0
    for weight, attitude in attitudes if tops else ():
        power = tops[0][1] * sum(attitude.at(tops[0][1])[0])
        efficiency = controller.efficiency * float(np.interp(power / rated, curve.load, curve.value))
        delivered += weight * max(0.0, min(efficiency * power, rated))
    return delivered


def _on_cells(panel, p: int, state: dict, case: str) -> list[float]:
    """Light that each of a panel's cells uses [W/m2], its fault counted."""
    direct, from_sky, from_sea = state["gains"][p]
    beam = 0.0 if case == "no beam" else direct
    on_cells = zip(state["shade"]["lit"][0][p], state["shade"]["share"][p], strict=True)
    light = [
        (beam * lit + from_sky * share + from_sea) * (WEAK if case == "weak" else 1.0) for lit, share in on_cells
    ]
    if case == "substring out":  # no light current, so that its bypass diode carries the string's
        for number in (cell for group in wiring(panel, grid(panel))[0] for cell in group):
            light[number] = 0.0
    return light
