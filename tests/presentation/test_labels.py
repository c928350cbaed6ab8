"""Words on a drawing: beside their point, inside the sheet, and never one over another."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree as ET

import pytest

from planner.presentation.drawing.labels import AWAY_PX, LINE_PX, Lettering, breadth

SHEET = (0.0, 0.0, 400.0, 200.0)


def written(*words: tuple[tuple[float, float], str]) -> tuple[list[ET.Element], Lettering]:
    root, lettering = ET.Element("g"), Lettering(SHEET)
    for at, text in words:
        lettering.write(root, "place", at, text)
    return list(root), lettering


def overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]


def test_a_word_stands_to_the_right_of_its_point_and_level_with_it() -> None:
    (word,), _ = written(((100.0, 100.0), "Opua"))
    assert word.attrib == {"class": "place", "text-anchor": "start", "x": f"{100.0 + AWAY_PX:.0f}", "y": "104"}
    assert word.text == "Opua"


def test_at_the_right_edge_it_stands_to_the_left() -> None:
    (word,), lettering = written(((390.0, 100.0), "Opua"))
    assert word.attrib["text-anchor"] == "end"
    assert lettering.taken[0][2] == 390.0 - AWAY_PX
    assert lettering.taken[0][2] - lettering.taken[0][0] == breadth("Opua")


def test_a_second_word_at_the_same_place_goes_lower() -> None:
    (first, second), _ = written(((100.0, 100.0), "Opua"), ((100.0, 100.0), "Tonga"))
    assert float(second.attrib["y"]) - float(first.attrib["y"]) == LINE_PX


@pytest.mark.parametrize("count", [3, 6, 9])
def test_no_word_stands_over_another_or_off_the_sheet(count: int) -> None:
    words, lettering = written(*(((200.0, 100.0), f"Place {number}") for number in range(count)))
    assert len(words) == len(lettering.taken) == min(count, 6)  # right and left, level, lower and higher
    assert not any(overlap(one, other) for one, other in combinations(lettering.taken, 2))
    assert all(
        box[0] >= SHEET[0] and box[1] >= SHEET[1] and box[2] <= SHEET[2] and box[3] <= SHEET[3]
        for box in lettering.taken
    )


def test_what_finds_no_room_is_left_out_rather_than_crowded() -> None:
    assert written(((200.0, 100.0), "a name that is longer than half of the sheet is"))[0] == []
