"""Variants side by side: zero where nothing is varied, each as planned singly, failures as rows, stages spared."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from coarse_demo import coarse_inputs
from tiny_passage import lay_out

from planner.app.inputs import read_inputs
from planner.app.verbs.compare import asked_variants, compare, inputs_of
from planner.domain.errors import InputError
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.variants import Variant
from planner.domain.results.studies import Comparison
from planner.flow.plan import plan_from
from planner.flow.recall import Recall
from planner.studies.figures import QUANTITIES, outcome_of, spread_of


@cache
def _folder() -> TemporaryDirectory[str]:
    return TemporaryDirectory()


@cache
def day_inputs(**overrides: object) -> Inputs:
    """A day's passage in four outcomes, each on its own track; the demo serves where a test needs its calms."""
    more = tuple(Override(key.replace("__", "."), value) for key, value in overrides.items())
    return read_inputs(lay_out(Path(_folder().name)), more)


def compared(*vary: str) -> Comparison:
    return compare(day_inputs(), vary)


def test_a_variant_equal_to_the_base_differs_by_exactly_zero() -> None:
    (row,) = compared("boat.bank.capacity_ah=300.0").rows
    assert row.difference is not None
    for each in fields(row.difference):
        spread = getattr(row.difference, each.name)
        assert (spread.planned, spread.p10, spread.p50, spread.p90) == (0.0, 0.0, 0.0, 0.0), each.name


def test_each_row_is_what_a_plan_gives_singly() -> None:
    rows = compared("start.state_of_charge=0.6,0.8").rows
    for row, charge in zip(rows, (0.6, 0.8), strict=True):
        single = outcome_of(plan_from(day_inputs(start__state_of_charge=charge), progress=lambda _: None))
        assert row.figures is not None
        for name in QUANTITIES:
            assert getattr(row.figures, name) == spread_of(getattr(single, name)), name
        assert row.reserve_kept == single.reserve_kept
        assert row.arrival == single.arrival


def test_a_sweep_of_bank_sizes_casts_no_shadow_again() -> None:
    recall = Recall()
    base = day_inputs()
    for capacity in (300.0, 350.0, 400.0, 450.0):
        variant = Variant(name=str(capacity), set={"boat.bank.capacity_ah": capacity})
        plan_from(inputs_of(variant, base, recall=recall)[0], progress=lambda _: None, recall=recall)
    calls = recall.calls
    assert calls["forecast_by_hand"] == calls["sail"] == calls["collect"] == calls["own_courses"] == 1
    assert recall.calls["decide"] == 4


def test_an_engine_out_of_service_drives_in_no_variant() -> None:
    sound, dead = compare(coarse_inputs(), ["boat.engine.available=true,false"]).rows
    assert sound.figures is not None
    assert dead.figures is not None
    assert dead.figures.engine_h.p90 == dead.figures.fuel_l.p90 == 0.0 < sound.figures.engine_h.planned
    assert sound.arrival is not None
    assert dead.arrival is not None
    assert dead.arrival > sound.arrival


def test_another_departure_is_sailed_and_lit_anew() -> None:
    recall = Recall()
    base = day_inputs()
    for hours in ("+0h", "+6h"):
        variant = Variant(name=hours, set={"departure": hours})
        plan_from(inputs_of(variant, base, recall=recall)[0], progress=lambda _: None, recall=recall)
    assert recall.calls["sail"] == recall.calls["collect"] == 2


def test_a_variant_that_cannot_be_is_a_row_with_its_reason() -> None:
    comparison = compared("boat.bank.capacity_ah=300.0,-5")
    assert comparison.rows[0].failure == ""
    assert comparison.rows[1].figures is None
    assert "boat.toml: bank.capacity_ah: -5 is not 5 to 20000" in comparison.rows[1].failure


def test_where_every_variant_fails_the_input_is_wrong() -> None:
    with pytest.raises(InputError, match="Did you mean 'capacity_ah'"):
        compared("boat.bank.capcity_ah=300,400")


def test_where_all_sail_the_controls_track_they_arrive_together() -> None:
    (row,) = compare(day_inputs(model__tracks="control"), ["boat.bank.capacity_ah=200.0"]).rows
    assert row.figures is not None
    assert row.reserve_kept is not None
    assert row.reserve_kept.wind == "control"
    assert row.figures.passage_h.p10 == row.figures.passage_h.p90 == row.figures.passage_h.planned
    assert row.figures.solar_wh.p10 < row.figures.solar_wh.p90


def test_panels_taken_off_say_how_the_rest_is_wired() -> None:
    alone, pair = compare(
        day_inputs(),
        variants=(
            Variant(name="no partner", without_panels=("arch port",)),
            Variant(name="no arch", without_panels=("arch port", "arch starboard")),
        ),
    ).rows
    assert [note.figures for note in alone.wiring] == [{"strings": "arch starboard"}]
    assert pair.wiring == ()


def test_a_smaller_load_is_never_dearer() -> None:
    comparison = compare(coarse_inputs(), variants=(Variant(name="no radar", without_loads=("radar",)),))
    change = comparison.rows[0].difference
    assert change is not None
    assert change.load_wh.planned < 0.0
    assert change.charging_h.p50 <= 0.0


def test_two_processes_give_the_same_and_count_up_to_the_whole() -> None:
    shares: list[float] = []
    vary = {"boat.bank.capacity_ah": [300.0, 400.0]}
    one, two = (
        compare(day_inputs(), vary, jobs=jobs, on_stage=lambda _stage, share: shares.append(share)) for jobs in (1, 2)
    )
    assert one == two
    assert shares == 2 * [0.0, pytest.approx(2 / 3), 1.0]


@pytest.mark.parametrize(
    ("vary", "words"),
    [
        ([], "nothing is varied"),
        (["capacity"], "is not KEY=V1,V2"),
        (["a=1", "a=2"], "a key stands twice"),
        (["departure=+0h..+5h/0h"], "is no range"),
        (["departure=+0h..+5/1h"], "is no range"),
    ],
)
def test_bad_grids_are_refused(vary: list[str], words: str) -> None:
    with pytest.raises(InputError, match=words.replace("+", r"\\+")):
        asked_variants(vary)


def test_a_range_spells_out_its_values() -> None:
    assert [variant.set["departure"] for variant in asked_variants(["departure=+0h..+3h/1.5h"])] == [
        "+0h",
        "+1.5h",
        "+3h",
    ]


def test_lists_are_values_too() -> None:
    variants = asked_variants(['boat.controller.arch.strings=[["a","b"]],[["a"],["b"]]'])
    assert [variant.set["boat.controller.arch.strings"] for variant in variants] == [[["a", "b"]], [["a"], ["b"]]]


def test_a_file_names_its_variants(tmp_path: Path) -> None:
    path = tmp_path / "variants.toml"
    path.write_text('[[variant]]\nname = "small"\nset = {"boat.bank.capacity_ah" = 200}\n')
    assert asked_variants((), path) == (Variant(name="small", set={"boat.bank.capacity_ah": 200}),)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[[variant]]\nname = "a"\n[[variant]]\nname = "a"\n', "'a' stands twice"),
        ('[[variant]]\nname = "a"\nwithout_panel = ["b"]\n', "Did you mean 'without_panels'"),
        ("[[variant]\n", "no TOML"),
        ("", "this key is missing"),
    ],
)
def test_bad_files_of_variants_are_refused(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "variants.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        asked_variants((), path)
