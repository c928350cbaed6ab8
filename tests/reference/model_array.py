"""From light on a panel to power at the bus: incidence, cells, diodes, bypass, strings, controller, one at a time."""

from __future__ import annotations

import math

import model_layout
from model_cells import Attitude, Cell, Series, Substring, held_voltage
from model_diode import sheet_diode
from model_tables import interp

MOUNTING = {
    "open": (-3.56, -0.075, 3.0),
    "ventilated": (-2.98, -0.0471, 1.0),
    "on_canvas": (-2.81, -0.0455, 0.0),
    "on_deck": (-2.81, -0.0455, 0.0),
}  # King et al. 2004


def incidence(cosine: float) -> float:
    """Part of the light that glass lets in at an angle, over that straight on: Snell, Fresnel and Bouguer."""
    if cosine <= 0.0:
        return 0.0
    x = min(cosine, 1.0)
    inside = math.sqrt(1.0 - (1.0 - x * x) / 1.526**2)
    across, within = (x - 1.526 * inside) / (x + 1.526 * inside), (inside - 1.526 * x) / (inside + 1.526 * x)
    through = (1.0 - (across**2 + within**2) / 2.0) * math.exp(-4.0 * 0.002 / inside)
    return through / ((1.0 - (0.526 / 2.526) ** 2) * math.exp(-4.0 * 0.002))


def split_sky(
    elevation_deg: float, ghi: float, dni: float, dhi: float, day_of_year: int
) -> tuple[float, float, float]:
    """Light from the sun's place in the sky, from the whole sky, and from the sea, after Hay and Davies."""
    if elevation_deg <= 0.0:
        return 0.0, 0.0, 0.0
    anisotropy = min(max(dni / extraterrestrial(day_of_year), 0.0), 1.0)
    beam = dni + dhi * anisotropy / max(math.sin(math.radians(elevation_deg)), 0.01745)
    return beam, dhi * (1.0 - anisotropy), 0.06 * ghi


def extraterrestrial(day_of_year: int) -> float:
    b = 2.0 * math.pi * (day_of_year - 1) / 365.0
    series = 0.034221 * math.cos(b) + 0.00128 * math.sin(b) + 0.000719 * math.cos(2 * b) + 0.000077 * math.sin(2 * b)
    return 1361.0 * (1.00011 + series)


def soiled(rain_mm_h: list[float], start: float, soiling, step_h: float) -> list[float]:
    """Light lost to dirt and salt at each step's start: it gathers day by day, rain and the crew wash it off."""
    day, lost, states = round(24.0 / step_h), start, []
    for t in range(len(rain_mm_h)):
        states.append(lost)
        lost = min(lost + soiling.per_day * step_h / 24.0, max(start, soiling.at_most))
        rained = sum(rain_mm_h[max(t - day + 1, 0) : t + 1]) * step_h >= soiling.rain_cleans_mm
        scrubbed = False
        if soiling.wash_every_days is not None:
            washes = [math.floor(k * step_h / (24.0 * soiling.wash_every_days) + 1e-9) for k in (t, t + 1)]
            scrubbed = washes[1] > washes[0]
        if rained or scrubbed:
            lost = min(lost, soiling.left_after)
    return states


def lee(hood, panel, awa_deg: float) -> float:
    """Part of the wind that a sprayhood leaves a panel: along the wind from its box, and above its top."""
    if hood is None:
        return 1.0
    x, y, z = panel.centre_m
    toward = (math.cos(math.radians(awa_deg)), -math.sin(math.radians(awa_deg)))
    toward = [part if abs(part) >= 1e-12 else 1e-12 for part in toward]
    half = hood.width_m / 2.0
    spans = [
        sorted(((hood.aft_x_m - x) / toward[0], (hood.front_x_m - x) / toward[0])),
        sorted(((-half - y) / toward[1], (half - y) / toward[1])),
    ]
    enters, leaves = max(span[0] for span in spans), min(span[1] for span in spans)
    if not (leaves > 0.0 and enters < leaves):
        return 1.0
    along = min(max(enters, 0.0) / (6.0 * hood.height_m), 1.0)
    up = min(max((z / hood.height_m - 0.8) / 0.4, 0.0), 1.0)
    return 1.0 - 0.6 * (1.0 - along) * (1.0 - up)


