"""The study of panels over the one flow: leave one out, none lit, one more."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tiny_passage import lay_out

from planner.app.inputs import read_inputs
from planner.app.verbs.panels import panels
from planner.domain.errors import InputError
from planner.domain.inputs.given import Inputs, Override
from planner.flow.recall import Recall
from planner.studies.wiring import without_panels


@pytest.fixture(scope="module")
def small_inputs(tmp_path_factory: pytest.TempPathFactory) -> Inputs:
    """A day with two panels and two places, the second of which is too small."""
    inputs = read_inputs(lay_out(tmp_path_factory.mktemp("day")), [Override("start.state_of_charge", 0.4)])
    boat = without_panels(inputs.boat, ("arch port", "arch starboard", "bimini middle", "coachroof"))
    small = boat.place[1].model_copy(update={"max_length_m": 0.3, "max_width_m": 0.3})
    return replace(inputs, boat=boat.model_copy(update={"place": (boat.place[0], small)}))


def test_two_panels_and_two_places(small_inputs: Inputs) -> None:
    recall = Recall()
    study = panels(small_inputs, recall=recall)
    assert [worth.name for worth in study.aboard] == ["bimini port", "bimini starboard"]
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


def test_with_the_engine_out_of_service_no_panel_saves_its_hours(small_inputs: Inputs) -> None:
    inputs = small_inputs
    engine = inputs.boat.engine.model_copy(update={"available": False})
    study = panels(replace(inputs, boat=inputs.boat.model_copy(update={"engine": engine})), rating_w=50.0)
    hours = [worth.saves_charging_h for worth in study.aboard] + [study.together_save_h]
    assert [(saved.p10, saved.p90) for saved in hours if saved is not None] == [(0.0, 0.0)] * 3


@pytest.mark.parametrize("rating", [0.0, 5000.0])
def test_a_rating_that_is_none_is_refused(small_inputs: Inputs, rating: float) -> None:
    with pytest.raises(InputError, match=r"--rating: .* is not 5 to 1000 W"):
        panels(small_inputs, rating_w=rating)
