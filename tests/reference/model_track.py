"""The track, one step after another: wind, boards, leeway, set and drift, tack and trim, in plain floats."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from model_sailings import along, beside, make_leg
from model_tables import bracket, interp, trilinear, wrap
from pygeomag import GeoMag

KN = 1852.0 / 3600.0  # m/s in a knot


def sin(deg: float) -> float:
    return math.sin(math.radians(deg))


def cos(deg: float) -> float:
    return math.cos(math.radians(deg))


class Boat:
    """What the boat makes of a wind: polar, best angles, leeway, tack, and how she holds a course."""

    def __init__(self, sailing, current) -> None:
        self.s = sailing
        self.set_deg, self.drift = current.set_deg, current.drift_kn
        self.angles = list(sailing.polar.true_wind_angle_deg)
        self.winds = list(sailing.polar.true_wind_speed_kn)
        rows = [list(row) for row in sailing.polar.speed_kn]
        if self.winds[0] > 0.0:
            self.winds, rows = [0.0, *self.winds], [[0.0, *row] for row in rows]
        self.rows = [[0.0, *row[1:]] for row in rows]
        self.up, self.down = self._best_angles()
        if self.angles[0] > 0.0:  # dead to windward there is no speed
            self.angles, self.rows = [0.0, *self.angles], [[0.0] * len(self.winds), *self.rows]

    def speed(self, angle: float, wind: float) -> float:
        below, part = bracket(self.winds, wind)
        column = [row[below] * (1.0 - part) + row[below + 1] * part for row in self.rows]
        return self.s.comfort_factor * interp(self.angles, column, angle)

    def _best_angles(self) -> tuple[list[float], list[float]]:
        first, last = self.angles[0], self.angles[-1]
        scan = [k / 10.0 for k in range(math.ceil(10.0 * first), math.floor(10.0 * last) + 1)]
        up, down = [], []
        for column in range(len(self.winds)):
            speeds = [interp(self.angles, [row[column] for row in self.rows], angle) for angle in scan]
            if not any(speeds):
                up.append(None)
                down.append(None)
                continue
            made_good = [speed * cos(angle) for speed, angle in zip(speeds, scan, strict=True)]
            up.append(scan[made_good.index(max(made_good))])
            down.append(scan[made_good.index(min(made_good))])
        for column in reversed(range(len(self.winds))):  # a column without speed takes the next one's angles
            if up[column] is None:
                last_one = column + 1 == len(self.winds)
                up[column] = first if last_one else up[column + 1]
                down[column] = last if last_one else down[column + 1]
        return up, down

    def held(self, tack: int, twa: float) -> int:
        side = 1 if twa >= 0.0 else -1
        astride = not self.s.tack_hysteresis_deg < abs(twa) < 180.0 - self.s.tack_hysteresis_deg
        return tack if tack not in {0, side} and astride else side

    def apparent(self, wind: float, twa: float, through: float, leeway: float) -> tuple[float, float]:
        ahead = wind * cos(twa) + through * cos(leeway)
        starboard = wind * sin(twa) + through * sin(leeway)
        return math.hypot(ahead, starboard), wrap(math.degrees(math.atan2(starboard, ahead)))

    def leeway(self, tack: int, wind: float, twa: float, through: float, leeway: float) -> float:
        _, awa = self.apparent(wind, twa, through, leeway)
        return -tack * interp(self.s.leeway_deg.angle_deg, self.s.leeway_deg.value, abs(awa))

    def steer(self, course: float, through: float) -> tuple[float, float]:
        """Course through the water and speed over ground, for a course over ground across the current."""
        across = self.drift * sin(self.set_deg - course)
        if abs(across) > through:
            return course - math.copysign(90.0, across), math.nan
        crab = -math.degrees(math.asin(across / through)) if through > 0.0 else 0.0
        return course + crab, through * cos(crab) + self.drift * cos(self.set_deg - course)

    def hold_course(self, course: float, wind_from: float, wind: float, tack: int, fixed: float | None) -> dict:
        heading, leeway = course, 0.0
        for _ in range(60):
            twa = wrap(wind_from - heading)
            side = self.held(tack, twa)
            through = self.speed(abs(twa), wind) if fixed is None else fixed
            new_leeway = self.leeway(side, wind, twa, through, leeway)
            water, ground = self.steer(course, through)
            change = abs(wrap(water - new_leeway - heading)) + abs(new_leeway - leeway)
            heading, leeway = water - new_leeway, new_leeway
            if change < 1e-10:
                break
        best = interp(self.winds, self.up, wind)
        if abs(wrap(wind_from - heading)) < best - 0.01 and self.speed(best, wind) > 0.0:
            through, leeway, ground = 0.0, 0.0, math.nan  # in irons
        return self._motion(
            course, heading, ground, through=through, leeway=leeway, tack=side, wind_from=wind_from, engine=False
        )

    def motor(self, course: float, wind_from: float, through: float, tack: int) -> dict:
        heading, ground = self.steer(course, through)
        side = self.held(tack, wrap(wind_from - heading))
        return self._motion(
            course, heading, ground, through=through, leeway=0.0, tack=side, wind_from=wind_from, engine=True
        )

    def board(self, angle: float, wind_from: float, wind: float, tack: int, fixed: float | None) -> dict:
        """Motion with the wind at this angle over this side; the course is what it comes to."""
        heading = wind_from - tack * angle
        through = self.speed(angle, wind) if fixed is None else fixed
        leeway = 0.0
        for _ in range(60):
            before, leeway = leeway, self.leeway(tack, wind, tack * angle, through, leeway)
            if abs(leeway - before) < 1e-10:
                break
        east = through * sin(heading + leeway) + self.drift * sin(self.set_deg)
        north = through * cos(heading + leeway) + self.drift * cos(self.set_deg)
        course = math.degrees(math.atan2(east, north))
        return self._motion(
            course,
            heading,
            math.hypot(east, north),
            through=through,
            leeway=leeway,
            tack=tack,
            wind_from=wind_from,
            engine=False,
        )

    @staticmethod
    def _motion(course, heading, ground, *, through, leeway, tack, wind_from, engine: bool) -> dict:
        names = {"course_deg": course % 360.0, "heading_deg": heading % 360.0, "leeway_deg": leeway, "tack": tack}
        twa = wrap(wind_from - heading)
        return {**names, "ground": ground, "through": through, "twa": twa, "under_engine": engine, "side": 0}

    def choose(self, mark: float, wind_from: float, wind: float, state: dict, fixed: float | None) -> dict:
        up, down = interp(self.winds, self.up, wind), interp(self.winds, self.down, wind)
        tack, margin = state["tack"], self.s.engine_margin_kn if state["driven"] > 0.0 else 0.0
        just_started = 0.0 < state["driven"] < self.s.engine_least_min / 60.0 - 1e-9
        motion = self._boards(mark, wind_from, wind, state, up, left_tack=1, fixed=fixed)
        if motion is None and self.s.gybe_downwind and fixed is None:
            motion = self._boards(mark, wind_from, wind, state, down, left_tack=-1, fixed=None)
        if motion is None:
            motion = self.hold_course(mark, wind_from, wind, tack, fixed)
            motion["made_good"] = motion["ground"]
        if not self.s.engine_below_kn > 0.0:
            return motion
        by_engine = min(self.s.motoring_speed_kn, math.inf if fixed is None else fixed)
        motor = self.motor(mark, wind_from, by_engine, tack)
        if not motor["ground"] > 0.0:
            return motion if motion["made_good"] > 0.0 or motion["through"] > motor["through"] else motor
        too_slow = self.speed(abs(motion["twa"]), wind) < self.s.engine_below_kn + margin
        beats = fixed is not None and motion["side"] != 0
        gains = motion["made_good"] > 0.0
        least = self.s.engine_below_made_good_kn
        behind = not gains or motion["made_good"] < least + (margin if least > 0.0 else 0.0)
        better = not gains or motor["ground"] > motion["made_good"]
        return motor if just_started or too_slow or beats or (behind and better) else motion

    def _boards(self, mark, wind_from, wind, state, angle, *, left_tack: int, fixed: float | None) -> dict | None:
        left = self.board(angle, wind_from, wind, left_tack, fixed)
        right = self.board(angle, wind_from, wind, -left_tack, fixed)
        off_left, off_right = (mark - left["course_deg"]) % 360.0, (right["course_deg"] - mark) % 360.0
        if not (off_left > 1e-6 and off_right > 1e-6 and off_left + off_right < 180.0):
            return None
        good = {-1: left["ground"] * cos(off_left), 1: right["ground"] * cos(off_right)}
        better = 0 if abs(good[1] - good[-1]) <= 1e-6 else 1 if good[1] > good[-1] else -1
        side, widest = state["side"], self.s.board_nm
        turned = side != 0 and abs(wrap(wind_from - state["board_from"])) >= self.s.tack_on_shift_deg
        if side == 0:
            side = better or (-1 if (state["tack"] or 1) == left_tack else 1)
        if side * state["x"] >= widest or (turned and better == -side and -side * state["x"] < widest):
            side = -side
        chosen, other = (left, right) if side < 0 else (right, left)
        # hours on either that lead straight to the mark: h left + (1 - h) right has nothing across
        across_left, across_right = left["ground"] * sin(off_left), right["ground"] * sin(off_right)
        part = across_right / (across_left + across_right)
        both = part * good[-1] + (1.0 - part) * good[1]
        return {**chosen, "side": side, "other_course": other["course_deg"], "made_good": both}


def sail(passage, boat, route, forecast) -> list[dict]:
    """Rows of the track in the control member's wind, in the words of the glossary."""
    rhumb = passage.sailings == "rhumb_line"
    legs = [make_leg(a.lat, a.lon, b.lat, b.lon, rhumb=rhumb) for a, b in pairwise(route)]
    fixed = {leg.from_waypoint: leg.speed_kn for leg in passage.legs}
    speeds = [fixed.get(number, fixed.get(point.name)) for number, point in enumerate(route[:-1], 1)]
    sails = Boat(boat.sailing, passage.current)
    step_h = passage.model.step_min / 60.0
    departure = passage.departure.astimezone(UTC)
    wind_at = _wind(forecast, departure)
    state = {"leg": 0, "s": 0.0, "x": 0.0, "side": 0, "tack": 0, "board_from": 0.0, "driven": 0.0}
    rows, distance = [], 0.0
    while state["leg"] < len(legs):
        start_h = len(rows) * step_h
        lat, lon, bearing = _position(legs, state)
        east, north = wind_at(start_h + step_h / 2.0, lat, lon)
        east -= passage.current.drift_kn * sin(passage.current.set_deg)
        north -= passage.current.drift_kn * cos(passage.current.set_deg)
        wind, wind_from = math.hypot(east, north), math.degrees(math.atan2(-east, -north)) % 360.0
        this, *later = legs[state["leg"] :]
        to_go = math.hypot(this.length_nm - state["s"], state["x"]) + sum(leg.length_nm for leg in later)
        row = {"lat": lat, "lon": lon, "leg": state["leg"], "leg_bearing_deg": bearing, "distance_nm": distance}
        row |= {"distance_to_go_nm": to_go, "true_wind_speed_kn": wind, "true_wind_from_deg": wind_from}
        left, parts = step_h, []
        while left > 0.0 and state["leg"] < len(legs):
            _, _, bearing = _position(legs, state)
            to_mark = legs[state["leg"]].length_nm - state["s"]
            mark = bearing + math.degrees(math.atan2(-state["x"], to_mark))
            motion = sails.choose(mark, wind_from, wind, state, speeds[state["leg"]])
            if motion["side"] != state["side"]:
                state["board_from"] = wind_from
            spent = _move(state, motion, bearing, to_mark=to_mark, left=left, widest=boat.sailing.board_nm)
            state["driven"] = state["driven"] + spent if motion["under_engine"] else 0.0
            parts.append((spent, motion))
            left -= spent
        distance += sum(motion["ground"] * spent for spent, motion in parts)
        row["speed_over_ground_kn"] = sum(motion["ground"] * spent for spent, motion in parts) / step_h
        row["speed_through_water_kn"] = sum(motion["through"] * spent for spent, motion in parts) / step_h
        rows.append(row | _trim(boat.sailing, sails, wind, max(parts, key=lambda part: part[0])[1]))
    for row, variation in zip(rows, _variation(rows, departure, passage.model.step_min), strict=True):
        row["heading_magnetic_deg"] = (row["heading_deg"] - variation) % 360.0
    return rows


