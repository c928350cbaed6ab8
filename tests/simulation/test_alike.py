"""Kinds of light on a string's cells, and substrings that stand in the same light."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.kernels import most_between
from planner.physics.strings.tables import ALIKE, COUNT, FIGURES, LIGHT, SHUNT
from planner.simulation.harvest.alike import KINDS, group_cells, light_cells, same_light, sort_out


def kinds_of(*strings: list[float], share: float = 1.0) -> np.ndarray:
    """Return the kinds of some strings of cells at one node."""
    kinds = np.zeros((1, len(strings), 3, KINDS + 1))
    for place, lit in enumerate(strings):
        group_cells(np.array(lit), share, kinds[0, place])
    return kinds


def test_the_dimmest_cells_stand_alone_and_the_brighter_ones_keep_their_mean() -> None:
    kinds = kinds_of([0.4, 0.1, 1.0, 0.1, 0.9, 0.2], share=0.8)[0, 0]
    assert kinds[0, -1] == 3
    assert kinds[0, :3] == pytest.approx([0.1, 0.2, 2.3 / 3.0])  # 0.4 is no longer near the dimmest
    assert kinds[1, :3] == pytest.approx([0.8] * 3)
    assert kinds[2, :3] == pytest.approx([2.0, 1.0, 3.0])


def test_cells_all_alike_are_one_kind() -> None:
    kinds = kinds_of([0.5, 0.5, 0.5])[0, 0]
    assert (kinds[0, -1], kinds[0, 0], kinds[2, 0]) == (1, 0.5, 3)


def test_the_order_of_the_cells_does_not_matter_but_their_light_does() -> None:
    kinds = kinds_of([1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [0.0, 0.0, 1.0])
    assert same_light(0, 0, 1, 1, kinds)
    assert not same_light(0, 0, 2, 1, kinds)


def test_a_substring_is_the_twin_of_the_first_of_its_panel_in_like_light() -> None:
    """Four substrings of two strings each, of two panels: 0 and 2 are alike, and 3 is like them on another panel."""
    pair = [[1.0, 1.0], [0.0, 1.0]]
    kinds = kinds_of(*pair, [1.0, 1.0], [1.0, 1.0], *pair, *pair)
    substrings, twin = np.zeros((1, 4, FIGURES)), np.zeros((1, 4), dtype=np.int64)
    strings_first = np.arange(0, 9, 2)
    sort_out(0, 0, 3, kinds, strings_first, substrings, twin)
    sort_out(0, 3, 4, kinds, strings_first, substrings, twin)
    assert twin[0].tolist() == [0, 1, 0, 3]
    assert substrings[0, :, ALIKE].tolist() == [0.0, 1.0, 0.0, 0.0]


def test_the_dimmest_level_comes_first_whatever_the_sky_adds() -> None:
    kinds = kinds_of([1.0, 0.0, 0.0])
    levels = np.zeros((1, 1, 3, KINDS + 1))
    light_cells(0, 0, kinds, (800.0, 100.0, 20.0), 6.0, 0.002, levels)
    assert levels[0, 0, LIGHT, -1] == 2
    assert levels[0, 0, LIGHT, :2] == pytest.approx([6.0 * 0.12, 6.0 * 0.92])
    assert levels[0, 0, SHUNT, :2] == pytest.approx([0.002 * 0.12, 0.002 * 0.92])
    assert levels[0, 0, COUNT, :2].tolist() == [2.0, 1.0]


@pytest.mark.parametrize(("firsts", "most"), [([0, 3, 4, 9], 5), ([0, 2], 2), ([7], 0), ([], 0)])
def test_most_between_is_the_longest_run(firsts: list[int], most: int) -> None:
    assert most_between(np.array(firsts, dtype=np.int64)) == most
