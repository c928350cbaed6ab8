"""Scenes reasoned by hand: sun there, tack so, boom here, so this panel darkens.

Compass: heading 090 has north to port, south to starboard. At noon the sun stands south in the northern hemisphere
and north in the southern one. On starboard tack the wind is over starboard, boom and sails are out to port.
"""

from __future__ import annotations

import numpy as np
import pytest
from shade_case import (
    ARCH_PORT,
    ARCH_STARBOARD,
    BIMINI_PORT,
    BIMINI_STARBOARD,
    COACHROOF,
    RIG,
    lit_panels,
    panel,
    shade,
    track,
)

SOUTH, NORTH, EAST, WEST = 180.0, 0.0, 90.0, 270.0


@pytest.mark.parametrize("tack", [1.0, -1.0], ids=["starboard tack", "port tack"])
@pytest.mark.parametrize("noon", [SOUTH, NORTH], ids=["northern", "southern"])
def test_mainsail_darkens_the_bimini_with_the_sun_on_the_lee_bow(noon: float, tack: float) -> None:
    # sun 45 degrees up: off the lee bow the sail's shadow falls aft and to windward, across the boat and its bimini;
    # off the weather bow it falls aft and out over the lee rail
    to_leeward, to_windward = noon + 45.0 * tack, noon - 45.0 * tack  # headings
    lit = lit_panels(shade(track(heading_deg=[to_leeward, to_windward], boom_deg=20.0 * tack, tack=tack), noon, 45.0))
    assert lit[0, BIMINI_PORT] < 0.3
    assert lit[0, BIMINI_STARBOARD] < 0.3
    assert lit[1, BIMINI_PORT] == pytest.approx(1.0)
    assert lit[1, BIMINI_STARBOARD] == pytest.approx(1.0)


@pytest.mark.parametrize("tack", [1.0, -1.0])
def test_running_into_the_sun_darkens_the_arch_on_the_booms_side_alone(tack: float) -> None:
    # boom squared out: 6.6 m abaft the mast and 30 degrees up is 3.8 m above the arch, where the sail spans all of
    # the boom's side and none of the other
    lit = lit_panels(shade(track(heading_deg=40.0, boom_deg=80.0 * tack, tack=tack), 40.0, 30.0))[0]
    dark, bright = (ARCH_PORT, ARCH_STARBOARD) if tack > 0 else (ARCH_STARBOARD, ARCH_PORT)
    assert lit[dark] == pytest.approx(0.1, abs=0.05)  # what sailcloth passes
    assert lit[bright] > 0.85  # the mast alone may graze it


@pytest.mark.parametrize(("heading", "azimuth"), [(SOUTH, NORTH), (NORTH, SOUTH)], ids=["southern", "northern"])
def test_arch_is_clear_with_the_noon_sun_astern(heading: float, azimuth: float) -> None:
    lit = lit_panels(shade(track(heading_deg=heading, boom_deg=30.0), azimuth, 50.0))[0]
    assert lit[ARCH_PORT] == lit[ARCH_STARBOARD] == 1.0


@pytest.mark.parametrize("tack", [1.0, -1.0])
def test_headsail_darkens_the_coachroof_with_the_sun_ahead_until_it_is_furled(tack: float) -> None:
    # the sheeted headsail hangs to leeward from the bow to abreast of the mast, so the sun ahead and a little to
    # leeward has to shine through it
    sun = -25.0 * tack % 360.0  # off the lee bow
    steps = track(headsail_set=[1.0, 0.0], headsail_deg=15.0 * tack, boom_deg=10.0 * tack, tack=tack, hoist=0.0)
    sheeted, furled = lit_panels(shade(steps, sun, 30.0))
    assert sheeted[COACHROOF] < 0.2
    assert furled[COACHROOF] > 0.9


def test_sprayhood_darkens_the_coachroof_with_a_low_sun_astern() -> None:
    # the hood stands 0.8 m above the panel, its brow 1.1 m abaft the panel's middle: at 25 degrees its shadow
    # reaches 1.7 m forward and covers the panel, at 75 degrees 0.2 m and does not
    bare = RIG.model_copy(update={"bimini": None})
    steps = track(heading_deg=[WEST, WEST], hoist=0.0, boom_deg=60.0)
    low, high = lit_panels(shade(steps, EAST, [25.0, 75.0], rig=bare))
    assert low[COACHROOF] < 0.15
    assert high[COACHROOF] == pytest.approx(1.0)


def test_afternoon_sun_to_leeward_darkens_what_the_morning_left_bright() -> None:
    # southern winter, sun first north-east, then north-west; heading north on starboard tack, boom out to the west
    morning, afternoon = lit_panels(shade(track(boom_deg=[25.0, 25.0]), [45.0, 315.0], 25.0))
    assert morning[BIMINI_STARBOARD] == pytest.approx(1.0)
    assert afternoon[BIMINI_STARBOARD] < 0.3


