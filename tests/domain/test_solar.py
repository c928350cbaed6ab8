"""Panels and controllers as a boat file gives them: ageing by construction, curves without holes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError

from planner.domain.inputs.solar import CONVERTER, EfficiencyCurve, Panel

BOAT_FILE = Path(__file__).parents[2] / "data" / "demo" / "boat.toml"


def panel(**changes: object) -> Panel:
    given = dict(tomllib.loads(BOAT_FILE.read_text(encoding="utf-8"))["panel"][0])
    for key in ("construction", "ageing_per_year"):
        given.pop(key, None)
    return Panel.model_validate(given | changes)


@pytest.mark.parametrize(
    ("given", "ageing"),
    [
        ({}, 0.007),
        ({"construction": "rigid"}, 0.007),
        ({"construction": "flexible"}, 0.02),
        ({"construction": "flexible", "ageing_per_year": 0.01}, 0.01),
    ],
)
def test_a_panel_ages_by_its_construction_unless_its_own_rate_is_given(
    given: dict[str, object], ageing: float
) -> None:
    assert panel(**given).ageing_per_year == ageing


def test_an_unknown_construction_is_refused_by_name() -> None:
    with pytest.raises(ValidationError, match="'rigid' or 'flexible'"):
        panel(construction="painted")


def test_the_usual_converter_is_best_at_half_load_and_never_better_than_itself() -> None:
    assert CONVERTER.value[CONVERTER.load.index(0.5)] == 1.0 == max(CONVERTER.value)


def test_a_curve_of_efficiency_rises_in_load_and_has_no_hole() -> None:
    with pytest.raises(ValidationError, match="loads rise"):
        EfficiencyCurve(load=(0.5, 0.2), value=(0.9, 0.9))
    with pytest.raises(ValidationError, match="1 entries for 2 loads"):
        EfficiencyCurve(load=(0.2, 0.5), value=(0.9,))
