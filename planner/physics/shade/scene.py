"""What the shade kernel reads: surfaces, tubes, and panels with their points."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Bools, Floats, Ints

Words = npt.NDArray[np.uint64]


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
    shades: Bools


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
    shades: Bools


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
        Affine map from (x, y, 1) in the panel's plane [m] to (place, row); points have whole numbers of both,
        rows from 0, places from 0 to 62.
    rows : array (panel,)
        Rows in use.
    patch_first : array (panel + 1,)
        Patches of panel p are ``patch_first[p]`` to ``patch_first[p + 1] - 1``.
    patch_word : array (patch, row)
        The points of each patch as bits.
    """

    centre_m: Floats
    axes: Floats
    half_m: Floats
    pitch_m: Floats
    to_row: Floats
    rows: Ints
    patch_first: Ints
    patch_word: Words
