"""Where cells lie on a panel, and which of them are wired to each other."""

from __future__ import annotations

import numpy as np
import pytest

from planner.physics.array.layout import Side, cell_places, coarse_places, divides, usual_grid

SIDES: tuple[Side, Side] = ("width", "length")


def other(side: Side) -> Side:
    return "length" if side == "width" else "width"


Wired = tuple[float, float, int, int, int, Side]
# length, width, cells, substrings, parallel strings, the side that the substrings divide; and the grid. Panels of 36,
# 32, 60 and 72 cells, one without a division, half-cut ones of 120, 144 and 108, shingles of 5 strings of 34
USUAL: list[tuple[Wired, tuple[int, int]]] = [
    ((1.20, 0.54, 36, 2, 1, "width"), (9, 4)),
    ((1.20, 0.54, 32, 2, 1, "width"), (8, 4)),
    ((1.65, 0.99, 60, 3, 1, "width"), (10, 6)),
    ((1.96, 0.99, 72, 3, 1, "width"), (12, 6)),
    ((0.54, 1.20, 36, 1, 1, "length"), (4, 9)),
    ((1.69, 1.00, 60, 3, 2, "width"), (20, 6)),
    ((2.02, 1.00, 72, 3, 2, "width"), (24, 6)),
    ((1.72, 1.13, 54, 3, 2, "width"), (18, 6)),
    ((1.10, 0.80, 34, 2, 5, "length"), (34, 5)),
]


@pytest.mark.parametrize(("wired", "grid"), USUAL)
@pytest.mark.parametrize("turned", [False, True])
def test_usual_panels_have_their_usual_grids_lying_either_way(
    wired: Wired, grid: tuple[int, int], turned: bool
) -> None:
    length, width, cells, substrings, parallel, across = wired
    if turned:
        length, width, across, grid = width, length, other(across), (grid[1], grid[0])
    found = usual_grid(length, width, cells=cells, substrings=substrings, parallel=parallel, across=across)
    assert found == grid


def test_no_grid_fits_where_the_groups_do_not_divide_the_cells() -> None:
    assert usual_grid(1.0, 0.5, cells=36, substrings=5, parallel=1, across="width") is None
    assert usual_grid(1.0, 0.5, cells=35, substrings=2, parallel=5, across="width") is None


def test_of_two_grids_as_near_the_one_with_fewer_cells_along_is_taken() -> None:
    # two cells on a square: halves either way
    assert usual_grid(1.0, 1.0, cells=2, substrings=1, parallel=1, across="width") == (1, 2)


def test_groups_and_strings_come_out_whole_each_on_its_own_side() -> None:
    assert divides(20, 6, substrings=3, parallel=2, across="width")
    assert not divides(20, 6, substrings=3, parallel=2, across="length")
    assert divides(6, 20, substrings=3, parallel=2, across="length")
    assert not divides(20, 6, substrings=4, parallel=2, across="width")


@pytest.mark.parametrize("across", SIDES)
@pytest.mark.parametrize(
    ("of_groups", "of_strings", "substrings", "parallel"), [(4, 9, 2, 1), (6, 20, 3, 2), (6, 10, 1, 5), (1, 1, 1, 1)]
)
def test_cells_cover_the_grid_once_group_by_group_and_string_by_string(
    across: Side, of_groups: int, of_strings: int, substrings: int, parallel: int
) -> None:
    along, beside = (of_groups, of_strings) if across == "length" else (of_strings, of_groups)
    places = cell_places(along, beside, substrings=substrings, parallel=parallel, across=across)
    assert {tuple(place) for place in places.tolist()} == {(i, j) for i in range(along) for j in range(beside)}
    assert len(places) == along * beside
    group_side, string_side = (0, 1) if across == "length" else (1, 0)
    # cells of one string follow each other: strings in a group, groups in a panel, counted from aft or starboard
    strings = places.reshape(substrings, parallel, -1, 2)
    for g, group in enumerate(strings):
        for s, string in enumerate(group):
            assert set(string[:, group_side] * substrings // of_groups) == {g}
            assert set(string[:, string_side] * parallel // of_strings) == {s}


def test_the_first_substring_is_the_starboard_one_and_its_first_cell_the_aftmost() -> None:
    places = cell_places(9, 4, substrings=2, parallel=1, across="width")
    assert places[0].tolist() == [0, 0]
    assert set(places[:18, 1]) == {0, 1}
    assert set(places[18:, 1]) == {2, 3}
    halves = cell_places(20, 6, substrings=3, parallel=2, across="width")
    assert set(halves[:20, 0]) == set(range(10))  # the first string of the first group: the after half
    assert set(halves[:20, 1]) == {0, 1}


@pytest.mark.parametrize("across", SIDES)
@pytest.mark.parametrize(
    ("substrings", "parallel", "sides"),
    [(1, 1, (3, 3)), (2, 1, (4, 3)), (3, 2, (3, 4)), (2, 5, (4, 5)), (5, 1, (5, 3))],
)
def test_coarse_patches_are_three_or_more_a_side_and_as_many_in_each_string(
    across: Side, substrings: int, parallel: int, sides: tuple[int, int]
) -> None:
    places = coarse_places(substrings=substrings, parallel=parallel, across=across)
    of_groups, of_strings = sides
    along, beside = (of_groups, of_strings) if across == "length" else (of_strings, of_groups)
    assert (places.max(axis=0) + 1).tolist() == [along, beside]
    expected = cell_places(along, beside, substrings=substrings, parallel=parallel, across=across)
    np.testing.assert_array_equal(places, expected)