def test_mast_throws_a_band_of_its_own_breadth_down_the_middle_of_the_coachroof() -> None:
    # sun dead ahead, sails stowed: 0.16 m of the panel's 0.6 m; the middle third of three is nearly all of it
    shading = shade(track(hoist=0.0), 0.0, 20.0)
    strips = shading.cell_lit[0, 0, shading.cell_first[COACHROOF] :].reshape(3, 12).mean(axis=1)
    assert strips.mean() == pytest.approx(1.0 - 0.16 / 0.6, abs=0.03)
    np.testing.assert_allclose(strips, [1.0, 0.2, 1.0], atol=0.06)


@pytest.mark.parametrize("tack", [1.0, -1.0])
def test_poled_out_headsail_darkens_the_windward_side_deck(tack: float) -> None:
    # running into the sun, headsail poled out to windward, mainsail stowed: one side deck each
    decks = (panel("port deck", (-1.0, 1.4, 0.2)), panel("starboard deck", (-1.0, -1.4, 0.2)))
    bare = RIG.model_copy(update={"sprayhood": None, "bimini": None, "arch": None})
    steps = track(hoist=0.0, headsail_set=1.0, headsail_deg=-70.0 * tack, boom_deg=0.0, tack=tack)
    port, starboard = lit_panels(shade(steps, 0.0, 25.0, rig=bare, panels=decks))[0]
    windward, leeward = (starboard, port) if tack > 0 else (port, starboard)
    assert windward < 0.3
    assert leeward == pytest.approx(1.0)


def test_heel_turns_the_lee_panel_to_a_sun_to_leeward_and_both_from_one_to_windward() -> None:
    # panels tilted 20 degrees outboard, boat heeled 15 degrees to port, sun 50 degrees off the zenith:
    # to port the angles are 50 - 35 and 50 + 5, from 50 - 20 and 50 + 20 upright; to starboard 50 - 5 and 50 + 35
    outboard = (
        panel("port", (-6.6, 0.7, 2.3), tilt_deg=20.0, tilt_toward_deg=270.0),
        panel("starboard", (-6.6, -0.7, 2.3), tilt_deg=20.0, tilt_toward_deg=90.0),
    )
    steps = track(heading_deg=[0.0, 0.0, 0.0], heel_deg=[0.0, -15.0, -15.0])
    cosine = shade(steps, [WEST, WEST, EAST], 40.0, panels=outboard).cos_incidence[:, 0]
    np.testing.assert_allclose(cosine, np.cos(np.radians([[30.0, 70.0], [15.0, 55.0], [85.0, 45.0]])), atol=1e-12)


@pytest.mark.parametrize(("noon", "heading"), [(SOUTH, EAST), (NORTH, WEST)], ids=["northern", "southern"])
def test_heel_on_starboard_tack_turns_level_panels_from_a_sun_to_windward(noon: float, heading: float) -> None:
    # sun to starboard, heeled to port
    steps = track(heading_deg=heading, heel_deg=[0.0, -10.0, -20.0])
    cosine = shade(steps, noon, 35.0).cos_incidence[:, 0, ARCH_PORT]
    np.testing.assert_allclose(cosine, np.cos(np.radians([55.0, 65.0, 75.0])), atol=1e-12)


def test_bow_up_turns_level_panels_from_a_sun_ahead() -> None:
    steps = track(heading_deg=120.0, pitch_deg=[0.0, 10.0])
    cosine = shade(steps, 120.0, 40.0).cos_incidence[:, 0, ARCH_PORT]
    np.testing.assert_allclose(cosine, np.cos(np.radians([50.0, 60.0])), atol=1e-12)


def test_a_panel_above_another_darkens_it_and_is_not_darkened_by_it() -> None:
    stacked = (panel("upper", (-6.6, 0.0, 3.0)), panel("lower", (-6.6, 0.0, 2.3)))
    upper, lower = lit_panels(shade(track(hoist=0.0), 180.0, 89.9, panels=stacked))[0]
    assert upper == 1.0
    assert lower < 0.01


def test_canvas_does_not_darken_the_panel_that_lies_on_it() -> None:
    # the canvas is a plane to us, but a panel that follows its crown dips below that plane on one side
    crowned = (panel("crowned", (-4.75, 0.7, 1.66), tilt_deg=8.0, tilt_toward_deg=270.0),)
    assert lit_panels(shade(track(hoist=0.0), 0.0, 85.0, panels=crowned))[0, 0] == pytest.approx(1.0)
    below = (panel("below", (-4.75, 0.0, 0.8)),)
    # a twentieth passes, which is counted in 32nds
    lit = lit_panels(shade(track(hoist=0.0, boom_deg=60.0), 180.0, 85.0, panels=below))[0, 0]
    assert lit == pytest.approx(0.05, abs=1.0 / 64.0)