def felt_kn(row: dict, height_m: float) -> float:
    """Apparent wind at a height: the true wind there by its profile over the sea, less the boat's way through it."""
    wind = row["true_wind_speed_kn"] * (max(height_m, 0.1) / 10.0) ** 0.11
    angle, leeway = math.radians(row["true_wind_angle_deg"]), math.radians(row["leeway_deg"])
    through = row["speed_through_water_kn"]
    return math.hypot(
        wind * math.cos(angle) + through * math.cos(leeway), wind * math.sin(angle) + through * math.sin(leeway)
    )


def gradation(elevation: float, dni: float, dhi: float) -> float:
    """How the sky beside the sun brightens with height: 1 overcast, 0 even, -2.1 clear."""
    zenith = math.radians(90.0 - min(max(elevation, 0.0), 90.0))
    clearness = 1.0 + dni / max(dhi, 1e-3) / (1.0 + 1.041 * zenith**3)
    return 1.0 - 3.1 * min(max(math.log(clearness) / math.log(6.2), 0.0), 1.0)


class Wired:
    """Panels as parts of circuits: cells in the same light are one part, and so are substrings of the same cells."""

    def __init__(self) -> None:
        self.cells: dict[tuple, Cell] = {}
        self.substrings: dict[tuple, Substring] = {}

    def panel(self, panel, light_w_m2: list[float], cell_c: float) -> list[Substring]:
        """Substrings of a panel by the light on each of its cells."""
        diode, beside = sheet_diode(panel), model_layout.strings_of(panel)
        bypassed = panel.bypass_diodes
        found = []
        for groups in model_layout.wiring(panel, model_layout.grid(panel)):
            kinds = []
            for group in groups:
                suns = sorted(max(light_w_m2[number], 0.001) / 1000.0 for number in group)
                kinds.append(tuple((diode, panel.cells, beside, sun, cell_c) for sun in suns))
            key = (bypassed, *sorted(kinds))
            if key not in self.substrings:
                strings = {kind: Series([self._cell(one) for one in kind]) for kind in kinds}
                self.substrings[key] = Substring([strings[kind] for kind in kinds], bypassed=bypassed)
            found.append(self.substrings[key])
        return found

    def _cell(self, kind: tuple) -> Cell:
        if kind not in self.cells:
            self.cells[kind] = Cell(*kind)
        return self.cells[kind]


def three_kinds(panel, lit: list[float]) -> list[float]:
    """The cells' lit parts with those of a string not far from its dimmest, and those beyond, at their own means."""
    taken = list(lit)
    for groups in model_layout.wiring(panel, model_layout.grid(panel)):
        for group in groups:
            least = min(lit[number] for number in group)
            near = [number for number in group if least < lit[number] < least + 0.2]
            far = [number for number in group if lit[number] >= least + 0.2]
            for kind in (near, far):
                for number in kind:
                    taken[number] = sum(lit[other] for other in kind) / len(kind)
    return taken


