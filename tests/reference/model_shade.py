"""Shade by rays: from each point of a panel toward the light, against every triangle and tube of the boat."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache

from model_layout import grid
from model_track import cos, sin

Vec = tuple[float, float, float]
NEAR_M = 1e-6  # m; what lies no higher than this over a panel's plane does not shade it
MOST_POINTS = 2112  # of a panel, unless it has more cells
LIT_STEPS = 32  # in which the lit part of a cell is counted
SUN_WIDTH = 0.0093  # rad, of the sun's disc
CARRIED_M = 0.10  # m; how far below its canvas or tube a panel's centre may lie and still be carried by it


def dot(a: Vec, b: Vec) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def mix(*parts: tuple[float, Vec]) -> Vec:
    return tuple(sum(weight * vector[axis] for weight, vector in parts) for axis in range(3))


@dataclass
class Surface:
    """Flat pieces that count once: the light they pass, and the panels that they do not shade."""

    passed: float
    pieces: list[list[Vec]]
    spares: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        fans = [(piece[0], piece[k], piece[k + 1]) for piece in self.pieces for k in range(1, len(piece) - 1)]
        self.triangles = [(a, mix((1, b), (-1, a)), mix((1, c), (-1, a))) for a, b, c in fans]
        middles = [mix((1 / 3, a), (1 / 3, b), (1 / 3, c)) for a, b, c in fans]
        self.balls = [(m, max(math.dist(m, end) for end in fan)) for m, fan in zip(middles, fans, strict=True)]

    def toward(self, light: Vec, centre: Vec, reach: float) -> list[tuple[Vec, Vec, Vec, Vec, float]]:
        """What of it rays to the light may meet that start within ``reach`` of a place."""
        near = []
        for (corner, edge, other), (middle, radius) in zip(self.triangles, self.balls, strict=True):
            away = (middle[0] - centre[0], middle[1] - centre[1], middle[2] - centre[2])
            ahead = dot(away, light)
            if ahead > -reach - radius and dot(away, away) - ahead**2 <= (reach + radius + 1e-6) ** 2:
                aside = cross(light, other)
                near.append((corner, edge, other, aside, dot(edge, aside)))
        return [triangle for triangle in near if triangle[4] != 0.0]


def meets(triangles, point: Vec, light: Vec, least: float) -> bool:
    """Whether the ray meets any triangle farther off than ``least`` (Moeller and Trumbore 1997)."""
    (px, py, pz), (lx, ly, lz) = point, light
    for (cx, cy, cz), (ex, ey, ez), other, (ax, ay, az), size in triangles:
        x, y, z = px - cx, py - cy, pz - cz
        u = (x * ax + y * ay + z * az) / size
        if not 0.0 <= u <= 1.0:
            continue
        around = (y * ez - z * ey, z * ex - x * ez, x * ey - y * ex)
        v = (lx * around[0] + ly * around[1] + lz * around[2]) / size
        if v >= 0.0 and u + v <= 1.0 and dot(other, around) / size > least:
            return True
    return False


@dataclass
class Tube:
    """A round tube, opaque, and the panels that it does not shade."""

    start: Vec
    end: Vec
    radius: float
    spares: set[int] = field(default_factory=set)


class Face:
    """A panel as a plane with sample points, each standing for one of its parts: a cell or a patch."""

    def __init__(self, panel, spots: list[tuple[float, float, int]]) -> None:
        b, t = panel.tilt_toward_deg, panel.tilt_deg
        axis = (sin(b), cos(b), 0.0)  # the level line about which the face tilts
        self.eu, self.ev, self.normal = (_turned(e, axis, t) for e in ((1, 0, 0), (0, 1, 0), (0, 0, 1)))
        self.centre = panel.centre_m
        self.length, self.width = panel.length_m, panel.width_m
        self.points = [((u - 0.5) * self.length, (v - 0.5) * self.width, part) for u, v, part in spots]
        self.places = [mix((1, self.centre), (x, self.eu), (y, self.ev)) for x, y, _ in self.points]
        self.pitch = math.sqrt(self.length * self.width / max(len(spots), 1))
        self.parts = max((part for _, _, part in spots), default=-1) + 1

    def corners(self) -> list[Vec]:
        ends = ((1, 1), (1, -1), (-1, -1), (-1, 1))
        half = (self.length / 2.0, self.width / 2.0)
        return [mix((1, self.centre), (u * half[0], self.eu), (v * half[1], self.ev)) for u, v in ends]

    def lit(self, index: int, light: Vec, surfaces: list[Surface], tubes: list[Tube]) -> list[float]:
        """Light by part from one direction, over that without shade."""
        facing = dot(light, self.normal)
        if facing <= 1e-6:
            return [0.0] * self.parts
        bands = [band for tube in tubes if index not in tube.spares and (band := self._band(tube, light, facing))]
        reach = 0.5 * math.hypot(self.length, self.width)
        about = [s for s in surfaces if index not in s.spares and s.passed < 1.0]
        near = [(s.passed, some) for s in about if (some := s.toward(light, self.centre, reach))]
        if not bands and not near:
            return [1.0] * self.parts
        sums, counts = [0.0] * self.parts, [0] * self.parts
        for (x, y, part), point in zip(self.points, self.places, strict=True):
            passed = 1.0
            for (ax, ay), (bx, by), (px, py), through in bands:
                dx, dy = bx - ax, by - ay
                size = dx * py - dy * px
                along = ((x - ax) * py - (y - ay) * px) / size if size else -1.0
                beside = (dx * (y - ay) - dy * (x - ax)) / size if size else 2.0
                if 0.0 <= along <= 1.0 and abs(beside) <= 1.0:
                    passed *= through
            for through, triangles in near:
                if passed > 0.0 and meets(triangles, point, light, NEAR_M / facing):
                    passed *= through
            sums[part] += passed
            counts[part] += 1
        return [total / count for total, count in zip(sums, counts, strict=True)]

    def _own(self, vector: Vec) -> Vec:
        return (dot(vector, self.eu), dot(vector, self.ev), dot(vector, self.normal))

    def _band(self, tube: Tube, light: Vec, facing: float):
        """A tube's shadow on the plane: both ends of its axis, the way to its edge, and the light that passes."""
        a, b = (self._own(mix((1, end), (-1, self.centre))) for end in (tube.start, tube.end))
        s = self._own(light)
        if a[2] <= NEAR_M and b[2] <= NEAR_M:
            return None
        if a[2] <= NEAR_M or b[2] <= NEAR_M:
            part = (NEAR_M - a[2]) / (b[2] - a[2])
            cut = mix((1.0 - part, a), (part, b))
            a, b = (cut, b) if a[2] <= NEAR_M else (a, cut)
        d = mix((1, b), (-1, a))
        aside = cross(d, s)
        w = math.hypot(*aside)
        if w <= 1e-9 * math.hypot(*d):
            return None
        thrown = [(q[0] - q[2] * s[0] / s[2], q[1] - q[2] * s[1] / s[2]) for q in (a, b)]
        seen_a, seen_d = dot(a, s), dot(d, s)
        place = min(max(-(dot(a, d) - seen_a * seen_d) / w**2, 0.0), 1.0)
        distance = max(seen_a + place * seen_d, 0.0)
        width = max(2 * tube.radius, SUN_WIDTH * distance, self.pitch * facing * math.dist(*thrown) / w)
        n = tuple(part / w for part in aside)
        half = (0.5 * width * (n[0] - n[2] * s[0] / s[2]), 0.5 * width * (n[1] - n[2] * s[1] / s[2]))
        (ax, ay), (bx, by) = thrown
        long = (bx - ax) ** 2 + (by - ay) ** 2
        nearest = min(max(-(ax * (bx - ax) + ay * (by - ay)) / long, 0.0), 1.0) if long else 0.0
        miss = math.hypot(ax + nearest * (bx - ax), ay + nearest * (by - ay))
        if miss > 0.5 * math.hypot(self.length, self.width) + math.hypot(*half) + 1e-6:
            return None
        return *thrown, half, 1.0 - 2.0 * tube.radius / width


