"""The passage, boat and route of our own invention that the plan of the fixture is made from."""

from __future__ import annotations

from datetime import UTC, datetime

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage, Start, Watch, Wishes
from planner.domain.inputs.power import Bank, Controller, Engine, Load, Panel
from planner.domain.inputs.rig import Arch, Bimini, Rig, Sprayhood
from planner.domain.inputs.route import Waypoint
from planner.domain.inputs.sailing import AngleTable, Autopilot, Polar, Sailing, WindTable

DEPARTURE = datetime(2026, 5, 9, 20, 0, tzinfo=UTC)  # 08:00 on the 10th by ship's time
CAPACITY_AH = 400.0
RESERVE = 0.5
ROLES = ("hand", "skipper", "mate")  # from 08:00, 12:00, 16:00 ship's time and again twelve hours later
PANELS = ("arch port", "arch starboard", "bimini port", "bimini middle", "bimini starboard", "coachroof")
CONTROLLERS = (
    ("arch port", ("arch port",)),
    ("arch starboard", ("arch starboard",)),
    ("bimini sides", ("bimini port", "bimini starboard")),
    ("bimini middle", ("bimini middle",)),
    ("coachroof", ("coachroof",)),
)
LOADS = (("steering", 48.0), ("fridge", 42.0), ("instruments", 14.0), ("radar", 12.0), ("navigation lights", 5.0))
SHED = {"radar": 2, "fridge": 3, "steering": 4}
ROUTE = (
    Waypoint(name="Opua", lat=-35.31, lon=174.12),
    Waypoint(name="Off Minerva", lat=-24.4, lon=-178.9),
    Waypoint(name="Nuku'alofa", lat=-21.13, lon=-175.2),
)


def make_boat() -> Boat:
    """Return the 12 m cutter of the fixture."""
    places = {
        "arch port": (-6.3, 0.8, 2.4),
        "arch starboard": (-6.3, -0.8, 2.4),
        "bimini port": (-4.9, 0.8, 2.2),
        "bimini middle": (-4.9, 0.0, 2.25),
        "bimini starboard": (-4.9, -0.8, 2.2),
        "coachroof": (-1.6, 0.6, 0.5),
    }
    rigid = {"max_power_w": 190.0, "max_power_v": 20.4, "max_power_a": 9.31}
    soft = {"max_power_w": 110.0, "max_power_v": 18.5, "max_power_a": 5.95}
    return Boat(
        length_m=12.0,
        beam_m=3.8,
        rig=Rig(
            i_m=15.2,
            j_m=4.6,
            p_m=13.4,
            e_m=4.7,
            boom_height_m=1.6,
            sprayhood=Sprayhood(front_x_m=-2.4, aft_x_m=-3.4, width_m=2.4, height_m=1.3),
            bimini=Bimini(front_x_m=-3.9, aft_x_m=-5.9, width_m=2.4, height_m=2.1),
            arch=Arch(x_m=-6.3, width_m=2.6, height_m=2.3),
        ),
        sailing=Sailing(
            polar=Polar(
                true_wind_speed_kn=(0.0, 10.0, 20.0),
                true_wind_angle_deg=(40.0, 90.0, 150.0),
                speed_kn=((0.0, 5.2, 6.3), (0.0, 6.6, 7.6), (0.0, 5.4, 7.2)),
            ),
            leeway_deg=AngleTable(angle_deg=(30.0, 90.0), value=(5.0, 0.0)),
            heel_deg=WindTable(wind_kn=(0.0, 20.0), value=(0.0, 20.0)),
            boom_angle_deg=AngleTable(angle_deg=(30.0, 150.0), value=(8.0, 75.0)),
            headsail_angle_deg=AngleTable(angle_deg=(30.0, 150.0), value=(10.0, 70.0)),
            hoist=WindTable(wind_kn=(15.0, 30.0), value=(1.0, 0.6)),
            headsail_set=WindTable(wind_kn=(15.0, 30.0), value=(1.0, 0.4)),
            roll_amplitude_deg=AngleTable(angle_deg=(40.0, 160.0), value=(3.0, 10.0)),
        ),
        autopilot=Autopilot(watts=AngleTable(angle_deg=(40.0, 150.0), value=(40.0, 60.0))),
        bank=Bank(chemistry="agm", capacity_ah=CAPACITY_AH, reserve_soc=RESERVE),
        engine=Engine(alternator_a=90.0, charging_l_per_h=1.6, motoring_l_per_h=3.2, tank_l=180.0, landfall_l=40.0),
        panel=tuple(
            Panel(
                name=name,
                centre_m=places[name],
                length_m=1.4,
                width_m=0.7,
                mounting="open" if name.startswith("arch") else "on_canvas" if "bimini" in name else "on_deck",
                open_circuit_v=24.3 if name.startswith("arch") else 21.9,
                short_circuit_a=9.9 if name.startswith("arch") else 6.3,
                cells=36,
                substrings=2,
                **(rigid if name.startswith("arch") else soft),
            )
            for name in PANELS
        ),
        controller=tuple(Controller(name=name, strings=(string,)) for name, string in CONTROLLERS),
        load=tuple(Load(name=name, watts=watts, shed_order=SHED.get(name)) for name, watts in LOADS[1:]),
    )


def make_passage() -> Passage:
    """Return the passage file's content."""
    clock = ("00:00", "04:00", "08:00", "12:00", "16:00", "20:00", "00:00")
    return Passage(
        departure=DEPARTURE,
        boat="boat.toml",
        route="route.gpx",
        forecast="forecast.nc",
        start=Start(state_of_charge=0.92),
        watches=tuple(
            Watch(start=clock[i], end=clock[i + 1], role=ROLES[(i + 1) % 3]) for i in range(len(clock) - 1)
        ),
        wishes=Wishes(quiet_hours=(("22:00", "05:00"),)),
    )
