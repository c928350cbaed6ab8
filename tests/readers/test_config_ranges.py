"""What no boat and no sea has is refused, with its key, what was given and what is allowed."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.config import parse_override, read_configuration


def messages(path: Path, *overrides: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_configuration(path, [parse_override(text) for text in overrides])
    return [str(fault) for fault in caught.value.faults]


HOUR = "from=2027-05-09T10:00:00+12:00, until=2027-05-18T10:00:00+12:00, sky='clear', wind_from='SE'"


@pytest.mark.parametrize(
    ("override", "expected"),
    [
        (
            "boat.bank.capacity_ah=1e-308",
            "boat.toml: bank.capacity_ah: 1e-308 is not 5 to 20000. Is it in ampere-hours",
        ),
        ("boat.bank.capacity_ah=1e300", "boat.toml: bank.capacity_ah: 1e+300 is not 5 to 20000."),
        ("boat.bank.health=1e-9", "bank.health: 1e-09 is not 0.1 to 1. It is a part of 1"),
        ("boat.bank.temp_c=68", "bank.temp_c: 68 is not -40 to 60. Is it in degrees Celsius?"),
        ("boat.engine.alternator_a=1e12", "engine.alternator_a: 1e+12 is not 0 to 1000. Is it in amperes?"),
        ("boat.load.fridge.watts=1e12", "load.fridge.watts: 1e+12 is not 0 to 50000. Is it in watts?"),
        ("boat.load.fridge.wh_per_day=1e12", "load.fridge.wh_per_day: 1e+12 is not 0.1 to"),
        ("boat.inverter.efficiency=1e-300", "inverter.efficiency: 1e-300 is not 0.3 to 1."),
        ("boat.panel.coachroof.length_m=1200", "panel.coachroof.length_m: 1200 is not 0.05 to 5. Is it in metres?"),
        ("boat.panel.coachroof.centre_m=[-70, 0, 1]", "panel.coachroof.centre_m.0: -70 is not -60 to 60."),
        ("boat.panel.coachroof.tilt_deg=1e6", "panel.coachroof.tilt_deg: 1e+06 is not 0 to 180."),
        (
            "boat.panel.coachroof.power_per_c=-0.4",
            "power_per_c: -0.4 is not -0.01 to 0.01. It is a part of 1 a degree",
        ),
        (
            "boat.controller.arch.wire_section_mm2=0.6",
            "wire_section_mm2: 0.6 is not 0.75 to 500. It is copper in mm2",
        ),
        ("boat.rig.p_m=1200", "rig.p_m: 1200 is not 2 to 90. Is it in metres?"),
        ("boat.length_m=1200", "length_m: 1200 is not 5 to 60. Is it in metres?"),
        ("boat.sailing.motoring_speed_kn=50", "sailing.motoring_speed_kn: 50 is not 0.5 to 25. Is it in knots?"),
        (
            "boat.sailing.anchored.roll_amplitude_deg=1e6",
            "sailing.anchored.roll_amplitude_deg: 1e+06 is not 0 to 60.",
        ),
        (
            "boat.sailing.roll_amplitude_deg.value=[3, 3, 5, 7, 10, 1e6]",
            "sailing.roll_amplitude_deg: 1e+06 is not 0 to 60.",
        ),
        ("boat.sailing.hoist.value=[1, 1, 0.85, 0.7, 55]", "sailing.hoist: 55 is not 0 to 1. It is a part of 1"),
        (
            "boat.autopilot.watts.value=[-5, 1, 1, 1, 1, 1]",
            "autopilot.watts: -5 is not 0 to 5000. Steering draws power",
        ),
        ("boat.sailing.polar.speed_kn.3.4=640", "sailing.polar.speed_kn.3.4: 640 is not 0 to 65."),
        (f"weather=[{{{HOUR}, wind_kn=400}}]", "weather.0.wind_kn: 400 is not 0 to 200. Is it in knots?"),
        (f"weather=[{{{HOUR}, wind_kn=4, rain_mm_h=1e308}}]", "weather.0.rain_mm_h: 1e+308 is not 0 to 500."),
        (f"weather=[{{{HOUR}, wind_kn=4, air_temp_c=68}}]", "weather.0.air_temp_c: 68 is not -40 to 55. Is it in"),
        ("model.seed=-1", "model.seed: -1 is not 0 to"),
        ("waits=[{at_waypoint='northing', hours=1e300}]", "waits.0.hours: 1e+300 is not 0.01 to 1440."),
        (
            "departure=9999-12-31T23:00:00Z",
            "passage.toml: departure: the year 9999 is not 1900 to 2200. Is it a",
        ),
        ("departure=0001-01-01T00:00:00Z", "departure: the year 1 is not 1900 to 2200."),
        ("arrival=9999-12-31T23:00:00Z", "arrival: the year 9999 is not 1900 to 2200."),
        ("waits=[{at_waypoint='northing', until=9999-12-31T00:00:00Z}]", "waits.0.until: the year 9999 is not"),
        (f"boat.panel.coachroof.cells={10**400}", "panel.coachroof.cells: a number of 401 digits is not 1 to 400."),
        ("ship_time.offset_hours=1e6", "ship_time.offset_hours: 1e+06 is not -14 to 14."),
    ],
)
def test_each_absurd_figure_is_refused_with_its_key_and_range(demo: Path, override: str, expected: str) -> None:
    (message,) = messages(demo, override)
    assert expected in message


def test_all_absurd_figures_of_both_files_come_together(demo: Path) -> None:
    found = messages(
        demo, "boat.bank.temp_c=1e6", "boat.bank.capacity_ah=0", "boat.rig.i_m=0.1", "current.drift_kn=99"
    )
    assert len(found) == 4


@pytest.mark.parametrize(
    "override",
    [
        "boat.bank.capacity_ah=5",
        "boat.bank.capacity_ah=20000",
        "boat.length_m=60",
        "boat.engine.alternator_a=0",
        "boat.load.fridge.watts=50000",
        "boat.panel.coachroof.tilt_deg=180",
    ],
)
def test_the_ends_of_a_range_are_allowed(demo: Path, override: str) -> None:
    read_configuration(demo, [parse_override(override)])


@pytest.mark.parametrize("field", ["nan", "inf", "true", "'12'"])
def test_what_is_no_finite_number_is_refused_as_such(demo: Path, field: str) -> None:
    (message,) = messages(demo, f"boat.bank.capacity_ah={field}")
    assert "capacity_ah: given" in message
