"""The shade kernel: how much of the light from given directions reaches each substring past polygons and tubes.

Occluders are thrown along the light onto each panel's plane, rejected by bounding box, and filled row by row into
words whose bits are the panel's sample points. Pieces are joined within a surface; light passed is multiplied across
surfaces. What lies below a panel's plane cannot shade it and is cut away once for each setting of the rig.
"""

from __future__ import annotations

from math import ceil, floor, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from planner.physics.frames import Floats

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Words = npt.NDArray[np.uint64]

SUN_DISC_RAD = 0.0093  # rad; mean angular diameter of the sun, 32 arcminutes (recalled)
CLEARANCE_M = 1e-6  # m; what stands less than this above a panel's plane casts no shadow on it
GRAZING = 1e-6  # 1; cosine of incidence below which the beam is taken as behind the panel
END_ON = 1e-9  # 1; sine of the angle between tube and light below which the tube casts none


class Surfaces(NamedTuple):
    """Flat convex pieces, grouped into surfaces.

    Attributes
    ----------
    corner_m : array (setting, corner, 3)
        Corners in order round each piece [m].
    piece_first : array (piece + 1,)
        Where each piece's corners begin.
    surface_first : array (surface + 1,)
        Where each surface's pieces begin.
    passed : array (setting, surface)
        Part of the light that passes; 1 where the surface is not set [0..1].
    shades : array (surface, panel)
        False for the canvas on which a panel lies, and for a panel and itself.
    """

    corner_m: Floats
    piece_first: Ints
    surface_first: Ints
    passed: Floats
    shades: Flags


class Tubes(NamedTuple):
    """Straight round tubes, each a surface of its own.

    Attributes
    ----------
    end_m : array (setting, tube, 2, 3)
        Ends of the axis [m].
    radius_m : array (setting, tube)
        Radius [m].
    shades : array (tube, panel)
        False for the tube that carries a panel.
    """

    end_m: Floats
    radius_m: Floats
    shades: Flags


class Samples(NamedTuple):
    """Planes and points of all panels, padded to the longest.

    Attributes
    ----------
    centre_m : array (panel, 3)
        Middle of each face [m].
    axes : array (panel, 3, 3)
        Rows: along the length, along the width, out of the face [1].
    half_m : array (panel, 2)
        Half of length and width [m].
    pitch_m : array (panel,)
        Mean distance between points: root of area over points [m].
    to_row : array (panel, 2, 3)
        Affine map from (x, y, 1) in the panel's plane [m] to (place, row).
    rows : array (panel,)
        Rows in use.
    row_first, row_count : array (panel, row)
        Place of each row's first point, and how many points it holds.
    strip_first : array (panel + 1,)
        Substrings of panel p are ``strip_first[p]`` to ``strip_first[p + 1] - 1``.
    strip_word : array (substring, row)
        The points of each substring as bits.
    """

    centre_m: Floats
    axes: Floats
    half_m: Floats
    pitch_m: Floats
    to_row: Floats
    rows: Ints
    row_first: Ints
    row_count: Ints
    strip_first: Ints
    strip_word: Words


