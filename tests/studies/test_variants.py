"""Variants: the grid, the boat that one asks for, and the order that shares most."""

from __future__ import annotations

import pytest
from study_case import demo_inputs

from planner.domain.errors import InputError
from planner.domain.inputs.variants import Variant
from planner.studies.variants import boat_of, grid, running_order


def axis(*values: object) -> list[tuple[str, object]]:
    return [(str(value), value) for value in values]


def test_a_grid_holds_every_combination_with_the_last_key_fastest() -> None:
    variants = grid({"departure": axis("a", "b"), "boat.bank.capacity_ah": axis(300, 400)})
    assert [variant.name for variant in variants] == [
        "departure=a, capacity_ah=300",
        "departure=a, capacity_ah=400",
        "departure=b, capacity_ah=300",
        "departure=b, capacity_ah=400",
    ]


def test_keys_that_end_alike_keep_their_whole_names() -> None:
    variants = grid({"boat.load.radar.duty": axis(0.1), "boat.load.fridge.duty": axis(0.2)})
    assert variants[0].name == "boat.load.radar.duty=0.1, boat.load.fridge.duty=0.2"


def test_variants_alike_in_track_and_shade_run_one_after_another() -> None:
    variants = grid({"boat.bank.capacity_ah": axis(1, 2), "departure": axis("a", "b")})
    assert running_order(variants) == [0, 2, 1, 3]


def test_a_panel_goes_with_what_is_left_empty_of_its_wiring() -> None:
    boat = boat_of(Variant(name="less", without_panels=("coachroof", "arch port")), demo_inputs().boat)
    assert "coachroof" not in [panel.name for panel in boat.panel]
    assert [controller.name for controller in boat.controller] == ["arch", "bimini"]
    assert boat.controller[0].strings == (("arch starboard",),)


def test_a_load_is_shed() -> None:
    boat = boat_of(Variant(name="dark", without_loads=("radar",)), demo_inputs().boat)
    assert "radar" not in [load.name for load in boat.load]


def test_what_is_not_aboard_cannot_be_taken_off() -> None:
    with pytest.raises(InputError, match="Did you mean 'coachroof'"):
        boat_of(Variant(name="slip", without_panels=("coachrof",)), demo_inputs().boat)


def test_the_last_panel_stays() -> None:
    every = tuple(panel.name for panel in demo_inputs().boat.panel)
    with pytest.raises(InputError, match="no panel would be left"):
        boat_of(Variant(name="none", without_panels=every), demo_inputs().boat)