def _position(legs, state) -> tuple[float, float, float]:
    return beside(*along(legs[state["leg"]], state["s"]), state["x"])


def _move(state: dict, motion: dict, bearing: float, *, to_mark: float, left: float, widest: float) -> float:
    """Move along the part of a step that this motion lasts, and return how long that is [h]."""
    x, ground = state["x"], motion["ground"]
    state["side"], state["tack"] = motion["side"], motion["tack"]
    if motion["side"] == 0:
        away = math.hypot(to_mark, x)
        needed = 0.0 if away == 0.0 else away / ground if ground > 0.0 else math.inf
        if needed > left:
            state["s"] += to_mark * left / needed
            state["x"] *= 1.0 - left / needed
            return left
        state.update(leg=state["leg"] + 1, s=0.0, x=0.0)
        return needed
    u, v = ground * cos(motion["course_deg"] - bearing), ground * sin(motion["course_deg"] - bearing)
    other, side = motion["other_course"] - bearing, motion["side"]
    closing = sin(other) * u - cos(other) * v
    to_layline = max((cos(other) * x + sin(other) * to_mark) / closing, 0.0) if closing != 0.0 else math.inf
    to_limit = (side * widest - x) / v if side * v > 0.0 else math.inf
    spent = min(left, max(min(to_layline, to_limit), 1e-4))
    state["s"] += u * spent
    state["x"] = side * widest if spent == to_limit else x + v * spent
    return spent