@cache
def lattice(points: int, along: int, across: int) -> list[tuple[float, float, int]]:
    """Places over a panel, in parts of its sides, and the cell in which each lies; so many to a cell on the mean.

    The step across for one along has no common factor with their number and is nearest to its golden section.
    """
    count = min(points * along * across, max(MOST_POINTS, along * across))
    golden = count * (math.sqrt(5.0) - 1.0) / 2.0
    step = min((k for k in range(1, count + 1) if math.gcd(k, count) == 1), key=lambda k: (abs(k - golden), k))
    spots = []
    for i in range(count):
        j = step * i % count
        spots.append(((i + 0.5) / count, (j + 0.5) / count, i * along // count * across + j * across // count))
    held = {cell for _, _, cell in spots}
    assert len(held) == along * across, f"cells without a point: {points} points a cell on {along} x {across}"
    return spots


def _turned(e: Vec, k: Vec, degrees: float) -> Vec:
    """A vector turned about a unit axis (Rodrigues)."""
    return mix((cos(degrees), e), (sin(degrees), cross(k, e)), ((1.0 - cos(degrees)) * dot(k, e), k))


def aboard(vector: Vec, heading: float, heel: float, pitch: float) -> Vec:
    """A vector given east, north, up, as the heeled boat sees it: forward, to port, up."""
    x = (sin(heading) * cos(pitch), cos(heading) * cos(pitch), sin(pitch))
    upright = (-sin(heading) * sin(pitch), -cos(heading) * sin(pitch), cos(pitch))
    port = (-cos(heading), sin(heading), 0.0)
    y, z = mix((cos(heel), port), (sin(heel), upright)), mix((cos(heel), upright), (-sin(heel), port))
    return (dot(vector, x), dot(vector, y), dot(vector, z))


def occluders(rig, panels, trim: dict, *, back: float = 0.0) -> tuple[list[Surface], list[Tube]]:
    """Everything that throws a shadow, as the sails stand in one step; cloth throws a part of half a sky back."""
    hoist, furled_to = trim["mainsail_hoist_fraction"], trim["headsail_set_fraction"]
    cloth = rig.sail_transmission + 0.5 * back * (1.0 - rig.sail_transmission)
    surfaces = [Surface(cloth, _mainsail(rig, trim))] if hoist > 0.0 else []
    if furled_to > 0.0:
        surfaces.append(Surface(cloth, _headsail(rig, trim)))
    if (hood := rig.sprayhood) is not None:
        surfaces.append(Surface(hood.transmission, *_sprayhood(hood, panels)))
    if (awning := rig.bimini) is not None:
        half = awning.width_m / 2.0
        sheet = [(x, y, awning.height_m) for x, y in _box(awning.front_x_m, awning.aft_x_m, half)]
        carried = _lying_on(panels, awning.front_x_m, awning.aft_x_m, half, awning.height_m)
        surfaces.append(Surface(awning.transmission, [sheet], carried))
    surfaces += [Surface(polygon.transmission, [list(polygon.corners_m)]) for polygon in rig.polygons]
    surfaces += [Surface(0.0, _drum(radome)) for radome in rig.radomes]
    surfaces += [Surface(0.0, [Face(p, []).corners()], {k}) for k, p in enumerate(panels)]
    b, h = trim["boom_angle_deg"], rig.boom_height_m
    tubes = [
        Tube((0.0, 0.0, 0.0), (0.0, 0.0, max(rig.i_m, h + rig.p_m)), rig.mast_radius_m),
        Tube(
            (0.0, 0.0, h),
            (-rig.e_m * cos(b), rig.e_m * sin(b), h),
            rig.boom_radius_m + rig.stowed_sail_radius_m * (1.0 - hoist),
        ),
        Tube((rig.j_m, 0.0, rig.headsail_tack_height_m), (0.0, 0.0, rig.i_m), 0.02 + 0.03 * (1.0 - furled_to)),
    ]
    if (arch := rig.arch) is not None:
        x, half, top, radius = arch.x_m, arch.width_m / 2.0, arch.height_m, arch.tube_radius_m
        carried = {
            k
            for k, p in enumerate(panels)
            if abs(p.centre_m[0] - x) <= p.length_m
            and abs(p.centre_m[1]) <= half
            and p.centre_m[2] >= top - CARRIED_M
        }
        legs = [((x, side * half, 0.0), (x, side * half, top)) for side in (1, -1)]
        tubes += [Tube(*ends, radius, carried) for ends in (*legs, ((x, half, top), (x, -half, top)))]
    tubes += [Tube(tube.from_m, tube.to_m, tube.radius_m) for tube in rig.tubes]
    return surfaces, tubes


def _drum(radome) -> list[list[Vec]]:
    """Eight walls and a lid of a disc's area."""
    x, y, z = radome.centre_m
    r = radome.diameter_m / 2.0 * math.sqrt(math.pi / 4.0 / math.sin(math.pi / 4.0))
    plan = [(x + r * cos(22.5 + 45.0 * k), y + r * sin(22.5 + 45.0 * k)) for k in range(8)]
    low, high = z - radome.height_m / 2.0, z + radome.height_m / 2.0
    walls = [[(*a, low), (*a, high), (*b, high), (*b, low)] for a, b in zip(plan, plan[1:] + plan[:1], strict=True)]
    return [*walls, [(*a, high) for a in plan]]


def _box(front: float, aft: float, half: float) -> list[tuple[float, float]]:
    return [(front, half), (front, -half), (aft, -half), (aft, half)]


def _lying_on(panels, front: float, aft: float, half: float, height: float) -> set[int]:
    places = enumerate(panel.centre_m for panel in panels)
    return {k for k, (x, y, z) in places if aft <= x <= front and abs(y) <= half and z >= height - CARRIED_M}


def _side(angle: float, tack: float) -> float:
    return math.copysign(1.0, angle if angle != 0.0 else tack)


def _sail(luff: list[Vec], leech: list[Vec]) -> list[list[Vec]]:
    lower = [[luff[k], leech[k], luff[k + 1]] for k in range(4)]
    return lower + [[leech[k], leech[k + 1], luff[k + 1]] for k in range(3)]


def _mainsail(rig, trim: dict) -> list[list[Vec]]:
    f, boom = trim["mainsail_hoist_fraction"], trim["boom_angle_deg"]
    luff, leech = [], []
    for u in (0.0, 0.25, 0.5, 0.75, 1.0):
        h = 1.0 - f * (1.0 - u)
        chord = rig.e_m * ((1.0 - h) + 4.0 * 0.08 * h * (1.0 - h))
        angle = min(max(boom + _side(boom, trim["tack"]) * 10.0 * u, -90.0), 90.0)
        z = rig.boom_height_m + rig.p_m * f * u
        luff.append((0.0, 0.0, z))
        leech.append((-chord * cos(angle), chord * sin(angle), z))
    return _sail(luff, leech)


def _headsail(rig, trim: dict) -> list[list[Vec]]:
    f, sheet = trim["headsail_set_fraction"], trim["headsail_angle_deg"]
    rise = rig.i_m - rig.headsail_tack_height_m
    stay = math.hypot(rise, rig.j_m)
    sn, cs, widest = rig.j_m / stay, rise / stay, rig.headsail_overlap * rig.j_m
    clew = (0.08 * rise + widest * sn) / cs
    luff, leech = [], []
    for u in (0.0, 0.25, 0.5, 0.75, 1.0):
        angle = min(max(sheet + _side(sheet, trim["tack"]) * 10.0 * u, -90.0), 90.0)
        up_luff = clew * (1.0 - f) + stay * f * u
        up_leech = clew * (1.0 - u) + (clew + (stay - clew) * f) * u
        reach = widest * f * (1.0 - u)
        foot = rig.headsail_tack_height_m
        luff.append((rig.j_m - sn * up_luff, 0.0, foot + cs * up_luff))
        aft = cos(angle) * reach
        leech.append((rig.j_m - sn * up_leech - cs * aft, sin(angle) * reach, foot + cs * up_leech - sn * aft))
    return _sail(luff, leech)


def _sprayhood(hood, panels) -> tuple[list[list[Vec]], set[int]]:
    front, aft, h = hood.front_x_m, hood.aft_x_m, hood.height_m
    brow, foot, top = front - 0.4 * (front - aft), hood.width_m / 2.0, 0.8 * hood.width_m / 2.0
    sides = [
        [(front, s * foot, 0.0), (brow, s * top, h), (aft, s * top, h), (aft, s * foot, 0.0)] for s in (1.0, -1.0)
    ]
    screen = [(front, foot, 0.0), (brow, top, h), (brow, -top, h), (front, -foot, 0.0)]
    roof = [(x, y, h) for x, y in _box(brow, aft, top)]
    return [*sides, screen, roof], _lying_on(panels, brow, aft, top, h)


def beam(rig, panels, trim: dict, sun: tuple[float, float], *, points: int, nodes: int) -> dict:
    """Roll nodes' weights, cosines of incidence and lit parts by cell, for one step; ``points`` on each cell."""
    azimuth, elevation = sun
    toward = (sin(azimuth) * cos(elevation), cos(azimuth) * cos(elevation), sin(elevation))
    faces = [Face(panel, lattice(points, *grid(panel))) for panel in panels]
    surfaces, tubes = occluders(rig, panels, trim)
    cosines, lit = [], []
    for k in range(1, nodes + 1):
        heel = trim["heel_deg"] + trim["roll_amplitude_deg"] * math.cos((2 * k - 1) * math.pi / (2 * nodes))
        light = aboard(toward, trim["heading_deg"], heel, trim["pitch_deg"])
        cosines.append([dot(light, face.normal) for face in faces])
        up = elevation > 0.0
        lit.append(
            [
                _rounded(face.lit(p, light, surfaces, tubes)) if up else [0.0] * face.parts
                for p, face in enumerate(faces)
            ]
        )
    return {"weights": [1.0 / nodes] * nodes, "cosines": cosines, "lit": lit}


def _rounded(lit: list[float]) -> list[float]:
    return [math.floor(part * LIT_STEPS + 0.5 + 1e-9) / LIT_STEPS for part in lit]
