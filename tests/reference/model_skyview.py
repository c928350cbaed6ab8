"""How much of the sky panels and their strings of cells see past the rig, looked at now and then along a track."""

from __future__ import annotations

import math

from model_layout import grid, patches, strings_of, wiring
from model_shade import Face, aboard, dot, occluders

BRIGHTER = 0.2  # what the brighter patches of a string add of what they see beyond its dimmest
STEPS = 32  # in which a share of the sky's light is counted


def seen_parts(rig, panels, trim: dict) -> list[list[tuple[float, float]]]:
    """Part of an even sky's light, and of an overcast one's, that each patch gets past the rig: 160 directions."""
    faces = [Face(panel, _middles(*patches(panel))) for panel in panels]
    surfaces, tubes = occluders(rig, panels, trim, back=rig.sail_reflection)
    seen = [[[0.0, 0.0] for _ in range(face.parts)] for face in faces]
    whole = [[0.0, 0.0] for _ in faces]
    for j in range(160):
        r = (j + 0.5) / 160.0
        up, turn = r**0.75, j * math.pi * (3.0 - math.sqrt(5.0))
        level = math.sqrt(1.0 - up * up)
        # of the level boat: ahead is east and port north when she heads 090
        light = aboard(
            (level * math.cos(turn), level * math.sin(turn), up), 90.0, trim["heel_deg"], trim["pitch_deg"]
        )
        for p, face in enumerate(faces):
            weight = r**-0.25 * max(dot(light, face.normal), 0.0)
            if weight > 0.0:
                lit = face.lit(p, light, surfaces, tubes)
                for kind, radiance in enumerate((1.0, (1.0 + 2.0 * up) * 3.0 / 7.0)):
                    whole[p][kind] += weight * radiance
                    for patch, part in zip(seen[p], lit, strict=True):
                        patch[kind] += weight * radiance * part
    return [
        [
            tuple(part / all_of_it if all_of_it else 0.0 for part, all_of_it in zip(patch, open_sky, strict=True))
            for patch in of_panel
        ]
        for of_panel, open_sky in zip(seen, whole, strict=True)
    ]


def looks(rows: list[dict]) -> list[int]:
    """Steps at which the sky is looked at: both ends of each steady spell, and each sixth step between."""
    limits = {"heel_deg": 5.0, "pitch_deg": 5.0, "boom_angle_deg": 10.0, "headsail_angle_deg": 10.0}
    limits |= {"mainsail_hoist_fraction": 0.1, "headsail_set_fraction": 0.1, "tack": 1.0}
    chosen, first = set(), 0
    for t, row in enumerate(rows):
        if t and any(abs(row[name] - rows[t - 1][name]) > limit for name, limit in limits.items()):
            chosen.add(t - 1)
            first = t
        if (t - first) % 6 == 0:
            chosen.add(t)
    return sorted(chosen | {len(rows) - 1})


class SkyView:
    """Each panel's view of the sky and the sea along a track, read linearly between the looks.

    A panel's view is the mean of its patches', and a cell's share of the sky's light that of the look before.
    """

    def __init__(self, rig, panels, rows: list[dict]) -> None:
        self.rig, self.panels, self.rows, self.at = rig, panels, rows, looks(rows)
        self.parts: dict[int, list[list[tuple[float, float]]]] = {}

    def views(self, t: int) -> dict[str, list[float]]:
        before = max(look for look in self.at if look <= t)
        after = min(look for look in self.at if look >= t)
        share = (t - before) / (after - before) if after > before else 0.0
        one, two = self._part(before), self._part(after)
        row, faces = self.rows[t], [Face(panel, []) for panel in self.panels]
        down = aboard((0.0, 0.0, 1.0), 0.0, row["heel_deg"], row["pitch_deg"])
        ups = [dot(down, face.normal) for face in faces]
        views = {"sky_view": [], "overcast_view": [], "sea_view": [(1.0 - up) / 2.0 for up in ups]}
        views["share"] = [
            _shares(panel, [even for even, _ in of]) for panel, of in zip(self.panels, one, strict=True)
        ]
        for a, b, up in zip(map(_mean, one), map(_mean, two), ups, strict=True):
            tilt = math.acos(min(max(up, -1.0), 1.0))
            even = (1.0 + up) / 2.0
            raised = ((math.pi - tilt) * up + math.sin(tilt)) / math.pi
            left = [x * (1.0 - share) + y * share for x, y in zip(a, b, strict=True)]
            views["sky_view"].append(left[0] * even)
            views["overcast_view"].append(left[1] * (3.0 * even + 4.0 * raised) / 7.0)
        return views

    def _part(self, t: int) -> list[list[tuple[float, float]]]:
        if t not in self.parts:
            self.parts[t] = seen_parts(self.rig, self.panels, self.rows[t])
        return self.parts[t]


def _middles(along: int, across: int) -> list[tuple[float, float, int]]:
    return [((k // across + 0.5) / along, (k % across + 0.5) / across, k) for k in range(along * across)]


def _mean(parts: list[tuple[float, float]]) -> list[float]:
    return [sum(column) / len(parts) for column in zip(*parts, strict=True)]


def _shares(panel, views: list[float]) -> list[float]:
    """Each cell's share of the panel's light from the sky: its string's, whose dimmest patch counts most."""
    mean = sum(views) / len(views)
    shares = [0.0] * (panel.cells * strings_of(panel))
    by_patch, by_cell = wiring(panel, patches(panel)), wiring(panel, grid(panel))
    for strings, of_cells in zip(by_patch, by_cell, strict=True):
        for string, cells in zip(strings, of_cells, strict=True):
            parts = [views[patch] / mean if mean > 0.0 else 1.0 for patch in string]
            dimmest = min(parts)
            share = dimmest + BRIGHTER * (sum(parts) / len(parts) - dimmest)
            for cell in cells:
                shares[cell] = math.floor(share * STEPS + 0.5 + 1e-9) / STEPS
    return shares