def _trim(sailing, sails: Boat, wind: float, motion: dict) -> dict:
    twa, tack = motion["twa"], motion["tack"]
    aws, awa = sails.apparent(wind, twa, motion["through"], motion["leeway_deg"])
    set_sail = 0.0 if motion["under_engine"] else 1.0
    boom = interp(sailing.boom_angle_deg.angle_deg, sailing.boom_angle_deg.value, abs(awa))
    headsail = interp(sailing.headsail_angle_deg.angle_deg, sailing.headsail_angle_deg.value, abs(awa))
    poled_out = -1.0 if abs(twa) > sailing.wing_on_wing_beyond_deg else 1.0
    heel = interp(sailing.heel_deg.wind_kn, sailing.heel_deg.value, aws) * cos(
        90.0 * max(abs(awa) - 35.0, 0.0) / 145.0
    )
    roll = sailing.roll_amplitude_deg
    kept = {name: motion[name] for name in ("course_deg", "heading_deg", "leeway_deg", "tack", "under_engine")}
    return kept | {
        "true_wind_angle_deg": twa,
        "apparent_wind_angle_deg": awa,
        "apparent_wind_speed_kn": aws,
        "boom_angle_deg": tack * set_sail * boom,
        "headsail_angle_deg": tack * set_sail * headsail * poled_out,
        "mainsail_hoist_fraction": set_sail * interp(sailing.hoist.wind_kn, sailing.hoist.value, aws),
        "headsail_set_fraction": set_sail * interp(sailing.headsail_set.wind_kn, sailing.headsail_set.value, aws),
        "heel_deg": -tack * set_sail * heel,
        "pitch_deg": 0.0,
        "roll_amplitude_deg": interp(roll.angle_deg, roll.value, abs(twa)),
    }