def harvest(
    panels, controllers, *, light, grade: float, air_c: float, wind_kn: list[float], dirt: list[float], shade, bus_v
) -> dict:
    """What panels and controllers do in one step of one member.

    ``light`` is beam, sky and sea as ``split_sky`` gives them, ``grade`` how the sky brightens with height; wind and
    dirt are by panel; ``shade`` holds ``weights`` (node), ``cosines`` (node, panel), ``lit`` (node, panel, cell),
    ``sky_view``, ``overcast_view`` and ``sea_view`` (panel), and ``share`` (panel, cell) of the sky's light.
    """
    beam, sky, sea = light
    weights = shade["weights"]
    result = {"poa_w_m2": [], "cell_temp_c": [], "panel_power_w": [0.0] * len(panels)}
    gains = []  # by panel: direct gain by node, and the sky's and the sea's light that the cells use
    for p, panel in enumerate(panels):
        mean_lit = [sum(lit[p]) / len(lit[p]) for lit in shade["lit"]]
        facing = [max(cosines[p], 0.0) for cosines in shade["cosines"]]
        direct = sum(w * f * lit for w, f, lit in zip(weights, facing, mean_lit, strict=True))
        even = shade["sky_view"][p]
        sky_view = even + grade * (shade["overcast_view"][p] - even)
        poa = beam * direct + sky * sky_view + sea * shade["sea_view"][p]
        a, b, lag = MOUNTING[panel.mounting]
        result["poa_w_m2"].append(poa)
        result["cell_temp_c"].append(air_c + poa * (math.exp(a + b * wind_kn[p] * 1852.0 / 3600.0) + lag / 1000.0))
        kept = max(0.0, 1.0 - panel.ageing_per_year * panel.age_years) * panel.measured_fraction * (1.0 - dirt[p])
        tilt = min(math.degrees(math.acos(min(max(1.0 - 2.0 * shade["sea_view"][p], -1.0), 1.0))), 90.0)
        sky_iam = incidence(math.cos(math.radians(59.7 - 0.1388 * tilt + 0.001497 * tilt**2)))
        sea_iam = incidence(math.cos(math.radians(90.0 - 0.5788 * tilt + 0.002693 * tilt**2)))
        diffuse = (kept * sky * sky_view * sky_iam, kept * sea * shade["sea_view"][p] * sea_iam)
        gains.append(([beam * f * incidence(f) * kept for f in facing], *diffuse))
    index = {panel.name: p for p, panel in enumerate(panels)}
    result |= {"controller_power_w": [0.0] * len(controllers), "wire_loss_power_w": [0.0] * len(controllers)}
    if max(light) <= 0.0:
        return result
    wired = Wired()

    def substrings(p: int, n: int) -> list[Substring]:
        direct, from_sky, from_sea = gains[p]
        on_cells = zip(three_kinds(panels[p], shade["lit"][n][p]), shade["share"][p], strict=True)
        light = [direct[n] * lit + from_sky * share + from_sea for lit, share in on_cells]
        return wired.panel(panels[p], light, result["cell_temp_c"][p])

    for c, controller in enumerate(controllers):
        strings = [[index[name] for name in names] for names in controller.strings]
        of_panel = [{p: substrings(p, n) for string in strings for p in string} for n in range(len(weights))]
        wire = 2.0 * controller.wire_length_m * 0.017241 / controller.wire_section_mm2
        attitudes = [
            Attitude([Series([part for p in string for part in parts[p]]) for string in strings], wire)
            for parts in of_panel
        ]
        held = list(zip(weights, attitudes, strict=True))
        least_v = max(bus_v + controller.headroom_v, controller.min_input_v)
        if controller.follows_roll:
            volts = [held_voltage([one], least_v, controller.tracker) for one in held]
        else:
            volts = [held_voltage(held, least_v, controller.tracker)] * len(held)
        rated = min(controller.max_output_a * bus_v, controller.max_output_w or math.inf)
        curve = controller.efficiency_curve
        for (weight, attitude), v, parts in zip(held, volts, of_panel, strict=True):
            if v is None:
                continue
            currents, _ = attitude.at(v)
            power = v * sum(currents)
            efficiency = controller.efficiency * interp(curve.load, curve.value, power / rated)
            result["controller_power_w"][c] += weight * max(0.0, min(efficiency * power, rated))
            result["wire_loss_power_w"][c] += weight * wire * sum(currents) ** 2
            for string, current in zip(strings, currents, strict=True):
                for p in string:
                    given = sum(part.volts(current)[0] for part in parts[p])
                    result["panel_power_w"][p] += weight * current * given
    return result
