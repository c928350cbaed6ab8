"""Shade along a track: symmetries, limits, the sky's view."""

from __future__ import annotations

import numpy as np
import pytest
from shade_case import ARCH_PORT, BIMINI_PORT, PANELS, RIG, lit_panels, panel, shade, track

from planner.simulation.harvest import scene

RNG = np.random.default_rng(7)
COUNT = 40
TRIM = {
    "heel_deg": RNG.uniform(-20.0, 20.0, COUNT),
    "pitch_deg": RNG.uniform(-3.0, 3.0, COUNT),
    "boom_deg": RNG.uniform(5.0, 75.0, COUNT),
    "headsail_deg": RNG.uniform(8.0, 70.0, COUNT),
    "headsail_set": RNG.uniform(0.4, 1.0, COUNT),
    "hoist": RNG.uniform(0.5, 1.0, COUNT),
}
HEADING = RNG.uniform(0.0, 360.0, COUNT)
AZIMUTH, ELEVATION = RNG.uniform(0.0, 360.0, COUNT), RNG.uniform(5.0, 85.0, COUNT)


def test_boat_and_sun_turned_together_change_nothing() -> None:
    before = shade(track(heading_deg=HEADING, **TRIM), AZIMUTH, ELEVATION, points=4, nodes=2)
    after = shade(track(heading_deg=HEADING + 77.0, **TRIM), AZIMUTH + 77.0, ELEVATION, points=4, nodes=2)
    np.testing.assert_allclose(after.cell_lit, before.cell_lit, atol=1e-9)
    np.testing.assert_allclose(after.cos_incidence, before.cos_incidence, atol=1e-9)
    np.testing.assert_allclose(after.sky_view, before.sky_view, atol=1e-9)


def test_boat_and_sun_mirrored_give_mirrored_shade() -> None:
    flipped = {
        name: -value if name in {"heel_deg", "boom_deg", "headsail_deg"} else value for name, value in TRIM.items()
    }
    before = shade(track(heading_deg=0.0, tack=1.0, **TRIM), AZIMUTH, ELEVATION, points=32)
    after = shade(track(heading_deg=0.0, tack=-1.0, **flipped), -AZIMUTH, ELEVATION, points=32)
    mirrored = [1, 0, 3, 2, 4]
    # the points themselves are not mirrored: along the edges of a few shadows, up to 2 % change sides
    np.testing.assert_allclose(lit_panels(after)[:, mirrored], lit_panels(before), atol=0.02)
    np.testing.assert_allclose(after.cos_incidence[:, :, mirrored], before.cos_incidence, atol=1e-12)
    # the spiral of sky directions is not mirrored either: 2 % of the view
    np.testing.assert_allclose(after.sky_view[:, mirrored], before.sky_view, atol=0.02)


def test_one_step_equals_the_same_step_within_a_track() -> None:
    whole = shade(track(heading_deg=HEADING, **TRIM), AZIMUTH, ELEVATION, points=4)
    one = {name: value[11] for name, value in TRIM.items()}
    single = shade(track(heading_deg=HEADING[11], **one), AZIMUTH[11], ELEVATION[11], points=4)
    np.testing.assert_array_equal(single.cell_lit[0], whole.cell_lit[11])


def test_above_the_masthead_nothing_shades_and_the_sky_is_whole() -> None:
    aloft = (panel("aloft", (0.0, 0.0, 40.0), tilt_deg=25.0, tilt_toward_deg=120.0),)
    shading = shade(track(heading_deg=HEADING, **TRIM), HEADING, 88.0, panels=aloft)
    np.testing.assert_array_equal(shading.cell_lit, 1.0)
    np.testing.assert_allclose(shading.sky_view + shading.sea_view, 1.0, atol=1e-12)


def test_no_sail_set_is_as_light_as_sailcloth_that_passes_all() -> None:
    stowed = dict(TRIM, hoist=0.0, headsail_set=0.0)
    flat = RIG.model_copy(update={"stowed_sail_radius_m": 0.0})
    clear = flat.model_copy(update={"sail_transmission": 1.0})
    sunny = (AZIMUTH, ELEVATION)
    without = shade(track(heading_deg=HEADING, **stowed), *sunny, rig=flat)
    # the headsail's roll on the stay differs, so its sail is left rolled in both
    through = shade(track(heading_deg=HEADING, **dict(TRIM, headsail_set=0.0)), *sunny, rig=clear)
    np.testing.assert_array_equal(without.cell_lit, through.cell_lit)
    np.testing.assert_array_equal(without.sky_view, through.sky_view)