@njit(cache=True)
def _count_bits(word: np.uint64) -> int:
    """Return the number of set bits."""
    word = word - ((word >> np.uint64(1)) & np.uint64(0x5555555555555555))
    word = (word & np.uint64(0x3333333333333333)) + ((word >> np.uint64(2)) & np.uint64(0x3333333333333333))
    word = (word + (word >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return int((word * np.uint64(0x0101010101010101)) >> np.uint64(56))


@njit(cache=True)
def _fill(
    x: Floats,
    y: Floats,
    corners: int,
    to_row: Floats,
    rows: int,
    row_first: Ints,
    row_count: Ints,
    word: Words,
    low: Floats,
    high: Floats,
    place: Floats,
    line: Floats,
) -> bool:
    """Set the bits of the points inside a convex outline in the panel's plane; return whether a row was met."""
    bottom, top = np.inf, -np.inf
    for k in range(corners):
        place[k] = to_row[0, 0] * x[k] + to_row[0, 1] * y[k] + to_row[0, 2]
        across = to_row[1, 0] * x[k] + to_row[1, 1] * y[k] + to_row[1, 2]
        line[k] = across
        bottom = min(bottom, across)
        top = max(top, across)
    if bottom > rows - 1 or top < 0.0:
        return False
    first = 0 if bottom <= 0.0 else int(ceil(bottom))
    last = rows - 1 if top >= rows - 1 else int(floor(top))
    if first > last:
        return False
    for row in range(first, last + 1):
        low[row] = np.inf
        high[row] = -np.inf
    previous = corners - 1
    for k in range(corners):
        s0, t0, s1, t1 = place[previous], line[previous], place[k], line[k]
        previous = k
        if t0 > t1:
            s0, t0, s1, t1 = s1, t1, s0, t0
        if t1 < first or t0 > last:
            continue
        begin = first if t0 <= first else int(ceil(t0))
        end = last if t1 >= last else int(floor(t1))
        if begin > end:
            continue
        slope = (s1 - s0) / (t1 - t0) if t1 > t0 else 0.0
        for row in range(begin, end + 1):
            s = s0 + (row - t0) * slope
            low[row] = min(low[row], s)
            high[row] = max(high[row], s)
    for row in range(first, last + 1):
        left = max(low[row] - row_first[row], 0.0)
        right = min(high[row] - row_first[row], row_count[row] - 1.0)
        if left <= right:
            begin = int(ceil(left))
            end = int(floor(right))
            if begin <= end:
                run = np.uint64(0xFFFFFFFFFFFFFFFF) >> np.uint64(63 - (end - begin))
                word[row] |= run << np.uint64(begin)
    return True


@njit(cache=True)
def _to_panel(point: Floats, centre: Floats, axes: Floats) -> tuple[float, float, float]:
    """Return a point in the panel's own axes: along its length, along its width, above its plane."""
    dx, dy, dz = point[0] - centre[0], point[1] - centre[1], point[2] - centre[2]
    return (
        axes[0, 0] * dx + axes[0, 1] * dy + axes[0, 2] * dz,
        axes[1, 0] * dx + axes[1, 1] * dy + axes[1, 2] * dz,
        axes[2, 0] * dx + axes[2, 1] * dy + axes[2, 2] * dz,
    )


@njit(cache=True)
def _cut_pieces(
    corner_m: Floats, piece_first: Ints, centre: Floats, axes: Floats, cut: Floats, cut_first: Ints
) -> None:
    """Write every piece in the panel's axes, cut off at the panel's plane."""
    filled = 0
    for piece in range(piece_first.size - 1):
        cut_first[piece] = filled
        start, stop = piece_first[piece], piece_first[piece + 1]
        x0, y0, h0 = _to_panel(corner_m[stop - 1], centre, axes)
        for k in range(start, stop):
            x1, y1, h1 = _to_panel(corner_m[k], centre, axes)
            if (h0 > CLEARANCE_M) != (h1 > CLEARANCE_M):
                part = (CLEARANCE_M - h0) / (h1 - h0)
                cut[0, filled] = x0 + part * (x1 - x0)
                cut[1, filled] = y0 + part * (y1 - y0)
                cut[2, filled] = CLEARANCE_M
                filled += 1
            if h1 > CLEARANCE_M:
                cut[0, filled] = x1
                cut[1, filled] = y1
                cut[2, filled] = h1
                filled += 1
            x0, y0, h0 = x1, y1, h1
    cut_first[piece_first.size - 1] = filled


@njit(cache=True)
def _cut_tube(end_m: Floats, centre: Floats, axes: Floats, axis: Floats) -> bool:
    """Write a tube's axis in the panel's axes, cut off at the panel's plane; return whether any is left."""
    ax, ay, ah = _to_panel(end_m[0], centre, axes)
    bx, by, bh = _to_panel(end_m[1], centre, axes)
    if ah <= CLEARANCE_M and bh <= CLEARANCE_M:
        return False
    if ah <= CLEARANCE_M:
        part = (CLEARANCE_M - ah) / (bh - ah)
        ax, ay, ah = ax + part * (bx - ax), ay + part * (by - ay), CLEARANCE_M
    elif bh <= CLEARANCE_M:
        part = (CLEARANCE_M - bh) / (ah - bh)
        bx, by, bh = bx + part * (ax - bx), by + part * (ay - by), CLEARANCE_M
    axis[0], axis[1], axis[2] = ax, ay, ah
    axis[3], axis[4], axis[5] = bx, by, bh
    return True


@njit(cache=True)
def _band(axis: Floats, radius: float, sun: tuple[float, float, float], pitch: float, x: Floats, y: Floats) -> float:
    """Write the outline of a tube's shadow on the panel's plane; return the part of the light that passes.

    A tube that looks narrower than the sun's disc, or throws a band narrower than the points' pitch, is spread to
    that width with as much more light passed: the light taken is the same, no full shadow, no aliasing.
    """
    sx, sy, sz = sun
    dx, dy, dh = axis[3] - axis[0], axis[4] - axis[1], axis[5] - axis[2]
    nx, ny, nh = dy * sz - dh * sy, dh * sx - dx * sz, dx * sy - dy * sx
    sweep = sqrt(nx * nx + ny * ny + nh * nh)
    if sweep <= END_ON * sqrt(dx * dx + dy * dy + dh * dh):
        return 1.0
    gx, gy = sx / sz, sy / sz
    qx, qy = dx - dh * gx, dy - dh * gy
    to_start = axis[0] * sx + axis[1] * sy + axis[2] * sz
    along = dx * sx + dy * sy + dh * sz
    nearest = -(axis[0] * dx + axis[1] * dy + axis[2] * dh - to_start * along) / (sweep * sweep)
    distance = max(to_start + min(max(nearest, 0.0), 1.0) * along, 0.0)
    width = max(2.0 * radius, SUN_DISC_RAD * distance, pitch * sz * sqrt(qx * qx + qy * qy) / sweep)
    px = 0.5 * width * (nx - nh * gx) / sweep
    py = 0.5 * width * (ny - nh * gy) / sweep
    x0, y0 = axis[0] - axis[2] * gx, axis[1] - axis[2] * gy
    x1, y1 = axis[3] - axis[5] * gx, axis[4] - axis[5] * gy
    x[0], x[1], x[2], x[3] = x0 + px, x1 + px, x1 - px, x0 - px
    y[0], y[1], y[2], y[3] = y0 + py, y1 + py, y1 - py, y0 - py
    return 1.0 - 2.0 * radius / width


@njit(cache=True)
def _lit_of_strip(strip: Words, rows: int, dark: Words, veil: Words, veil_passed: Floats, veils: int) -> float:
    """Return the mean light over a substring's points: none where dark, the product of what each veil passes."""
    total, light = 0, 0.0
    for row in range(rows):
        total += _count_bits(strip[row])
        bright = strip[row] & ~dark[row]
        veiled = np.uint64(0)
        for k in range(veils):
            veiled |= veil[k, row]
        light += _count_bits(bright & ~veiled)
        rest = bright & veiled
        while rest != np.uint64(0):
            bit = rest & (~rest + np.uint64(1))
            rest ^= bit
            passed = 1.0
            for k in range(veils):
                if veil[k, row] & bit:
                    passed *= veil_passed[k]
            light += passed
    return light / total


@njit(cache=True)
def lit_fraction(sun: Floats, surfaces: Surfaces, tubes: Tubes, samples: Samples) -> Floats:
    """Return the part of the light from each direction that reaches each substring.

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
    array (setting, direction, substring)
        Light that reaches the points over light that would without shade; 0 from behind the panel [0..1].
    """
    settings, directions = sun.shape[0], sun.shape[1]
    panels, most_rows = samples.row_first.shape
    pieces = surfaces.piece_first.size - 1
    groups = surfaces.surface_first.size - 1
    tube_count = tubes.radius_m.shape[1]
    lit = np.zeros((settings, directions, samples.strip_word.shape[0]))
    cut = np.empty((3, 2 * surfaces.corner_m.shape[1] + 1))
    cut_first = np.empty(pieces + 1, dtype=np.int64)
    box = np.empty((groups, 6))
    axis = np.empty((tube_count, 6))
    upper = np.empty(tube_count, dtype=np.bool_)
    dark = np.empty(most_rows, dtype=np.uint64)
    veil = np.empty((groups + tube_count, most_rows), dtype=np.uint64)
    veil_passed = np.empty(groups + tube_count)
    full = np.empty(most_rows, dtype=np.uint64)
    low, high = np.empty(most_rows), np.empty(most_rows)
    x, y, place, line = np.empty(64), np.empty(64), np.empty(64), np.empty(64)
    for setting in range(settings):
        for panel in range(panels):
            centre, axes = samples.centre_m[panel], samples.axes[panel]
            half_x, half_y = samples.half_m[panel, 0], samples.half_m[panel, 1]
            to_row, rows = samples.to_row[panel], samples.rows[panel]
            row_first, row_count = samples.row_first[panel], samples.row_count[panel]
            first_strip, last_strip = samples.strip_first[panel], samples.strip_first[panel + 1]
            for row in range(rows):
                full[row] = np.uint64(0xFFFFFFFFFFFFFFFF) >> np.uint64(64 - row_count[row])
            _cut_pieces(surfaces.corner_m[setting], surfaces.piece_first, centre, axes, cut, cut_first)
            for group in range(groups):
                _bound(cut, cut_first[surfaces.surface_first[group]], cut_first[surfaces.surface_first[group + 1]], box[group])
            for tube in range(tube_count):
                upper[tube] = tubes.shades[tube, panel] and _cut_tube(
                    tubes.end_m[setting, tube], centre, axes, axis[tube]
                )
            for direction in range(directions):
                ray = sun[setting, direction]
                sx = axes[0, 0] * ray[0] + axes[0, 1] * ray[1] + axes[0, 2] * ray[2]
                sy = axes[1, 0] * ray[0] + axes[1, 1] * ray[1] + axes[1, 2] * ray[2]
                sz = axes[2, 0] * ray[0] + axes[2, 1] * ray[1] + axes[2, 2] * ray[2]
                if sz <= GRAZING:
                    continue
                gx, gy = sx / sz, sy / sz
                dark[:] = 0
                veils = 0
                open_left = True
                for group in range(groups):
                    passed = surfaces.passed[setting, group]
                    if passed >= 1.0 or not surfaces.shades[group, panel] or not _may_meet(box[group], gx, gy, half_x, half_y):
                        continue
                    word = dark
                    if passed > 0.0:
                        word = veil[veils]
                        word[:] = 0
                    met = False
                    for piece in range(surfaces.surface_first[group], surfaces.surface_first[group + 1]):
                        start = cut_first[piece]
                        corners = cut_first[piece + 1] - start
                        if corners < 3:
                            continue
                        min_x, max_x, min_y, max_y = np.inf, -np.inf, np.inf, -np.inf
                        for k in range(corners):
                            px = cut[0, start + k] - cut[2, start + k] * gx
                            py = cut[1, start + k] - cut[2, start + k] * gy
                            x[k], y[k] = px, py
                            min_x, max_x = min(min_x, px), max(max_x, px)
                            min_y, max_y = min(min_y, py), max(max_y, py)
                        if min_x > half_x or max_x < -half_x or min_y > half_y or max_y < -half_y:
                            continue
                        if _fill(x, y, corners, to_row, rows, row_first, row_count, word, low, high, place, line):
                            met = True
                            if passed == 0.0 and _covers(dark, full, rows):
                                open_left = False
                                break
                    if not open_left:
                        break
                    if met and passed > 0.0:
                        veil_passed[veils] = passed
                        veils += 1
                if open_left:
                    for tube in range(tube_count):
                        if not upper[tube]:
                            continue
                        passed = _band(axis[tube], tubes.radius_m[setting, tube], (sx, sy, sz), samples.pitch_m[panel], x, y)
                        if passed >= 1.0:
                            continue
                        if min(x[0], x[1], x[2], x[3]) > half_x or max(x[0], x[1], x[2], x[3]) < -half_x:
                            continue
                        if min(y[0], y[1], y[2], y[3]) > half_y or max(y[0], y[1], y[2], y[3]) < -half_y:
                            continue
                        word = dark
                        if passed > 0.0:
                            word = veil[veils]
                            word[:] = 0
                        if _fill(x, y, 4, to_row, rows, row_first, row_count, word, low, high, place, line) and passed > 0.0:
                            veil_passed[veils] = passed
                            veils += 1
                    for strip in range(first_strip, last_strip):
                        lit[setting, direction, strip] = _lit_of_strip(
                            samples.strip_word[strip], rows, dark, veil, veil_passed, veils
                        )
    return lit


@njit(cache=True)
def _bound(cut: Floats, start: int, stop: int, box: Floats) -> None:
    """Write the bounds of a surface in the panel's axes: least and greatest x, y and height."""
    for k in range(3):
        box[2 * k], box[2 * k + 1] = np.inf, -np.inf
        for corner in range(start, stop):
            box[2 * k] = min(box[2 * k], cut[k, corner])
            box[2 * k + 1] = max(box[2 * k + 1], cut[k, corner])


@njit(cache=True)
def _may_meet(box: Floats, gx: float, gy: float, half_x: float, half_y: float) -> bool:
    """Return whether the shadow of a box can reach the panel."""
    if box[0] > box[1]:
        return False
    shift_low, shift_high = min(box[4] * gx, box[5] * gx), max(box[4] * gx, box[5] * gx)
    if box[0] - shift_high > half_x or box[1] - shift_low < -half_x:
        return False
    shift_low, shift_high = min(box[4] * gy, box[5] * gy), max(box[4] * gy, box[5] * gy)
    return bool(box[2] - shift_high <= half_y and box[3] - shift_low >= -half_y)


@njit(cache=True)
def _covers(word: Words, full: Words, rows: int) -> bool:
    """Return whether every point of the panel is set."""
    for row in range(rows):
        if word[row] & full[row] != full[row]:
            return False
    return True
