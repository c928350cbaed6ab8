"""The study of panels over the one flow: leave one out, none lit, one more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from coarse_demo import coarse_inputs
from tiny_passage import lay_out

from planner.app.inputs import read_inputs
from planner.app.verbs.panels import panels
from planner.domain.errors import InputError
from planner.domain.inputs.given import Inputs
from planner.flow.recall import Recall
from planner.studies.wiring import without_panels


def with_two_panels(inputs: Inputs) -> Inputs:
    """Two panels and two places, the second of which is too small."""
    boat = without_panels(inputs.boat, ("arch port", "arch starboard", "bimini port", "bimini middle"))
    small = boat.place[1].model_copy(update={"max_length_m": 0.3, "max_width_m": 0.3})
    return replace(inputs, boat=boat.model_copy(update={"place": (boat.place[0], small)}))


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    return with_two_panels(read_inputs(lay_out(tmp_path_factory.mktemp("day")), ()))


def test_two_panels_and_two_places() -> None:
    recall = Recall()
    study = panels(with_two_panels(coarse_inputs()), recall=recall)
    assert [worth.name for worth in study.aboard] == ["bimini starboard", "coachroof"]
    # all panels, without either, none lit, one more
    assert recall.calls["collect"] == 5
    assert recall.calls["sail"] == 1
    for worth in study.aboard:
        assert worth.saves_charging_h is not None
        assert worth.saves_charging_h.p50 >= 0.0
        assert worth.wh_per_day_m2 is not None
        assert worth.yield_wh is not None
        assert worth.wh_per_day_m2 * study.days * 1.05 * 0.54 == pytest.approx(worth.yield_wh.planned)
    assert study.together_save_h.p50 > 0.0
    assert study.places[0].failure == ""
    assert "does not fit" in study.places[-1].failure


def test_with_the_engine_out_of_service_no_panel_saves_its_hours(day: Inputs) -> None:
    engine = day.boat.engine.model_copy(update={"available": False})
    study = panels(replace(day, boat=day.boat.model_copy(update={"engine": engine})), rating_w=50.0)
    hours = [worth.saves_charging_h for worth in study.aboard] + [study.together_save_h]
    assert [(saved.p10, saved.p90) for saved in hours if saved is not None] == [(0.0, 0.0)] * 3


@pytest.mark.parametrize("rating", [0.0, 5000.0])
def test_a_rating_that_is_none_is_refused(day: Inputs, rating: float) -> None:
    with pytest.raises(InputError, match=r"--rating: .* is not 5 to 1000 W"):
        panels(day, rating_w=rating)


def test_on_24_v_each_panel_takes_its_partner_with_it(tmp_path: Path) -> None:
    """21.9 V open reach no bank at 28.8 V: of two strings of two, one is left, and each panel counts for two."""
    inputs = read_inputs(lay_out(tmp_path), ())
    boat, one = inputs.boat, inputs.boat.controller[0]
    arch = boat.panel[:2]
    forward = [
        panel.model_copy(update={"name": f"{panel.name} 2", "centre_m": (-5.9, panel.centre_m[1], 2.22)})
        for panel in arch
    ]
    pairs = tuple(tuple(panel.name for panel in two) for two in (arch, forward))
    boat = boat.model_copy(
        update={
            "panel": (*arch, *forward),
            "controller": (one.model_copy(update={"strings": pairs}),),
            "bank": boat.bank.model_copy(update={"nominal_v": 24.0, "capacity_ah": 150.0}),
            "place": boat.place[:1],
        }
    )
    study = panels(replace(inputs, boat=boat))
    partners = ["arch starboard", "arch port", "arch starboard 2", "arch port 2"]
    assert [[note.figures for note in worth.wiring] for worth in study.aboard] == [
        [{"panels": name}] for name in partners
    ]
    for worth, partner in zip(study.aboard, (1, 0, 3, 2), strict=True):
        own, other = worth.yield_wh, study.aboard[partner].yield_wh
        assert own is not None
        assert other is not None
        assert worth.difference_wh is not None
        both = own.planned + other.planned
        assert worth.difference_wh.planned == pytest.approx(both, rel=0.05)
    assert {pair.own_wh for pair in study.pairs} == {None}
    assert all("21.9 V open-circuit never reaches the 29.8 V" in pair.own_failure for pair in study.pairs)
    assert "21.9 V open-circuit never reaches the 29.8 V" in study.places[0].failure
