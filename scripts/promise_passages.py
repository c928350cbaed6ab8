"""Made passages whose weather is known many times over: members to plan on, and more of the same forecast as truth.

Pressure waves travel over a steady wind; each member's waves drift from the others', its wind errs by a vector that
grows from 1 to 4.5 m/s in 100 hours and remembers 30, and its clouds part likewise. All of it is invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.app.inputs import read_inputs
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.hand_weather import WeatherRow
from planner.domain.inputs.power import Bank
from planner.domain.inputs.route import Waypoint
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import Course
from planner.flow.recall import Recall
from planner.flow.stages import course_along, extended, own_courses, sailed
from planner.readers.hand_weather import forecast_by_hand
from planner.simulation.ship_time import ship_offset_along
from planner.studies.wiring import without_panels

Floats = npt.NDArray[np.float64]
Known = Literal["members", "single", "bulletin"]  # of a forecast, when a passage is planned

DEMO: Final = Path(__file__).parents[1] / "data" / "demo" / "passage.toml"
COARSE: Final = (Override("model.points", 6), Override("model.roll_nodes", 1))
PLANNED_ON: Final = 21
STEP_H: Final = 3.0  # h
DAYS: Final = 14.0
ROOM_DEG: Final = 8.0  # degree, of grid beyond the waypoints
GRID_DEG: Final = 2.0
EARTH_KM: Final = 111.2  # km a degree
BULLETIN_H: Final = 12.0  # h between a bulletin's rows
KN: Final = 1852.0 / 3600.0  # m/s, exact


@dataclass(frozen=True)
class Ocean:
    """A passage and the climate that it crosses.

    Attributes
    ----------
    name, boat : str
        What it is called; which boat sails it.
    start, end : (float, float)
        Latitude and longitude [degree].
    departure : datetime
    wind_m_s : (float, float)
        Mean speed at the start and at the end [m/s].
    wind_from_deg : (float, float)
        And from where [degree].
    gloom : float
        Shift of the clouds' normal score.
    waves_m_s : float
        Wind of the pressure waves [m/s].
    """

    name: str
    boat: str
    start: tuple[float, float]
    end: tuple[float, float]
    departure: datetime
    wind_m_s: tuple[float, float]
    wind_from_deg: tuple[float, float]
    gloom: float
    waves_m_s: float


OCEANS: Final = (
    Ocean("south to the tropics", "as in the demo", (-35.0, 174.6), (-21.3, -175.2),
          datetime(2027, 5, 8, 22, tzinfo=UTC), (6.0, 7.5), (230.0, 110.0), 0.0, 3.0),
    Ocean("trades", "two panels", (16.0, -25.0), (14.5, -42.5),
          datetime(2027, 1, 12, 12, tzinfo=UTC), (7.5, 8.0), (55.0, 80.0), -0.3, 1.5),
    Ocean("westerlies", "AGM", (38.0, -60.0), (40.0, -38.0),
          datetime(2027, 6, 2, 12, tzinfo=UTC), (8.0, 8.5), (240.0, 260.0), 0.3, 4.0),
)  # fmt: skip


def boats() -> dict[str, Boat]:
    """Return the demo's boat, one with two of its panels, and one of those with an AGM bank."""
    boat = read_inputs(DEMO, COARSE).boat
    fewer = without_panels(boat, ("bimini port", "bimini middle", "bimini starboard", "coachroof"))
    lead = Bank(chemistry="agm", nominal_v=12, capacity_ah=440.0, reserve_soc=0.5)
    return {"as in the demo": boat, "two panels": fewer, "AGM": fewer.model_copy(update={"bank": lead})}


def persistent(rng: np.random.Generator, shape: tuple[int, ...], memory_h: float) -> Floats:
    """Return unit-variance noise along the last axis with so many hours of memory."""
    keep = float(np.exp(-STEP_H / memory_h))
    noise = rng.standard_normal(shape) * np.sqrt(1.0 - keep**2)
    noise[..., 0] = rng.standard_normal(shape[:-1])
    for step in range(1, shape[-1]):
        noise[..., step] += keep * noise[..., step - 1]
    return noise


