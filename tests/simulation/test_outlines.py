"""Shadows as outlines to draw."""

from __future__ import annotations

import numpy as np
import pytest
from shade_case import COACHROOF, PANELS, RIG, panel, shade, track

from planner.physics.frames import bearing_vector, earth_to_boat
from planner.simulation.harvest.deck import Trim
from planner.simulation.harvest.outlines import shadow_outlines


def trim(boom_deg: float, hoist: float = 1.0) -> Trim:
    one = np.ones(1)
    return Trim(boom_deg * one, 0.0 * one, hoist * one, 0.0 * one, one)


def area(corners: np.ndarray) -> float:
    x, y = corners.T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0)


def sun_aboard(azimuth_deg: float, elevation_deg: float) -> np.ndarray:
    return earth_to_boat(bearing_vector(azimuth_deg, elevation_deg), 0.0, 0.0, 0.0)


@pytest.mark.parametrize(("azimuth", "elevation"), [(12.0, 20.0), (40.0, 35.0), (320.0, 50.0)])
def test_one_masts_outline_has_the_area_that_the_kernel_darkens(azimuth: float, elevation: float) -> None:
    alone = (panel("alone", (-0.95, 0.0, 0.45)),)
    bare = RIG.model_copy(update={"sprayhood": None, "bimini": None, "arch": None})
    outlines = shadow_outlines(sun_aboard(azimuth, elevation), trim(70.0, hoist=0.0), rig=bare, panels=alone)
    taken = sum((1.0 - outline.passed) * area(outline.corners_m) for outline in outlines) / 0.6
    lit = shade(track(boom_deg=70.0, hoist=0.0), azimuth, elevation, rig=bare, panels=alone, points=32)
    # spars that do not cross in shadow, so areas add; the points resolve an edge to half a percent
    assert 1.0 - taken == pytest.approx(lit.cell_lit.mean(), abs=0.01)


def test_outlines_stay_within_their_panel_and_leave_panels_turned_away() -> None:
    outlines = shadow_outlines(sun_aboard(180.0, 12.0), trim(30.0), rig=RIG, panels=PANELS)
    assert COACHROOF in {outline.panel for outline in outlines}
    for outline in outlines:
        assert np.abs(outline.corners_m[:, 0]).max() <= 0.5 + 1e-12
        assert np.abs(outline.corners_m[:, 1]).max() <= 0.3 + 1e-12
    assert shadow_outlines(np.array([0.0, 0.0, -1.0]), trim(30.0), rig=RIG, panels=PANELS) == []
