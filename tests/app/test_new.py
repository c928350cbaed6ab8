"""A starter for every rig, bank and voltage: short, sound, nothing odd; the demo; and what a key means."""

from __future__ import annotations

import itertools
import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

import planner
from planner.app.verbs.explain import TOPICS, explain, input_keys
from planner.app.verbs.new import new
from planner.domain.errors import InputError
from planner.domain.inputs.given import Override
from planner.domain.inputs.power import Chemistry
from planner.faces.cli import main
from planner.presentation.files.starter import RigName
from planner.readers.config import read_configuration

RIGS: tuple[RigName, ...] = ("sloop", "ketch", "catamaran")
BANKS: tuple[Chemistry, ...] = ("lifepo4", "agm", "flooded", "gel")
MOST_LINES = 120
DEMO = Path(str(files("planner") / "demo" / "passage.toml"))
WITH_OTHERS = ("boat.bank.noted", "boat.engine.output_by_rpm", "limiting_lat_deg", "ship_time")
"""Keys that stand only beside others."""


@pytest.mark.parametrize(("rig", "bank", "volts"), [*itertools.product(RIGS, BANKS, (12, 24, 48))])
def test_every_starter_is_short_sound_and_not_odd(tmp_path: Path, rig: RigName, bank: Chemistry, volts: int) -> None:
    made = new(tmp_path, rig=rig, bank=bank, volts=volts)
    assert sum(len(made.files[name].splitlines()) for name in made.edited) <= MOST_LINES
    planner.write(made, tmp_path)
    assert planner.check(tmp_path / "passage.toml").warnings == ()


def test_a_starter_is_planned_as_it_stands(tmp_path: Path) -> None:
    planner.write(new(tmp_path, rig="ketch", bank="agm", volts=24), tmp_path)
    coarse = {"model.points": 4, "model.roll_nodes": 1, "model.lone_outcomes": 3}
    plan = planner.plan(planner.read_passage(tmp_path / "passage.toml", coarse))
    assert plan.ledger["bank_soc"].notnull().all()


def test_every_other_key_stands_below_as_a_comment(tmp_path: Path) -> None:
    whole = new(tmp_path, whole=True)
    text = whole.files["boat.toml"].decode()
    assert "# panel.NAME.age_years = 0.0" in text
    assert "# wishes.confidence = 0.9" in whole.files["passage.toml"].decode()
    assert tomllib.loads(text) == tomllib.loads(new(tmp_path).files["boat.toml"].decode())


def test_the_first_line_names_a_schema_that_is_there_and_knows_the_ranges(tmp_path: Path) -> None:
    made = new(tmp_path)
    for name in ("passage", "boat"):
        first = made.files[f"{name}.toml"].decode().splitlines()[0]
        assert first == f"#:schema {name}.schema.json"
    schema = json.loads(made.files["boat.schema.json"])
    capacity = schema["$defs"]["Bank"]["properties"]["capacity_ah"]
    assert (capacity["minimum"], capacity["maximum"]) == (5.0, 20_000.0)


def test_nothing_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path), "--quiet", "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)["files"]) == {each.name for each in tmp_path.iterdir()}
    assert main(["new", str(tmp_path), "--quiet"]) == 2
    assert "is there already" in capsys.readouterr().err


def test_the_demo_is_copied_whole(tmp_path: Path) -> None:
    planner.write(new(tmp_path, demo=True), tmp_path)
    demo = files("planner") / "demo"
    assert {each.name for each in tmp_path.iterdir()} == {each.name for each in demo.iterdir()}
    assert (tmp_path / "forecast.nc").read_bytes() == (demo / "forecast.nc").read_bytes()


@pytest.mark.parametrize("topic", ["", *TOPICS])
def test_every_topic_is_told(topic: str) -> None:
    told = explain(topic)
    assert len(planner.text_of(told).splitlines()) > 10
    assert json.loads(planner.json_of(told))["topic"] == topic


@pytest.mark.parametrize(
    ("asked", "key"),
    [
        ("capacity_ah", "boat.bank.capacity_ah"),
        ("boat.panel.coachroof.tilt_deg", "boat.panel.NAME.tilt_deg"),
        ("watches", "watches.NAME.role"),
        ("bank_soc", "bank_soc"),
    ],
)
def test_a_key_is_found_by_its_end_and_by_the_name_of_ones_own(asked: str, key: str) -> None:
    assert key in {entry.key for entry in explain(asked).entries}


def test_a_slip_of_the_pen_is_put_right() -> None:
    with pytest.raises(InputError, match="Did you mean 'capacity_ah'"):
        explain("capcity_ah")


def test_examples_are_those_of_the_demo_and_those_of_one_key_can_be_set() -> None:
    shown = {entry.key: entry.example for entry in input_keys()}
    assert shown["boat.bank.capacity_ah"] == "300.0"
    figure = re.compile(r"-?[\d.]+|true|false")
    plain = {
        key: tomllib.loads(f"x = {text}")["x"]
        for key, text in shown.items()
        if figure.fullmatch(text) and "NAME" not in key and not key.startswith(WITH_OTHERS)
    }
    assert len(plain) > 70
    read_configuration(DEMO, [Override(key, value) for key, value in plain.items()])