def test_no_beam_below_the_horizon() -> None:
    shading = shade(track(heading_deg=[0.0, 0.0], heel_deg=-30.0), 270.0, [-2.0, 2.0])
    assert not shading.cell_lit[0].any()
    assert shading.cell_lit[1, 0, shading.cell_first[ARCH_PORT] : shading.cell_first[ARCH_PORT + 1]].mean() > 0.5
    assert (shading.sky_view[0] == shading.sky_view[1]).all()


def test_roll_is_carried_node_by_node() -> None:
    shading = shade(track(heel_deg=-10.0, roll_deg=8.0), 270.0, 50.0, nodes=5)
    heel = -10.0 + 8.0 * np.cos((2 * np.arange(1, 6) - 1) * np.pi / 10)
    # a level panel, sun to port: heel to starboard turns it away
    np.testing.assert_allclose(shading.cos_incidence[0, :, 0], np.cos(np.radians(40.0 + heel)), atol=1e-12)
    assert shading.node_weight.sum() == pytest.approx(1.0)


def test_cells_and_strings_are_listed_panel_by_panel() -> None:
    halved = panel("b", (-6.0, -0.5, 2.3), substrings=2, parallel_strings=2)
    panels = (panel("a", (-6.0, 0.5, 2.3), substrings=2), halved, PANELS[4])
    shading = shade(track(), 0.0, 60.0, panels=panels)
    assert shading.cell_first.tolist() == [0, 36, 36 + 72, 36 + 72 + 36]
    assert shading.cell_lit.shape == (1, 1, 144)
    assert shading.string_share.shape == (1, 2 + 4 + 3)


def test_rig_takes_more_sky_from_low_and_forward_panels_and_never_adds_any() -> None:
    view = shade(track(heading_deg=0.0, boom_deg=20.0, headsail_set=1.0, headsail_deg=15.0), 0.0, 50.0).sky_view[0]
    assert view[4] < view[BIMINI_PORT] < view[ARCH_PORT] < 1.0
    assert view[4] > 0.4


def test_sky_view_looked_at_hourly_and_read_between_is_that_of_every_step(monkeypatch: pytest.MonkeyPatch) -> None:
    steps = np.arange(144)
    course = track(
        heading_deg=20.0,
        heel_deg=-12.0 + 4.0 * np.sin(steps / 9.0),
        boom_deg=np.where(steps < 70, 20.0, -40.0) + 8.0 * np.sin(steps / 13.0),
        headsail_set=1.0,
        headsail_deg=np.where(steps < 70, 18.0, -42.0),
        tack=np.where(steps < 70, 1.0, -1.0),
    )
    hourly = shade(course, 0.0, 10.0).sky_view
    monkeypatch.setattr(scene, "SKY_EVERY", 1)
    every = shade(course, 0.0, 10.0).sky_view
    # a fifth of the light is diffuse, so 1 % of the mean view is 0.2 % of the energy
    np.testing.assert_allclose(hourly.mean(axis=0), every.mean(axis=0), rtol=0.005)
    np.testing.assert_array_equal(hourly[[69, 70]], every[[69, 70]])  # both sides of the gybe are looked at
    assert not np.array_equal(hourly, every)


def test_nights_without_a_look_leave_every_days_views_as_they_were() -> None:
    steps = np.arange(288)
    course = track(
        heading_deg=20.0,
        heel_deg=-12.0 + 4.0 * np.sin(steps / 9.0),
        boom_deg=np.where(steps % 100 < 50, 20.0, -40.0) + 8.0 * np.sin(steps / 13.0),
        tack=np.where(steps % 100 < 50, 1.0, -1.0),
    )
    elevation = 60.0 * np.sin(2.0 * np.pi * (steps - 36.0) / 144.0)
    by_day, always = shade(course, 0.0, elevation), shade(course, 0.0, 10.0)
    np.testing.assert_array_equal(by_day.sky_view[elevation > 0.0], always.sky_view[elevation > 0.0])
    np.testing.assert_array_equal(by_day.overcast_view[elevation > 0.0], always.overcast_view[elevation > 0.0])
    assert np.all(np.isfinite(by_day.sky_view))
