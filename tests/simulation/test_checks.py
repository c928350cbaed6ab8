"""Every fault of bank, engine, loads and wishes is reported with its key, its figure and a remedy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from planner.domain.inputs.power import Bank, EngineSpeedTable, Generator, NotedVolts, SecondaryBank, SpeedTable
from planner.physics.bank import bank_step
from planner.readers.config import read_configuration
from planner.simulation.checks import power_faults
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.readings import low_volts


@pytest.fixture
def told(demo: Path):
    """Faults of the demo after changes to its bank, engine, first load, autopilot, or passage."""
    sound = read_configuration(demo)

    def faults(*, bank=None, engine=None, load=None, watts=None, start=None, quiet=None, boat_parts=None):
        boat, passage = sound.boat, sound.passage
        first = boat.load[0].model_copy(update=load or {})
        table = boat.autopilot.watts.model_copy(update=watts or {})
        boat = boat.model_copy(
            update={
                "bank": boat.bank.model_copy(update=bank or {}),
                "engine": boat.engine.model_copy(update=engine or {}),
                "load": (first, *boat.load[1:]),
                "autopilot": boat.autopilot.model_copy(update={"watts": table}),
                **(boat_parts or {}),
            }
        )
        if start is not None:
            passage = passage.model_copy(
                update={"start": passage.start.model_copy(update={"state_of_charge": start})}
            )
        if quiet is not None:
            passage = passage.model_copy(update={"wishes": passage.wishes.model_copy(update={"quiet_hours": quiet})})
        return [str(fault) for fault in power_faults(boat, passage, "boat.toml", "passage.toml")]

    return faults


def test_the_demo_has_no_fault(told):
    assert told() == []


@pytest.mark.parametrize(
    ("change", "key", "figure"),
    [
        ({"start": 0.25}, "passage.toml: start.state_of_charge", "0.25"),
        ({"bank": {"absorption_v": 12.0}}, "boat.toml: bank.absorption_v", "12 V"),
        ({"bank": {"absorption_v": 28.8}}, "boat.toml: bank.absorption_v", "28.8 V"),
        ({"bank": {"alternator_v": 13.0}}, "boat.toml: bank.alternator_v", "13 V"),
        ({"bank": {"float_v": 14.6}}, "boat.toml: bank.float_v", "float at 14.6 V stands above charging at 14.2 V"),
        (
            {"bank": {"alternator_v": 14.6}},
            "boat.toml: bank.alternator_v",
            "14.6 V a lithium bank's management system",
        ),
        (
            {"bank": {"absorption_v": 14.6}},
            "boat.toml: bank.absorption_v",
            "under charge that can spike the alternator",
        ),
        (
            {"bank": {"noted": NotedVolts(state_of_charge=0.5, volts=12.3, amps=6.0)}},
            "boat.toml: bank.noted.volts",
            "under what such a bank shows",
        ),
        ({"bank": {"alternator_v": 13.45}}, "boat.toml: bank.alternator_v", "set points cross"),
        ({"engine": {"started_by": "house_bank"}}, "boat.toml: engine.started_by", "start bank apart"),
        (
            {"engine": {"output_by_rpm": EngineSpeedTable(rpm=(800.0, 1600.0), value=(1.0,))}},
            "boat.toml: engine.output_by_rpm",
            "2 rpm but 1 value",
        ),
        (
            {
                "boat_parts": {
                    "generator": (
                        Generator(
                            name="towed",
                            driven_by="boat_speed",
                            output=SpeedTable(speed_kn=(5.0, 4.0), watts=(1.0, 2.0)),
                        ),
                    )
                }
            },
            "generator[0] 'towed'.output.speed_kn",
            "rise",
        ),
        (
            {"boat_parts": {"secondary_bank": (SecondaryBank(name="s", need_wh_per_day=900.0, charger_w=20.0),)}},
            "secondary_bank[0] 's'.need_wh_per_day",
            "900 Wh",
        ),
        (
            {"boat_parts": {"secondary_bank": (SecondaryBank(name="fridge", need_wh_per_day=9.0, charger_w=20.0),)}},
            "secondary_bank[0] 'fridge'.name",
            "taken",
        ),
        ({"boat_parts": {"inverter": None}}, "'laptops and phones'.ac", "needs an inverter"),
        ({"load": {"min_run_min": 30}}, "load[0] 'navigation lights'.min_run_min", "30 min"),
        (
            {"load": {"wh_per_day": 1.0, "min_run_min": 90, "hours": (("08:00", "09:00"),)}},
            "load[0] 'navigation lights'.min_run_min",
            "at most 60 min",
        ),
        ({"bank": {"tail_current_c": 0.6}}, "boat.toml: bank.tail_current_c", "171.0 A"),
        ({"bank": {"temp_c": -60.0}}, "boat.toml: bank.temp_c", "-60 C"),
        ({"engine": {"min_run_min": 200}}, "boat.toml: engine.min_run_min", "200 min"),
        (
            {"engine": {"min_run_min": 41, "max_run_min": 49}},
            "boat.toml: engine.min_run_min",
            "no run of whole steps of 10 min is 41 to 49 min long",
        ),
        ({"engine": {"landfall_l": 999.0}}, "boat.toml: engine.landfall_l", "999 L"),
        ({"load": {"watts": None}}, "boat.toml: load[0] 'navigation lights'", "neither"),
        ({"load": {"amps": 1.0}}, "boat.toml: load[0] 'navigation lights'", "both"),
        ({"load": {"when": "hours"}}, "load[0] 'navigation lights'.hours", "needs hours"),
        ({"load": {"when": "watch"}}, "load[0] 'navigation lights'.roles", "needs roles"),
        ({"load": {"when": "watch", "roles": ("skiper",)}}, ".roles", "Did you mean 'skipper'?"),
        ({"load": {"name": "steering"}}, ".name", "is taken"),
        ({"load": {"name": "fridge"}}, ".name", "'fridge' is taken"),
        ({"load": {"when": "hours", "hours": (("08:00", "08:05"),)}}, ".hours", "shorter than the step"),
        ({"load": {"wh_per_day": 5000.0}}, ".wh_per_day", "at most 144 Wh"),
        ({"load": {"wh_per_day": 10.0, "duty": 0.0}}, ".wh_per_day", "above 0"),
        ({"load": {"wh_per_day": 10.0, "per_c": 0.02}}, ".per_c", "fixed"),
        ({"watts": {"value": (1.0,)}}, "autopilot.watts", "6 angles but 1 values"),
        ({"watts": {"angle_deg": (0.0, 60.0, 60.0, 120.0, 150.0, 180.0)}}, "autopilot.watts.angle_deg", "rise"),
        ({"quiet": (("06:00", "22:00"), ("22:00", "05:50"))}, "passage.toml: wishes.quiet_hours", "10 min a day"),
    ],
)
def test_a_fault_names_file_key_and_figure(told, change: dict, key: str, figure: str):
    messages = told(**change)
    assert any(key in message and figure in message for message in messages), messages


def test_faults_are_told_together(told):
    assert len(told(start=0.2, engine={"min_run_min": 200}, load={"watts": None})) >= 3


def test_quiet_round_the_clock_is_no_fault_without_an_engine(told):
    assert told(quiet=(("00:00", "00:00"),), engine={"available": False}) == []


@pytest.mark.parametrize("nominal_v", [12, 24, 36, 48])
@pytest.mark.parametrize("temp_c", [-10.0, 25.0, 45.0])
def test_nothing_that_a_lithium_bank_is_charged_to_reaches_what_its_management_system_opens_at(
    nominal_v: int, temp_c: float
):
    params = bank_params(
        Bank(chemistry="lifepo4", capacity_ah=200.0, reserve_soc=0.3, nominal_v=nominal_v, temp_c=temp_c)
    )
    cells = nominal_v / 3.0  # of 3.2 V; management systems open at 3.65 V a cell, and at 2.5 (common practice)
    assert max(params.absorption_v, params.alternator_v, params.float_v) < 3.6 * cells
    step = bank_step(0.97, 1e5, 1e5, 0.0, 0.0, 600.0, params, np.inf, 1.0)
    assert step.voltage_v < 3.65 * cells
    low = low_volts(
        Bank(chemistry="lifepo4", capacity_ah=50.0, reserve_soc=0.0, nominal_v=nominal_v), demand_w=2000.0
    )
    assert low.volts >= 2.6 * cells - 0.01


@pytest.mark.parametrize(
    ("name", "vital", "refused"),
    [
        ("navigation lights", None, True),
        ("nav. light", None, True),
        ("VHF and AIS", None, True),
        ("bilge pump", None, True),
        ("compass light", None, True),
        ("CO alarm", None, True),
        ("gas detector", None, True),
        ("BMS", None, True),
        ("battery management", None, True),
        ("fridge", None, False),
        ("cabin lights", None, False),
        ("cooler", None, False),
        ("VHF handheld charger", False, False),
        ("oxygen concentrator", True, True),
    ],
)
def test_what_is_vital_is_never_in_the_shedding_order(told, name: str, vital: bool | None, refused: bool) -> None:
    change = {"name": name, "shed_order": 3, "vital": vital, "when": "always"}
    found = [words for words in told(load=change) if "shed_order" in words]
    assert bool(found) == refused
    assert all(f"'{name}' is vital: it is never shed." in words for words in found)
    assert not [words for words in told(load=change | {"shed_order": None}) if "shed_order" in words]
