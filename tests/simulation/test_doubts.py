"""What is legal but beyond any boat is warned of, the worst first, until it is acknowledged."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from planner.domain.results.note import Note
from planner.readers.config import Configuration, parse_override, read_configuration
from planner.simulation.doubts import doubts
from planner.simulation.harvest.fit import panels_meet

CALM = xr.Dataset({name: ("time", np.zeros(3)) for name in ("wind_east_m_s", "wind_north_m_s")})
DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"


def read(*overrides: str) -> Configuration:
    return read_configuration(DEMO, [parse_override(text) for text in overrides])


def told(*overrides: str, forecast: xr.Dataset = CALM) -> list[Note]:
    found = read(*overrides)
    return list(doubts(found.boat, found.passage, forecast))


def keys(notes: list[Note]) -> list[Any]:
    return [note.figures["key"] for note in notes]


def test_the_demo_is_beyond_doubt() -> None:
    assert told() == []


@pytest.mark.parametrize(
    ("override", "code", "key"),
    [
        ("boat.bank.capacity_ah=5280", "unusual", "boat.bank.capacity_ah"),
        ("boat.engine.alternator_a=0", "unusual", "boat.engine.alternator_a"),
        ("boat.engine.charging_l_per_h=18", "unusual", "boat.engine.charging_l_per_h"),
        ("boat.engine.max_heel_deg=2", "unusual", "boat.engine.max_heel_deg"),
        ("boat.panel.coachroof.tilt_deg=100", "unusual", "boat.panel.coachroof.tilt_deg"),
        ("boat.load.fridge.watts=6000", "unusual", "boat.load.fridge.watts"),
        ("boat.controller.arch.max_output_a=2", "unusual", "boat.controller.arch.max_output_a"),
        ("boat.panel.coachroof.length_m=0.5", "panel_too_strong", "boat.panel.coachroof.max_power_w"),
        ("boat.panel.coachroof.centre_m=[-15, 0.5, 0.45]", "panel_off_hull", "boat.panel.coachroof.centre_m"),
        ("boat.panel.bimini middle.centre_m=[-4.75, 0.3, 1.72]", "panels_meet", "boat.panel.bimini middle.centre_m"),
        ("boat.rig.p_m=30", "mast_and_hull", "boat.length_m"),
        ("boat.bank.charge_limit_c=0.2", "charger_over_bank", "boat.engine.alternator_a"),
        ("boat.inverter.rated_w=50", "loads_over_inverter", "boat.inverter.rated_w"),
        ("current.drift_kn=9", "unusual", "current.drift_kn"),
    ],
)
def test_each_is_told_with_its_key_and_can_be_acknowledged(override: str, code: str, key: str) -> None:
    assert (code, key) in {(note.code, note.figures["key"]) for note in told(override)}
    assert key not in keys(told(override, f'acknowledged=["{key}"]'))


def test_a_small_bank_is_beyond_both_what_boats_have_and_its_alternator() -> None:
    codes = [note.code for note in told("boat.bank.capacity_ah=22")]
    assert codes == ["charger_over_bank", "unusual"]


def test_what_cannot_be_stands_before_what_is_odd_and_the_oddest_before_the_rest() -> None:
    found = told(
        "boat.engine.alternator_a=310", "boat.bank.capacity_ah=9000", "boat.panel.coachroof.length_m=0.3",
        "boat.engine.charging_l_per_h=7",
    )  # fmt: skip
    assert [note.code for note in found[:1]] == ["panel_too_strong"]
    odd = [note.figures["key"] for note in found if note.code == "unusual"]
    assert odd == ["boat.bank.capacity_ah", "boat.engine.charging_l_per_h", "boat.engine.alternator_a"]


def test_a_dead_engine_and_a_regulated_alternator_overcharge_nothing() -> None:
    assert "charger_over_bank" not in {
        note.code for note in told("boat.bank.charge_limit_c=0.2", "boat.engine.available=false")
    }
    limited = told("boat.bank.charge_limit_c=0.2", "boat.engine.regulator_limit_a=40")
    assert limited == []


def test_a_hurricane_in_the_forecast_is_told() -> None:
    storm = CALM.assign(wind_north_m_s=("time", np.array([0.0, -103.0, np.nan])))
    (note,) = told(forecast=storm)
    assert note.code == "wind_beyond"
    assert note.figures["most_kn"] == pytest.approx(200.2, abs=0.1)


def test_what_is_acknowledged_for_nothing_is_told() -> None:
    (note,) = told('acknowledged=["boat.bank.capacity_ah"]')
    assert note.code == "acknowledged_idle"


def panels(one: str, other: str) -> bool:
    boat = read(f"boat.panel.0.centre_m={one}", f"boat.panel.1.centre_m={other}").boat
    return panels_meet(boat.panel[0], boat.panel[1])


def test_panels_meet_through_each_other_and_not_at_their_frames() -> None:
    at = "[-6.6, 0.0, 2.22]"
    assert panels(at, at)
    assert panels(at, "[-6.3, 0.7, 2.22]")
    assert not panels(at, "[-6.6, 1.4, 2.22]")  # side by side, 1.4 m wide each
    assert not panels(at, "[-6.6, 0.0, 2.4]")  # one above the other
    upright = read("boat.panel.1.tilt_deg=90", f"boat.panel.0.centre_m={at}", f"boat.panel.1.centre_m={at}").boat
    assert panels_meet(upright.panel[0], upright.panel[1])
