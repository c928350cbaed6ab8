"""Pictures of the boat as the sun sees her."""

from __future__ import annotations

import dataclasses
import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from plan_fixture import make_plan

from planner.presentation.drawing.sun_view import PAPER, draw, heeled, sun_pictures, whereabouts
from planner.presentation.pages.report import render


@pytest.mark.parametrize(
    ("off_bow_deg", "words"),
    [
        (2.0, "dead ahead"),
        (-35.0, "35° on the port bow"),
        (95.0, "abeam to starboard"),
        (-150.0, "30° on the port quarter"),
        (178.0, "dead astern"),
    ],
)
def test_the_sun_stands_where_a_crew_would_say(off_bow_deg: float, words: str) -> None:
    assert whereabouts(off_bow_deg) == words


def test_heel_is_said_to_its_side() -> None:
    assert heeled(-12.3) == "heeled 12° to port"
    assert heeled(7.6) == "heeled 8° to starboard"
    assert heeled(0.2) == "upright"


def test_all_panels_and_their_numbers_lie_on_the_paper() -> None:
    view = make_plan().sun_views[0]
    root = ET.fromstring(str(draw(view, "label")))
    panels = [path for path in root.iter("path") if path.get("class") == "seen-panel"]
    assert len(panels) == 6
    for path in panels:
        places = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d", ""))]
        assert all(0.0 <= x <= PAPER[0] for x in places[::2])
        assert all(0.0 <= y <= PAPER[1] for y in places[1::2])
    numbers = [text.text for text in root.iter("text") if text.get("class") is None]
    assert numbers == ["1", "2", "3", "4", "5", "6"]


def test_numbers_of_panels_edge_on_step_aside() -> None:
    view = make_plan().sun_views[0]
    stacked = dataclasses.replace(
        view, panels=tuple(dataclasses.replace(panel, middle_m=(0.0, 0.0)) for panel in view.panels)
    )
    root = ET.fromstring(str(draw(stacked, "label")))
    across = sorted(float(text.get("x", "nan")) for text in root.iter("text") if text.get("class") is None)
    assert min(b - a for a, b in pairwise(across)) >= 12.9


def test_a_cell_is_as_dark_as_the_light_that_it_misses_and_a_dim_one_is_struck_through() -> None:
    paths = list(ET.fromstring(str(draw(make_plan().sun_views[0], "label"))).iter("path"))
    cells = [path for path in paths if path.get("class") == "seen-cell"]
    assert [path.get("fill-opacity") for path in cells] == ["0.00", "0.90"]
    (struck,) = (path for path in paths if path.get("class") == "seen-dim")
    corners = re.findall(r"[-\d.]+ [-\d.]+", cells[1].get("d", ""))
    assert struck.get("d") == f"M{corners[0]}L{corners[2]}"
    shadow = next(path for path in paths if path.get("class") == "seen-shadow")
    assert shadow.get("fill-opacity") is None


def test_the_table_tells_the_same_and_names_panels_turned_away() -> None:
    pictures = sun_pictures(make_plan())
    assert pictures is not None
    assert [column.heading for column in pictures.table.columns] == ["Panel", "09:30", "14:00"]
    assert [cell.replace("\N{NO-BREAK SPACE}", " ") for cell in pictures.table.rows[0]] == [
        "1  arch port",
        "55 %, 18 of 36",
        "100 %",
    ]
    assert pictures.table.rows[5][2] == "turned away"
    assert pictures.pictures[0][1] == "09:30: sun 32° up, 35° on the port bow; heeled 12° to port"


def test_the_report_holds_the_pictures_after_the_panels_and_does_without() -> None:
    plan = make_plan()
    page = render(plan)
    assert (
        page.index("Panels, mean of the forecasts") < page.index('id="suns"') < page.index("The watch bill, a page")
    )
    assert page.count('class="sun-view"') == 2
    assert 'id="suns"' not in render(dataclasses.replace(plan, sun_views=()))