def forecast_of(ocean: Ocean, *, members: int, seed: int) -> xr.Dataset:
    """Return a made forecast as readers hand it on; the first member is the control."""
    rng = np.random.default_rng(seed)
    hours = np.arange(0.0, DAYS * 24.0 + STEP_H, STEP_H)
    ends = np.array([ocean.start, ocean.end])
    east_of = (ends[:, 1] - ends[0, 1]) % 360.0
    if east_of[1] > 180.0:
        east_of[1] -= 360.0
    lat = np.arange(ends[:, 0].min() - ROOM_DEG, ends[:, 0].max() + ROOM_DEG, GRID_DEG)
    lon = ends[0, 1] + np.arange(east_of.min() - ROOM_DEG, east_of.max() + ROOM_DEG, GRID_DEG)
    along = np.clip((lat - ends[0, 0]) / (ends[1, 0] - ends[0, 0]), 0.0, 1.0)[:, None] * np.ones(lon.size)
    speed = np.interp(along, [0.0, 1.0], ocean.wind_m_s)
    blows_to = np.radians(np.interp(along, [0.0, 1.0], ocean.wind_from_deg) + 180.0)
    lead = np.clip(hours / 100.0, 0.0, 1.0)
    shape = (members, hours.size, lat.size, lon.size)
    east = np.broadcast_to(speed * np.sin(blows_to), shape).copy()
    north = np.broadcast_to(speed * np.cos(blows_to), shape).copy()
    pressure = np.zeros(shape)
    x_km, y_km = lon * EARTH_KM * np.cos(np.radians(lat.mean())), lat * EARTH_KM
    for _ in range(3):
        wavelength_km, heading, travels_m_s = rng.uniform(1500, 3500), rng.uniform(-0.6, 0.6), rng.uniform(6, 12)
        kx, ky = (2.0 * np.pi / wavelength_km * part for part in (np.cos(heading), np.sin(heading)))
        drift = lead * 0.9 * persistent(rng, (members, hours.size), 60.0)
        swell = 1.0 + lead * 0.3 * persistent(rng, (members, hours.size), 60.0)
        phase = (
            kx * x_km[None, None, None, :]
            + ky * y_km[None, None, :, None]
            - (2.0 * np.pi / wavelength_km * travels_m_s * 3.6 * hours + rng.uniform(0, 2 * np.pi) + drift)[
                :, :, None, None
            ]
        )
        height = swell[:, :, None, None] * np.sin(phase)
        slope = swell[:, :, None, None] * np.cos(phase) * ocean.waves_m_s
        east += -np.sin(heading) * slope
        north += np.cos(heading) * slope
        pressure += height
    errs_m_s = np.sqrt(0.5) * (1.0 + 3.5 * lead)
    east += (errs_m_s * persistent(rng, (members, hours.size), 30.0))[:, :, None, None]
    north += (errs_m_s * persistent(rng, (members, hours.size), 30.0))[:, :, None, None]
    own_share = np.clip(0.1 + 0.7 * hours / 144.0, 0.0, 0.8)
    score = (
        np.sqrt(1.0 - own_share) * persistent(rng, (1, hours.size), 30.0)
        + np.sqrt(own_share) * persistent(rng, (members, hours.size), 30.0)
        + 0.4 * persistent(rng, (members, hours.size), 6.0)
    )
    cover = 1.0 / (1.0 + np.exp(-1.5 * (score[:, :, None, None] + ocean.gloom - 0.4 * pressure)))
    fields = {
        "wind_east_m_s": east,
        "wind_north_m_s": north,
        "air_temp_c": np.full(shape, 20.0),
        "cloud_cover": cover,
    }
    return xr.Dataset(
        {name: (("member", "time", "lat", "lon"), values.astype(np.float32)) for name, values in fields.items()},
        coords={
            "member": np.arange(members),
            "time": np.datetime64(ocean.departure.replace(tzinfo=None), "ns")
            + (hours * 3.6e12).astype("timedelta64[ns]"),
            "lat": lat,
            "lon": lon,
        },
        attrs={"source": "made", "notes": "", "issued": ocean.departure.strftime("%Y-%m-%dT%H:%M:%SZ")},
    )


