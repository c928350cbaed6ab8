"""Shade: how much of the light from given directions reaches each substring past polygons and tubes.

Occluders are thrown along the light onto each panel's plane, rejected by bounding box, and filled row by row into
words whose bits are the panel's sample points. Pieces are joined within a surface; light passed is multiplied across
surfaces. What lies below a panel's plane cannot shade it and is cut away once for each setting of the rig.
"""

from __future__ import annotations

from planner.physics.shade.kernel import lit_fraction
from planner.physics.shade.scene import Samples, Surfaces, Tubes

__all__ = ["Samples", "Surfaces", "Tubes", "lit_fraction"]
