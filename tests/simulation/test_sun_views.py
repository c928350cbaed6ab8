"""The boat as the sun sees her."""

from __future__ import annotations

from itertools import takewhile

import numpy as np
import pytest
import xarray as xr
from shade_case import PANELS, RIG, lit_panels, shade, track
from shapely.geometry import Polygon
from shapely.ops import unary_union

from planner.domain.results.sun_view import SunShape, SunView
from planner.simulation.harvest.sun_views import sun_views


class Hull:
    """What of a boat is drawn: rig, panels, length and beam."""

    rig, panel, length_m, beam_m = RIG, PANELS, 12.0, 3.9


STEPS = 144


def day_of(*, heading_deg: float = 0.0, beam: float = 800.0, **trim: float) -> tuple[xr.Dataset, xr.Dataset]:
    """Two days of 20-minute steps, the sun east at six and west at eighteen, the first day without beam."""
    hour = (np.arange(STEPS) + 0.5) / 3.0
    steps = track(heading_deg=np.full(STEPS, heading_deg), **trim)
    time = np.datetime64("2026-05-10T00:00", "ns") + np.arange(STEPS) * np.timedelta64(20, "m")
    elevation = 60.0 * np.sin(2.0 * np.pi * (hour - 6.0) / 24.0)
    azimuth = (90.0 - 15.0 * (hour % 24.0 - 6.0)) % 360.0
    lit = lit_panels(shade(steps, azimuth, elevation, points=4))
    harvest = xr.Dataset(
        {
            "sun_elevation_deg": ("time", elevation),
            "sun_azimuth_deg": ("time", azimuth),
            "dni_w_m2": (("member", "time"), np.where(hour < 24.0, 0.0, beam)[None]),
            "beam_lit_fraction": (("member", "time", "panel"), lit[None]),
        },
        {"time": time},
    )
    return steps.assign_coords(time=time).assign_attrs(step_s=1200.0), harvest


def area(shape: SunShape) -> float:
    outer, *inner = (Polygon(ring).area for ring in shape.rings)
    return outer - sum(inner)


def drawn_on(view: SunView, number: int) -> tuple[SunShape, list[SunShape]]:
    """A panel as it is drawn, and what lies on it."""
    at = [k for k, shape in enumerate(view.shapes) if shape.kind == "panel"]
    x, y = view.panels[number].middle_m
    mine = next(k for k in at if np.allclose(np.mean(view.shapes[k].rings[0], axis=0), (x, y)))
    on_it = takewhile(lambda shape: shape.kind in {"cell", "substring", "shadow"}, view.shapes[mine + 1 :])
    return view.shapes[mine], list(on_it)


def lit_by_drawing(view: SunView, number: int) -> float:
    """Part of a panel that its drawn shadows leave, where they do not cross."""
    panel, on_it = drawn_on(view, number)
    shadows = [
        (1.0 - shape.passed) * sum(Polygon(ring).area for ring in shape.rings)
        for shape in on_it
        if shape.kind == "shadow"
    ]
    return 1.0 - sum(shadows) / area(panel)


def test_six_moments_of_the_first_bright_day_from_morning_to_evening() -> None:
    views = sun_views(*day_of(), boat=Hull)
    assert len(views) == 6
    assert {view.time.day for view in views} == {11}
    assert [view.off_bow_deg > 0.0 for view in views] == [True] * 3 + [False] * 3
    assert sun_views(*(part.isel(time=slice(0, 15)) for part in day_of()), boat=Hull) == ()


def test_a_panel_appears_as_large_as_it_faces_the_sun() -> None:
    for view in sun_views(*day_of(heel_deg=-10.0), boat=Hull):
        sizes = [area(shape) for shape in view.shapes if shape.kind == "panel"]
        np.testing.assert_allclose(sizes, [0.6 * panel.facing for panel in view.panels], rtol=1e-9)


def test_a_panel_in_the_clear_bears_no_shadow_and_one_behind_the_sail_is_all_shadow() -> None:
    # heading south, boom far out to port, which is east: the morning sun shines through the mainsail on the arch's
    # and bimini's port side, the evening sun past it
    views = sun_views(*day_of(heading_deg=180.0, boom_deg=60.0), boat=Hull)
    for view in views:
        for number, panel in enumerate(view.panels[:4]):
            if panel.lit in {0.0, 1.0}:
                assert lit_by_drawing(view, number) == pytest.approx(panel.lit, abs=0.02)
    assert sum(panel.lit == 1.0 for view in views for panel in view.panels[:4]) >= 8


def test_cells_cover_their_panel_and_are_as_dark_as_the_shadows_drawn_over_them() -> None:
    crossed = 0
    for view in sun_views(*day_of(boom_deg=30.0), boat=Hull):
        for number, panel in enumerate(view.panels):
            if panel.facing <= 0.0:
                continue
            drawn, on_it = drawn_on(view, number)
            cells = [(Polygon(ring), shape.passed) for shape in on_it if shape.kind == "cell" for ring in shape.rings]
            assert len(cells) == panel.cells == 36
            assert sum(cell.area for cell, _ in cells) == pytest.approx(area(drawn), rel=1e-9)
            assert unary_union([cell for cell, _ in cells]).area == pytest.approx(area(drawn), rel=1e-9)
            assert panel.dim_cells == sum(lit < 0.5 for _, lit in cells)
            substrings = [Polygon(shape.rings[0]) for shape in on_it if shape.kind == "substring"]
            assert len(substrings) == 3
            assert sum(part.area for part in substrings) == pytest.approx(area(drawn), rel=1e-9)
            shadows = [(Polygon(ring), s.passed) for s in on_it if s.kind == "shadow" for ring in s.rings]
            for cell, lit in cells:
                passed = [(cell.intersection(shadow).area / cell.area, part) for shadow, part in shadows]
                within = [part for covered, part in passed if covered > 0.999]
                if all(covered < 0.001 or covered > 0.999 for covered, _ in passed) and len(within) <= 1:
                    # sailcloth passes a tenth, in steps of a 32nd
                    assert lit == pytest.approx(within[0] if within else 1.0, abs=0.05)
                    crossed += bool(within)
    assert crossed > 50


def test_the_mast_shows_its_own_breadth_and_sails_one_outline_each() -> None:
    view = sun_views(*day_of(boom_deg=30.0), boat=Hull)[2]
    kinds = [shape.kind for shape in view.shapes]
    assert kinds[:2] == ["hull", "deck"]
    assert kinds.count("sail") == 1  # the headsail is rolled up
    sail = next(shape for shape in view.shapes if shape.kind == "sail")
    assert len(sail.rings) == 1
    breadths = [area(s) / Polygon(s.rings[0]).length * 2.0 for s in view.shapes if s.kind == "spar"]
    assert max(breadths) == pytest.approx(0.16, rel=0.05)