@dataclass(frozen=True, eq=False)
class Passages:
    """One forecast's passages.

    Attributes
    ----------
    inputs : Inputs
        Of the members that are planned on.
    ship_offset : timedelta or ShipClock
    control : Course
        All those along the control's track.
    planning, truths : tuple of Course
        Each member on its own track.
    """

    inputs: Inputs
    ship_offset: ShipOffset
    control: Course
    planning: tuple[Course, ...]
    truths: tuple[Course, ...]


def planned_on(inputs: Inputs, offset: ShipOffset) -> tuple[Course, tuple[Course, ...]]:
    """Return the control's course, and every member's that the forecast of the inputs has, on its own track."""
    recall = Recall()
    forecast = extended(inputs, recall)
    control = course_along(sailed(inputs, forecast, recall), forecast, inputs, ship_offset=offset, recall=recall)
    members = range(control.harvest.sizes["member"])
    return control, own_courses(control, forecast, inputs, ship_offset=offset, members=members)


def bulletin_of(control: xr.Dataset, track: xr.Dataset) -> xr.Dataset:
    """Return what a crew types that hears the control's weather along its track: a row for every half day.

    Cloud in whole eighths, wind in points of the compass and steps of 5 kn.
    """
    middles = track.isel(time=slice(0, None, round(BULLETIN_H / 2.0 * 3600.0 / track.attrs["step_s"])))
    lon = middles["lon"].where(middles["lon"] >= control["lon"][0], middles["lon"] + 360.0)
    said = control.isel(member=0).interp(time=middles["time"], lat=middles["lat"], lon=lon)
    rows = []
    for begins, heard in zip(middles["time"].values[::2], range(1, middles.sizes["time"], 2), strict=False):
        east, north = float(said["wind_east_m_s"][heard]), float(said["wind_north_m_s"][heard])
        rows.append({
            "from": datetime.fromtimestamp(int(begins.astype("datetime64[s]").astype(int)), UTC),
            "oktas": round(8.0 * float(said["cloud_cover"][heard])),
            "wind_from_deg": 22.5 * round(np.degrees(np.arctan2(-east, -north)) % 360.0 / 22.5) % 360.0,
            "wind_kn": 5.0 * round(np.hypot(east, north) / KN / 5.0),
        })  # fmt: skip
    rows[-1]["until"] = rows[-1]["from"] + timedelta(days=7)
    return forecast_by_hand([WeatherRow.model_validate(row) for row in rows], where="bulletin")


def passages(ocean: Ocean, *, truths: int, seed: int, known: Known) -> Passages:
    """Sail one made forecast: what is known of it to plan on, and further members as truth."""
    demo = read_inputs(DEMO, COARSE)
    whole = forecast_of(ocean, members=PLANNED_ON + truths, seed=seed)
    zone = timedelta(hours=round(ocean.start[1] / 15.0))
    departure = ocean.departure.astimezone(timezone(zone))
    passage = demo.passage.model_copy(update={"departure": departure})
    route = (Waypoint(name="start", lat=ocean.start[0], lon=ocean.start[1]),
             Waypoint(name="end", lat=ocean.end[0], lon=ocean.end[1]))  # fmt: skip
    boat = boats()[ocean.boat]
    inputs = replace(
        demo,
        passage=passage,
        route=route,
        boat=boat,
        ship_offset=zone,
        forecast=whole.isel(member=slice(0, PLANNED_ON if known == "members" else 1)),
    )
    track = sailed(inputs, extended(inputs, Recall()), Recall())
    if known == "bulletin":
        inputs = replace(inputs, forecast=bulletin_of(whole, track))
    offset = ship_offset_along(passage, track, zone)
    control, planning = planned_on(inputs, offset)
    later = extended(replace(inputs, forecast=whole), Recall())
    unseen = range(PLANNED_ON, PLANNED_ON + truths)
    return Passages(
        inputs=inputs,
        ship_offset=offset,
        control=control,
        planning=planning,
        truths=own_courses(control, later, inputs, ship_offset=offset, members=unseen),
    )
