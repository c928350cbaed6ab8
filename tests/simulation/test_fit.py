"""Rigs and panels that cannot be as the file has them."""

from __future__ import annotations

import pytest
from shade_case import PANELS, RIG, panel

from planner.domain.inputs.rig import Bimini, ShapePolygon, ShapeTube
from planner.simulation.harvest.fit import scene_faults


def test_a_sound_boat_has_no_faults() -> None:
    assert scene_faults(RIG, PANELS, "boat.toml") == []


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (panel("sliver", (-6.0, 0.0, 2.3), length_m=0.06, width_m=0.05), "sliver' is 0.06 m by"),
        (panel("low", (-2.0, 0.1, 2.05)), "the boom amidships cuts through 'low'"),
        (panel("ahead", (0.2, 0.1, 0.5)), "the mast cuts through 'ahead'"),
        (panel("upright", (-1.0, 0.0, 2.0), tilt_deg=90.0), "the boom amidships cuts through 'upright'"),
    ],
    ids=["no area", "boom", "mast", "upright"],
)
def test_a_panel_that_cannot_be_is_named(wrong: object, words: str) -> None:
    faults = scene_faults(RIG, [PANELS[0], wrong], "boat.toml")  # type: ignore[list-item]
    assert [fault.key.split(".")[0] for fault in faults] == ["panel[1]"]
    assert words in str(faults[0])


def test_a_panel_under_the_boom_or_beside_the_mast_is_sound() -> None:
    beside = [panel("under", (-2.0, 0.0, 1.85)), panel("beside", (0.0, 0.45, 0.5))]
    assert scene_faults(RIG, beside, "boat.toml") == []


def test_every_fault_of_the_gear_is_told_at_once() -> None:
    wrong = RIG.model_copy(
        update={
            "bimini": Bimini(front_x_m=-5.7, aft_x_m=-3.8, width_m=2.0, height_m=1.7),
            "headsail_tack_height_m": 20.0,
            "polygons": (
                ShapePolygon(name="line", corners_m=((0, 0, 1), (1, 0, 1), (2, 0, 1))),
                ShapePolygon(name="bent", corners_m=((0, 0, 1), (1, 0, 1), (1, 1, 2), (0, 1, 1))),
                ShapePolygon(name="notched", corners_m=((0, 0, 1), (2, 0, 1), (0.5, 0.5, 1), (0, 2, 1))),
                ShapePolygon(name="sound", corners_m=((0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1))),
            ),
            "tubes": (ShapeTube(name="stub", from_m=(1, 1, 1), to_m=(1, 1, 1), radius_m=0.02),),
        }
    )
    keys = [fault.key for fault in scene_faults(wrong, [], "boat.toml")]
    assert keys == [
        "rig.bimini.aft_x_m",
        "rig.headsail_tack_height_m",
        "rig.polygons[0].corners_m",
        "rig.polygons[1].corners_m",
        "rig.polygons[2].corners_m",
        "rig.tubes[0].to_m",
    ]
