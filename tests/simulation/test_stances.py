"""Panels that the crew tilts or moves."""

from __future__ import annotations

import numpy as np
import pytest
from shade_case import PANELS, RIG, panel, shade, track

from planner.domain.inputs.rig import ShapeRadome
from planner.domain.inputs.solar import Panel, Stance
from planner.simulation.harvest.fit import scene_faults
from planner.simulation.harvest.stances import AS_WRITTEN, stances_along

RAIL = panel("rail", (-6.0, 1.85, 0.95))


def with_stances(*stances: Stance, stance: str | None = None) -> Panel:
    return RAIL.model_copy(update={"stances": stances, "stance": stance})


TO_PORT = Stance(name="out", when="sun_to_port", tilt_deg=40.0, tilt_toward_deg=270.0)
TO_STARBOARD = Stance(name="in", when="sun_to_starboard", tilt_deg=40.0, tilt_toward_deg=90.0)
AT_ANCHOR = Stance(name="forward", when="at_anchor", centre_m=(1.0, 0.0, 0.8))
BY_HAND = Stance(name="folded", tilt_deg=90.0, tilt_toward_deg=270.0)


def test_the_first_stance_whose_occasion_holds_is_taken() -> None:
    steps = track(heading_deg=[0.0, 0.0, 90.0]).assign(lying=("time", [0.0, 1.0, 0.0]))
    tilted = with_stances(BY_HAND, AT_ANCHOR, TO_PORT)
    chosen = stances_along(steps, np.array([300.0, 300.0, 120.0]), [tilted, RAIL])
    assert chosen.tolist() == [[2, AS_WRITTEN], [1, AS_WRITTEN], [AS_WRITTEN, AS_WRITTEN]]


def test_a_named_stance_is_kept_whatever_the_occasion() -> None:
    chosen = stances_along(
        track(heading_deg=[0.0, 180.0]), np.full(2, 90.0), [with_stances(TO_PORT, BY_HAND, stance="folded")]
    )
    assert chosen.tolist() == [[1], [1]]


def test_tilting_to_the_sun_shades_step_by_step_as_the_panel_so_tilted_does() -> None:
    steps = track(heading_deg=[0.0, 0.0, 0.0], heel_deg=[-8.0, -8.0, 4.0], hoist=0.0)
    sun = (np.array([60.0, 300.0, 250.0]), np.array([30.0, 30.0, 40.0]))
    followed = shade(steps, *sun, panels=(with_stances(TO_PORT, TO_STARBOARD), PANELS[0]))
    for step, toward in ((0, 90.0), (1, 270.0), (2, 270.0)):
        fixed = panel("fixed", (-6.0, 1.85, 0.95), tilt_deg=40.0, tilt_toward_deg=toward)
        alone = shade(steps.isel(time=[step]), sun[0][step], sun[1][step], panels=(fixed, PANELS[0]))
        for name in ("cell_lit", "string_share", "cos_incidence", "sky_view", "overcast_view", "sea_view"):
            np.testing.assert_allclose(getattr(followed, name)[step], getattr(alone, name)[0], atol=1e-12)
    flat = shade(steps, *sun, panels=(RAIL, PANELS[0])).cos_incidence[:, 0, 0]
    assert np.all(followed.cos_incidence[:, 0, 0] > flat)


def test_stances_that_cannot_be_are_named() -> None:
    wrong = with_stances(
        TO_PORT, Stance(name="out", tilt_deg=10.0), Stance(name="mast", centre_m=(0.1, 0.0, 1.0)), stance="outt"
    )
    faults = scene_faults(RIG, [wrong], "boat.toml")
    assert [fault.key for fault in faults] == [
        "panel[0].stances[1].name",
        "panel[0].stance",
        "panel[0].stances[2].centre_m",
    ]
    assert "Did you mean 'out'?" in str(faults[1])


@pytest.mark.parametrize(("elevation", "lit"), [(89.9, 1.0 - np.pi * 0.25**2 / 0.6), (40.0, 1.0)])
def test_a_radome_throws_its_own_shadow(elevation: float, lit: float) -> None:
    bare = RIG.model_copy(
        update={
            "arch": None,
            "radomes": (ShapeRadome(name="radar", centre_m=(-6.6, 0.7, 3.5), diameter_m=0.5, height_m=0.25),),
        }
    )
    alone = (panel("below", (-6.6, 0.7, 2.22)),)
    light = shade(track(hoist=0.0, boom_deg=60.0), 180.0, elevation, rig=bare, panels=alone).cell_lit
    assert light.mean() == pytest.approx(lit, abs=0.02)


def test_a_stowed_mainsail_makes_the_boom_thicker() -> None:
    # sun overhead, boom over the middle of a panel: the band is as wide as boom and sail
    under = (panel("under", (-3.0, 0.0, 1.0), length_m=1.0, width_m=0.6),)
    bare = RIG.model_copy(update={"sprayhood": None, "bimini": None, "arch": None})
    set_, stowed = (
        shade(track(hoist=hoist), 0.0, 89.99, rig=bare, panels=under).cell_lit.mean() for hoist in (1.0, 0.0)
    )
    assert stowed == pytest.approx(1.0 - 2.0 * (0.08 + 0.08) / 0.6, abs=0.01)
    assert set_ < 1.0


def test_sailcloth_shines_and_blocks_less_of_the_sky_than_black_cloth() -> None:
    steps = track(boom_deg=20.0, headsail_set=1.0, headsail_deg=18.0)
    black = RIG.model_copy(update={"sail_reflection": 0.0})
    white = shade(steps, 0.0, -5.0).sky_view
    assert np.all(white > shade(steps, 0.0, -5.0, rig=black).sky_view)
    assert np.all(white < shade(steps, 0.0, -5.0, rig=RIG.model_copy(update={"sail_transmission": 1.0})).sky_view)
