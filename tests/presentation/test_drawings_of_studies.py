"""The studies' drawings: whiskers, uprights and suns stand where their figures are, on wide and narrow paper."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from planner.domain.results.figures import Spread
from planner.presentation.drawing.frame import even_ticks, tick_words
from planner.presentation.drawing.value_plots import CELL_PX, Beside, SunCell, Whisker, sun_grid, upright, whiskers


def roots(drawings: tuple[str, ...]) -> list[ET.Element]:
    return [ET.fromstring(str(drawing)) for drawing in drawings]


def of_class(root: ET.Element, tag: str, css: str) -> list[ET.Element]:
    return [each for each in root.iter(tag) if each.attrib.get("class") == css]


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 10.0, 5, [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]),
        (-3.0, 7.0, 4, [-5.0, 0.0, 5.0, 10.0]),
        (0.0, 0.9, 4, [0.0, 0.5, 1.0]),
        (0.0, 0.0, 4, [0.0, 5e-7]),  # nothing to show still has an axis
    ],
)
def test_ticks_are_round_even_few_and_hold_both_ends(low: float, high: float, most: int, ticks: list[float]) -> None:
    found = even_ticks(low, high, most)
    assert found[0] <= low
    assert found[-1] >= high
    assert np.ptp(np.diff(found)) == pytest.approx(0.0, abs=1e-12)
    assert found == pytest.approx(ticks)


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.0, "0"), (1000.0, "1\N{THIN SPACE}000"), (-500.0, "\N{MINUS SIGN}500"), (-0.2, "\N{MINUS SIGN}0.2")],
)
def test_a_ticks_value_is_typeset(value: float, words: str) -> None:
    assert tick_words(value) == words


def test_a_whisker_spans_its_middle_eight_tenths_and_the_mark_stands_on_the_plan() -> None:
    rows = [Whisker("first row", Spread(20.0, -40.0, 10.0, 60.0), "first"),
            Whisker("second row", Spread(0.0, 0.0, 0.0, 0.0), "second")]  # fmt: skip
    for root in roots(whiskers(rows, unit="Wh", label="label")):
        (zero,) = of_class(root, "line", "zero")
        mark = of_class(root, "circle", "mark first")[0]
        line = of_class(root, "line", "whisker first")[0]
        zero_x, low, high = (float(element.attrib[x]) for element, x in ((zero, "x1"), (line, "x1"), (line, "x2")))
        per_wh = (high - low) / 100.0
        assert zero_x == pytest.approx(low + 40.0 * per_wh, abs=0.2)
        assert float(mark.attrib["cx"]) == pytest.approx(low + 60.0 * per_wh, abs=0.2)
        square = of_class(root, "rect", "mark second")[0]
        assert float(square.attrib["x"]) + float(square.attrib["width"]) / 2.0 == pytest.approx(zero_x, abs=0.2)
        assert root.attrib["aria-label"] == "label"


def test_names_are_cut_or_short_on_narrow_paper() -> None:
    row = Whisker("a name much too long for a telephone", Spread(1.0, 0.0, 1.0, 2.0), "first", short="short")
    wide, narrow = roots(whiskers([row], unit="h", label="l"))
    assert of_class(wide, "text", "name")[0].text == row.name
    assert of_class(narrow, "text", "name")[0].text == "short"
    bare = Whisker(row.name, row.value, "first")
    cut = of_class(roots(whiskers([bare], unit="h", label="l"))[1], "text", "name")[0].text
    assert cut == "a name much too \N{HORIZONTAL ELLIPSIS}"  # 17 letters with it


def test_a_place_draws_what_was_found_between_the_axiss_ends() -> None:
    ticks = [0.0, 25.0, 50.0, 75.0, 100.0]
    figures = [Beside("1", (25.0, 50.0, 75.0)), Beside("2", (-20.0, 0.0, 140.0), css="amiss"), Beside("3", None)]
    for root in roots(upright(figures, ticks, "%", label="l", level=(50.0, "sound"))):
        frame = of_class(root, "rect", "plot-frame")[0]
        top, tall = float(frame.attrib["y"]), float(frame.attrib["height"])
        first, second = of_class(root, "line", "whisker found")[0], of_class(root, "line", "whisker amiss")[0]
        level = of_class(root, "line", "line sound")[0]
        assert float(first.attrib["y1"]) == pytest.approx(top + 0.75 * tall, abs=0.1)
        assert float(first.attrib["y2"]) == pytest.approx(top + 0.25 * tall, abs=0.1)
        assert float(level.attrib["y1"]) == pytest.approx(top + 0.5 * tall, abs=0.1)
        assert (float(second.attrib["y1"]), float(second.attrib["y2"])) == pytest.approx((top + tall, top), abs=0.1)
        values = [each.text for each in of_class(root.find("g"), "text", "value")]  # type: ignore[arg-type]
        assert values == ["0", "25", "50", "75", "100"]
        assert len(root.attrib["data-x"].split()) == len(root.attrib["data-y"].split()) == 3
        assert root.attrib["data-y"].split()[2] == "nan"  # nothing to point at


def test_the_suns_place_is_across_by_bearing_and_up_by_height() -> None:
    places = (15.0, 52.5, "98"), (105.0, 22.5, "61"), (45.0, 22.5, "97")
    cells = [SunCell(*place, amiss=place[2] == "61") for place in places]
    for root in roots(sun_grid(cells, label="l")):
        xs, ys = ([float(value) for value in root.attrib[name].split()] for name in ("data-x", "data-y"))
        assert xs[0] < xs[2] < xs[1]
        assert xs[1] - xs[2] == pytest.approx(2.0 * (xs[2] - xs[0]), abs=0.3)
        assert ys[1] - ys[0] == pytest.approx(CELL_PX, abs=0.1)  # the higher sun on the higher row
        (amiss,) = of_class(root, "rect", "cell amiss")
        assert float(amiss.attrib["x"]) + float(amiss.attrib["width"]) / 2.0 == pytest.approx(xs[1], abs=0.2)
        words = [each.text for each in root.iter("text")]
        assert {"ahead", "starboard", "astern", "port", "98", "61"} <= set(words)
