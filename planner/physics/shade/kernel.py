"""The kernel: loops over settings of the rig, panels and directions of light; surfaces, then tubes; then patches.

Helpers take plain arrays and return once: an array handed on in a bundle, or past an early return, costs atomic
reference counts, which made the whole three times slower.
"""

from __future__ import annotations

from math import ceil, floor

import numpy as np
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.physics.kernels import most_between
from planner.physics.shade.occluders import Vector, cut_pieces, cut_tube, throw_tube
from planner.physics.shade.scene import Samples, Surfaces, Tubes, Words

GRAZING = 1e-6  # 1; cosine of incidence below which the light is taken as behind the panel

# rows of the working array: an outline's corners along and across the rows of points, its edges as lines across them
PLACE, LINE, EDGE, SLOPE = 0, 1, 2, 3

Affine = tuple[float, float, float, float, float, float]


@njit(cache=True, error_model="numpy")
def _fill(work: Floats, corners: int, mask: Words, which: int) -> bool:
    """Set the bits of the points inside a convex outline; return whether it reached a row.

    Parameters
    ----------
    work : array (4, corner)
        Place along the rows and row of each corner in rows ``PLACE`` and ``LINE``, in order either way round;
        the rest is overwritten.
    corners : int
        At least 3.
    mask : array (mask, row)
        One word a row, changed in place.
    which : int
        The mask to fill.
    """
    bottom, top = np.inf, -np.inf
    for k in range(corners):
        bottom = min(bottom, work[LINE, k])
        top = max(top, work[LINE, k])
    # held to the rows before they are made whole numbers: an outline may lie farther off than those reach
    first = ceil(min(max(bottom, 0.0), 1.0 * mask.shape[1]))
    last = floor(max(min(top, mask.shape[1] - 1.0), -1.0))
    met = first <= last and bottom < top
    if met:
        turn = 0.0  # twice the outline's area, positive when it runs round to the left
        for k in range(2, corners):
            turn += (work[PLACE, k - 1] - work[PLACE, 0]) * (work[LINE, k] - work[LINE, 0])
            turn -= (work[PLACE, k] - work[PLACE, 0]) * (work[LINE, k - 1] - work[LINE, 0])
        lower, upper = 0, corners  # edges below the rows' stretch fill from the front, those above it from the back
        previous = corners - 1
        for k in range(corners):
            rise = work[LINE, k] - work[LINE, previous]
            if rise != 0.0:
                slope = (work[PLACE, k] - work[PLACE, previous]) / rise
                at = lower
                if rise * turn < 0.0:  # round to the left, an edge that falls has the outline on its high side
                    lower += 1
                else:
                    upper -= 1
                    at = upper
                work[SLOPE, at] = slope
                work[EDGE, at] = work[PLACE, previous] - work[LINE, previous] * slope
            previous = k
        for row in range(first, last + 1):
            low, high = -1.0, 63.0
            for k in range(lower):
                low = max(low, work[EDGE, k] + row * work[SLOPE, k])
            for k in range(upper, corners):
                high = min(high, work[EDGE, k] + row * work[SLOPE, k])
            mask[which, row] |= _stretch(low, high)
    return met


@njit(cache=True, error_model="numpy")
def _stretch(low: float, high: float) -> np.uint64:
    """Return a word with the bits from ``low`` to ``high``, both counted, set."""
    begin = ceil(min(max(low, 0.0), 63.0))
    stop = floor(min(max(high, -1.0), 62.0)) + 1
    one = np.uint64(1)
    return ((one << np.uint64(stop)) - one) & ~((one << np.uint64(begin)) - one)