def _wind(forecast, departure: datetime):
    """A function of hours since departure and position: the forecast's wind toward east and north [kn]."""
    zero = departure.replace(tzinfo=None)
    hours = [(time - zero).total_seconds() / 3600.0 for time in forecast["time"].values.astype("M8[us]").tolist()]
    lats, lons = forecast["lat"].values.tolist(), forecast["lon"].values.tolist()
    parts = [forecast[name].isel(member=0).values.astype(float) for name in ("wind_east_m_s", "wind_north_m_s")]
    middle = (lons[0] + lons[-1]) / 2.0

    def wind_at(hour: float, lat: float, lon: float) -> list[float]:
        near = middle + wrap(lon - middle)
        return [trilinear(part, (hours, lats, lons), (hour, lat, near)) / KN for part in parts]

    return wind_at


def _variation(rows: list[dict], departure: datetime, step_min: int) -> list[float]:
    every = round(180 / step_min)
    nodes = sorted({*range(0, len(rows), every), len(rows) - 1})
    values: list[float] = []
    for node in nodes:
        moment = departure + timedelta(minutes=node * step_min)
        new_year, next_year = (datetime(year, 1, 1, tzinfo=UTC) for year in (moment.year, moment.year + 1))
        year = moment.year + (moment - new_year) / (next_year - new_year)
        epoch = min(max(5 * (moment.year // 5), 2010), 2025)
        model = GeoMag(coefficients_file=f"wmm/WMM_{epoch}.COF")
        value = model.calculate(rows[node]["lat"], rows[node]["lon"], 0, year, allow_date_outside_lifespan=True).d
        values.append(values[-1] + wrap(value - values[-1]) if values else value)
    return [interp(nodes, values, row) for row in range(len(rows))]