@njit(cache=True, error_model="numpy")
def _count_bits(word: np.uint64) -> int:
    """Return the number of set bits of a word."""
    word = word - ((word >> np.uint64(1)) & np.uint64(0x5555555555555555))
    word = (word & np.uint64(0x3333333333333333)) + ((word >> np.uint64(2)) & np.uint64(0x3333333333333333))
    word = (word + (word >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return int((word * np.uint64(0x0101010101010101)) >> np.uint64(56))


@njit(cache=True, error_model="numpy")
def _mark_near(box: Floats, near: Bools, slope: tuple[float, float], half: tuple[float, float]) -> None:
    """Mark the pieces whose boxes, thrown along the light, touch the panel."""
    gx, gy = slope
    half_x, half_y = half
    across_x, across_y = abs(gx), abs(gy)
    for piece in range(near.size):
        off_x = abs(box[0, piece] - box[2, piece] * gx) - box[3, piece] - box[5, piece] * across_x
        off_y = abs(box[1, piece] - box[2, piece] * gy) - box[4, piece] - box[5, piece] * across_y
        near[piece] = (off_x <= half_x) & (off_y <= half_y)


@njit(cache=True, error_model="numpy")
def _shaded_rows(mask: Words, masks: int, rows: Ints) -> int:
    """Fill the rows on which some shadow lies; return how many they are."""
    shaded = 0
    for row in range(mask.shape[1]):
        any_bit = mask[0, row]
        for k in range(1, masks):
            any_bit |= mask[k, row]
        rows[shaded] = row
        shaded += any_bit != np.uint64(0)
    return shaded


@njit(cache=True, error_model="numpy")
def _light_taken(  # noqa: PLR0917
    patch_word: Words, patch: int, mask: Words, passed: Floats, masks: int, rows: Ints, shaded: int
) -> float:
    """Return the light that a patch's points miss: all of it where dark, and what each veil does not pass."""
    taken = 0.0
    for k in range(shaded):
        row = rows[k]
        points = patch_word[patch, row]
        if points == np.uint64(0):
            continue
        dark = points & mask[0, row]
        taken += _count_bits(dark)
        rest = np.uint64(0)
        for veil in range(1, masks):
            rest |= mask[veil, row]
        rest &= points & ~dark
        while rest != np.uint64(0):
            bit = rest & (~rest + np.uint64(1))
            rest ^= bit
            part = 1.0
            for veil in range(1, masks):
                if mask[veil, row] & bit:
                    part *= passed[veil]
            taken += 1.0 - part
    return taken


@njit(cache=True, error_model="numpy")
def _shade_by_surfaces(  # noqa: PLR0917
    passed: Floats,
    setting: int,
    surface_first: Ints,
    piece_first: Ints,
    cut: Floats,
    box: Floats,
    near: Bools,
    slope: tuple[float, float],
    half: tuple[float, float],
    to_row: Affine,
    work: Floats,
    full: Words,
    mask: Words,
    mask_passed: Floats,
) -> int:
    """Fill the surfaces' shadows; return the number of masks, or 0 once the whole panel is dark."""
    gx, gy = slope
    half_x, half_y = half
    masks = 1
    for surface in range(surface_first.size - 1):
        through = passed[setting, surface]
        which = 0 if through == 0.0 else masks
        met = False
        for piece in range(surface_first[surface], surface_first[surface + 1]):
            if masks == 0 or not near[piece]:
                continue
            start = 2 * piece_first[piece]
            corners = int(box[6, piece])
            min_x, max_x, min_y, max_y = np.inf, -np.inf, np.inf, -np.inf
            for k in range(corners):
                x = cut[0, start + k] - cut[2, start + k] * gx
                y = cut[1, start + k] - cut[2, start + k] * gy
                work[PLACE, k] = to_row[0] * x + to_row[1] * y + to_row[2]
                work[LINE, k] = to_row[3] * x + to_row[4] * y + to_row[5]
                min_x, max_x = min(min_x, x), max(max_x, x)
                min_y, max_y = min(min_y, y), max(max_y, y)
            if min_x > half_x or max_x < -half_x or min_y > half_y or max_y < -half_y:
                continue
            if which > 0 and not met:
                _clear(mask, which)
            met = True
            _fill(work, corners, mask, which)
            if which == 0 and _covered(full, mask):
                masks = 0
        if which > 0 and met:
            mask_passed[which] = through
            masks += 1
    return masks


@njit(cache=True, error_model="numpy")
def _shade_by_tubes(  # noqa: PLR0917
    radius_m: Floats,
    setting: int,
    axis: Floats,
    upright: Bools,
    light: Vector,
    size: Vector,
    to_row: Affine,
    work: Floats,
    mask: Words,
    mask_passed: Floats,
    masks: int,
) -> int:
    """Fill the tubes' shadows; return the number of masks now."""
    for tube in range(upright.size):
        if not upright[tube]:
            continue
        ends = (axis[tube, 0], axis[tube, 1], axis[tube, 2], axis[tube, 3], axis[tube, 4], axis[tube, 5])
        x0, y0, x1, y1, px, py, through = throw_tube(ends, radius_m[setting, tube], light, size)
        if through >= 1.0:
            continue
        _put(work, 0, x0 + px, y0 + py, to_row)
        _put(work, 1, x1 + px, y1 + py, to_row)
        _put(work, 2, x1 - px, y1 - py, to_row)
        _put(work, 3, x0 - px, y0 - py, to_row)
        if through == 0.0:
            _fill(work, 4, mask, 0)
        else:
            _clear(mask, masks)
            if _fill(work, 4, mask, masks):
                mask_passed[masks] = through
                masks += 1
    return masks


@njit(cache=True, error_model="numpy")
def _put(work: Floats, corner: int, x: float, y: float, to_row: Affine) -> None:
    """Write one corner of an outline."""
    work[PLACE, corner] = to_row[0] * x + to_row[1] * y + to_row[2]
    work[LINE, corner] = to_row[3] * x + to_row[4] * y + to_row[5]


@njit(cache=True, error_model="numpy")
def _clear(mask: Words, which: int) -> None:
    """Empty one mask."""
    for row in range(mask.shape[1]):
        mask[which, row] = np.uint64(0)


@njit(cache=True, error_model="numpy")
def _covered(full: Words, mask: Words) -> bool:
    """Return whether every point of the panel is in full shadow."""
    rest = np.uint64(0)
    for row in range(full.size):
        rest |= full[row] & ~mask[0, row]
    return bool(rest == np.uint64(0))


@njit(cache=True, error_model="numpy")
def _join(patch_word: Words, first: int, last: int, full: Words) -> None:
    """Write the points of all of a panel's patches."""
    for row in range(full.size):
        full[row] = np.uint64(0)
        for patch in range(first, last):
            full[row] |= patch_word[patch, row]


@njit(cache=True, error_model="numpy")
def lit_fraction(sun: Floats, surfaces: Surfaces, tubes: Tubes, samples: Samples) -> Floats:
    """Return the part of the light from each direction that reaches each patch.

    Parameters
    ----------
    sun : array (setting, direction, 3)
        Unit vectors toward the light in the boat frame, for each setting of the rig [1].
    surfaces : Surfaces
        Flat pieces.
    tubes : Tubes
        Round tubes.
    samples : Samples
        The panels and their points.

    Returns
    -------
    array (setting, direction, patch)
        Light that reaches the points over light that would without shade; 0 from behind the panel [0..1].
    """
    lit = np.zeros((sun.shape[0], sun.shape[1], samples.patch_word.shape[0]))
    piece_first, surface_first, passed = surfaces.piece_first, surfaces.surface_first, surfaces.passed
    radius_m, axes, patch_word = tubes.radius_m, samples.axes, samples.patch_word
    pieces, count, rows = piece_first.size - 1, radius_m.shape[1], patch_word.shape[1]
    work = np.empty((4, max(2 * most_between(piece_first), 4)))
    cut, box = np.empty((3, 2 * surfaces.corner_m.shape[1])), np.empty((7, pieces))
    near = np.empty(pieces, dtype=np.bool_)
    axis, upright = np.empty((count, 6)), np.empty(count, dtype=np.bool_)
    # mask 0 holds the points in full shadow, 1 and on those behind each veil that passes some light
    mask, mask_passed = (
        np.empty((surface_first.size + count, rows), dtype=np.uint64),
        np.ones(surface_first.size + count),
    )
    full, shaded_rows = np.empty(rows, dtype=np.uint64), np.empty(rows, dtype=np.int64)
    size = np.zeros(patch_word.shape[0])  # points on each patch
    for patch in range(size.size):
        for row in range(rows):
            size[patch] += _count_bits(patch_word[patch, row])
    for setting in range(sun.shape[0]):
        for panel in range(axes.shape[0]):
            half_x, half_y, pitch = samples.half_m[panel, 0], samples.half_m[panel, 1], samples.pitch_m[panel]
            t = samples.to_row[panel]
            to_row = (t[0, 0], t[0, 1], t[0, 2], t[1, 0], t[1, 1], t[1, 2])
            frame = (samples.centre_m[panel], axes[panel])
            cut_pieces(surfaces, (setting, panel), frame, cut, box)
            for tube in range(count):
                upright[tube] = tubes.shades[tube, panel] and cut_tube(tubes.end_m[setting, tube], frame, axis[tube])
            first, last = samples.patch_first[panel], samples.patch_first[panel + 1]
            _join(patch_word, first, last, full)
            for direction in range(sun.shape[1]):
                ahead, port, up = sun[setting, direction, 0], sun[setting, direction, 1], sun[setting, direction, 2]
                sx = axes[panel, 0, 0] * ahead + axes[panel, 0, 1] * port + axes[panel, 0, 2] * up
                sy = axes[panel, 1, 0] * ahead + axes[panel, 1, 1] * port + axes[panel, 1, 2] * up
                sz = axes[panel, 2, 0] * ahead + axes[panel, 2, 1] * port + axes[panel, 2, 2] * up
                if sz <= GRAZING:
                    continue
                slope, half = (sx / sz, sy / sz), (half_x, half_y)
                _mark_near(box, near, slope, half)
                _clear(mask, 0)
                masks = _shade_by_surfaces(
                    passed,
                    setting,
                    surface_first,
                    piece_first,
                    cut,
                    box,
                    near,
                    slope,
                    half,
                    to_row,
                    work,
                    full,
                    mask,
                    mask_passed,
                )
                if masks == 0:
                    continue
                masks = _shade_by_tubes(
                    radius_m,
                    setting,
                    axis,
                    upright,
                    (sx, sy, sz),
                    (half_x, half_y, pitch),
                    to_row,
                    work,
                    mask,
                    mask_passed,
                    masks,
                )
                shaded = _shaded_rows(mask, masks, shaded_rows)
                for patch in range(first, last):
                    taken = _light_taken(patch_word, patch, mask, mask_passed, masks, shaded_rows, shaded)
                    lit[setting, direction, patch] = 1.0 - taken / size[patch]
    return lit
