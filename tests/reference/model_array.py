"""From light on a panel to power at the bus: incidence, cells, diodes, bypass, strings, controller, one at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from model_tables import interp, root

KELVIN = 273.15
BOLTZMANN = 8.617333262e-5  # eV/K, CODATA 2018
BYPASS_V = 0.5  # V that a conducting bypass diode drops
MOUNTING = {
    "open": (-3.56, -0.075, 3.0),
    "ventilated": (-2.98, -0.0471, 1.0),
    "on_canvas": (-2.81, -0.0455, 0.0),
    "on_deck": (-2.81, -0.0455, 0.0),
}  # King et al. 2004


@dataclass(frozen=True)
class Diode:
    """The single-diode model of some cells in series, and what warmth does to its light current."""

    light: float
    dark: float
    slope: float
    series: float
    leak: float
    light_per_c: float = 0.0

    def at(self, cell_c: float, suns: float) -> Diode:
        return Diode(
            (self.light + self.light_per_c * (cell_c - 25.0)) * suns,
            self.dark * growth(cell_c),
            self.slope * (cell_c + KELVIN) / 298.15,
            self.series,
            self.leak * suns,
        )

    def current(self, junction_v: float) -> float:
        return self.light - self.dark * math.expm1(junction_v / self.slope) - self.leak * junction_v

    def junction(self, current: float) -> float:
        """Junction voltage at a current: Newton from above, where the concave curve lets no step overshoot."""
        room = max(self.light - current, 0.0) + self.dark
        v = self.slope * math.log(max(room / self.dark, 1.0)) + 1e-12
        v = v if current < self.light else 0.0
        for _ in range(100):
            slope = self.dark / self.slope * math.exp(v / self.slope) + self.leak
            change = (self.current(v) - current) / slope
            v += change
            if abs(change) < 1e-13 * max(abs(v), 1.0):
                break
        return v

    def terminal(self, current: float) -> tuple[float, float]:
        """Voltage behind its bypass diode, and how that changes with the current."""
        v = self.junction(current)
        if v - current * self.series <= -BYPASS_V:
            return -BYPASS_V, 0.0
        falls = self.dark / self.slope * math.exp(v / self.slope) + self.leak
        return v - current * self.series, -1.0 / falls - self.series

    def takeover(self) -> float:
        """Current at which the bypass diode begins to conduct."""
        return root(lambda i: self.current(i * self.series - BYPASS_V) - i, 0.0, self.light + self.dark + self.leak)

    def peak_w(self) -> float:
        def gain(v: float) -> float:
            current, falls = self.current(v), -self.dark / self.slope * math.exp(v / self.slope) - self.leak
            return falls * (v - current * self.series) + current * (1.0 - falls * self.series)

        v = root(gain, 0.0, self.junction(0.0))
        return self.current(v) * (v - self.current(v) * self.series)


def growth(cell_c: float) -> float:
    kelvin = cell_c + KELVIN
    gap = 1.121 * (1.0 - 0.0002677 * (kelvin - 298.15))
    return (kelvin / 298.15) ** 3 * math.exp((1.121 / 298.15 - gap / kelvin) / BOLTZMANN)


@cache
def fit(sheet: tuple[float, ...]) -> Diode:  # noqa: C901 - steps of one procedure, one inside the other
    """The panel's diode from its sheet: peak V and A, open V, short A, cells, and the coefficients of W, V and A."""
    v_peak, i_peak, v_open, i_short, cells, per_c, v_per_c, i_per_c = sheet
    least = 0.001 * i_short / v_open

    def with_series(a: float, rs: float, leak: float | None) -> tuple[float, float, float]:
        e_short, e_open, e_peak = (math.exp(v / a) for v in (i_short * rs, v_open, v_peak + i_peak * rs))
        b_peak = v_open - v_peak - i_peak * rs
        if leak is None:
            d_short, b_short, d_peak = e_open - e_short, v_open - i_short * rs, e_open - e_peak
            leak = (i_peak * d_short - i_short * d_peak) / (b_peak * d_short - b_short * d_peak)
            dark = (i_short - leak * b_short) / d_short
        else:
            dark = (i_peak - leak * b_peak) / (e_open - e_peak)
        return dark * (e_open - 1.0) + leak * v_open, dark, leak

    def with_slope(a: float) -> Diode | None:
        limit = (v_open - v_peak) / i_peak
        for leak in (None, least):

            def miss(rs: float, leak=leak) -> float:
                _, dark, g = with_series(a, rs, leak)
                d = dark / a * math.exp((v_peak + i_peak * rs) / a) + g
                return i_peak * (1.0 + rs * d) - v_peak * d

            rs = _first_root(miss, [limit * k / 40.0 for k in range(40)])
            if rs is None:
                continue
            light, dark, g = with_series(a, rs, leak)
            if dark > 0.0 and (g >= least if leak is None else abs(light - i_short) < 0.05 * i_short):
                return Diode(light, dark, a, rs, g)
        return None

    def with_coefficients(x: float) -> Diode | None:
        alpha, beta = i_per_c * i_short * (1.0 - x), v_per_c * v_open * (1.0 + x)

        def warm_miss(a: float) -> float:
            d = with_slope(a)
            if d is None:
                return math.nan
            v = v_open + 2.0 * beta
            return d.light + 2.0 * alpha - d.dark * growth(27.0) * math.expm1(v / (a * 300.15 / 298.15)) - v * d.leak

        thermal = cells * BOLTZMANN * 298.15
        scan = [thermal * (0.4 + 1.8 * k / 45.0) for k in range(46)]
        a = _first_root(warm_miss, scan)
        if a is None:
            fitting = [slope for slope in scan if with_slope(slope)]
            if not fitting:
                return None
            a = min(fitting, key=lambda slope: abs(warm_miss(slope)))
        d = with_slope(a)
        return d and Diode(d.light, d.dark, d.slope, d.series, d.leak, alpha)

    def power_miss(x: float) -> float:
        d = with_coefficients(x)
        if d is None:
            return math.nan
        hot, cold, fair = (d.at(t, 1.0).peak_w() for t in (50.0, -10.0, 25.0))
        return (hot - cold) / 60.0 / fair - per_c

    upward = 1.0 if (power_miss(0.0) > 0.0) == (v_per_c < 0.0) else -1.0
    tried = [0.0]
    for k in range(1, 25):
        x = upward * 0.6 * k / 24.0
        if math.isnan(power_miss(x)):
            break
        tried.append(x)
        if (power_miss(tried[-2]) > 0.0) != (power_miss(x) > 0.0):
            return with_coefficients(root(power_miss, tried[-2], x))
    return with_coefficients(min(tried, key=lambda x: abs(power_miss(x))))


def _first_root(function, scan: list[float]) -> float | None:
    """The first change of sign between neighbours of a scan, halved down; None where there is none."""
    before = math.nan
    for index, at in enumerate(scan):
        value = function(at)
        if before * value <= 0.0:
            return root(function, scan[index - 1], at)
        before = value
    return None


def sheet_diode(panel) -> Diode:
    sheet = (panel.max_power_v, panel.max_power_a, panel.open_circuit_v, panel.short_circuit_a, panel.cells)
    return fit((*sheet, panel.power_per_c, panel.voltage_per_c, panel.current_per_c))


def substring(panel) -> Diode:
    d, n = sheet_diode(panel), panel.substrings
    return Diode(d.light, d.dark, d.slope / n, d.series / n, d.leak * n, d.light_per_c)


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


def gradation(elevation: float, dni: float, dhi: float) -> float:
    """How the sky beside the sun brightens with height: 1 overcast, 0 even, -2.1 clear."""
    zenith = math.radians(90.0 - min(max(elevation, 0.0), 90.0))
    clearness = 1.0 + dni / max(dhi, 1e-3) / (1.0 + 1.041 * zenith**3)
    return 1.0 - 3.1 * min(max(math.log(clearness) / math.log(6.2), 0.0), 1.0)


def harvest(
    panels, controllers, *, light, grade: float, air_c: float, wind_kn: list[float], dirt: list[float], shade, bus_v
) -> dict:
    """What panels and controllers do in one step of one member.

    ``light`` is beam, sky and sea as ``split_sky`` gives them, ``grade`` how the sky brightens with height; wind and
    dirt are by panel; ``shade`` holds ``weights`` (node), ``cosines`` (node, panel), ``lit`` (node, panel,
    substring), ``sky_view``, ``overcast_view`` and ``sea_view`` (panel).
    """
    beam, sky, sea = light
    weights = shade["weights"]
    result = {"poa_w_m2": [], "cell_temp_c": [], "panel_power_w": [0.0] * len(panels)}
    gains = []  # by panel: direct gain by node, and the diffuse light that the cells use
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
        diffuse = kept * (sky * sky_view * sky_iam + sea * shade["sea_view"][p] * sea_iam)
        gains.append(([beam * f * incidence(f) * kept for f in facing], diffuse))
    index = {panel.name: p for p, panel in enumerate(panels)}
    result |= {"controller_power_w": [0.0] * len(controllers), "wire_loss_power_w": [0.0] * len(controllers)}
    if max(light) <= 0.0:
        return result
    for n, weight in enumerate(weights):
        for c, controller in enumerate(controllers):
            strings = []
            for names in controller.strings:
                places = [(index[name], s) for name in names for s in range(panels[index[name]].substrings)]
                suns = [max(gains[p][0][n] * shade["lit"][n][p][s] + gains[p][1], 0.001) / 1000.0 for p, s in places]
                cells = zip(places, suns, strict=True)
                strings.append([(p, substring(panels[p]).at(result["cell_temp_c"][p], sun)) for (p, _), sun in cells])
            wire = 2.0 * controller.wire_length_m * 0.017241 / controller.wire_section_mm2
            least_v = max(bus_v + controller.headroom_v, controller.min_input_v)
            diodes = [[d for _, d in string] for string in strings]
            power, currents = best_point(diodes, wire, least_v, controller.tracker)
            rated = min(controller.max_output_a * bus_v, controller.max_output_w or math.inf)
            curve = controller.efficiency_curve
            efficiency = controller.efficiency * interp(curve.load, curve.value, power / rated)
            result["controller_power_w"][c] += weight * max(0.0, min(efficiency * power, rated))
            result["wire_loss_power_w"][c] += weight * wire * sum(currents) ** 2
            for string, current in zip(strings, currents, strict=True):
                for p, diode in string:
                    result["panel_power_w"][p] += weight * current * diode.terminal(current)[0]
    return result


def best_point(strings: list[list[Diode]], wire: float, least_v: float, tracker: str) -> tuple[float, list[float]]:
    """Most power that a tracker can draw behind the wire at a least voltage, and each string's current there.

    One that stays on the upper peak stops at the first top that it meets on its way down from open circuit.
    """

    def string_v(string: list[Diode], current: float) -> tuple[float, float]:
        parts = [diode.terminal(current) for diode in string]
        return sum(v for v, _ in parts), sum(falls for _, falls in parts)

    def string_i(string: list[Diode], v: float) -> float:
        low, high = -1.0, max(diode.light + diode.dark for diode in string) + 1.0
        while string_v(string, low)[0] < v:
            low *= 2.0
        return root(lambda i: v - string_v(string, i)[0], low, high)

    if len(strings) == 1:
        string = strings[0]

        def at(current: float) -> tuple[float, float, float]:
            v, falls = string_v(string, current)
            return v - current * wire, current * (v - current * wire), v - 2.0 * current * wire + current * falls

        ends = sorted({0.0, *(diode.takeover() for diode in string)})
        if at(0.0)[0] < least_v:
            return 0.0, [0.0]
        last = root(lambda i: least_v - at(i)[0], 0.0, ends[-1] + 1e-9)
        spots = _peaks([*(end for end in ends if end < last), last], lambda i: at(i)[2])
        best = _chosen(sorted(spots), lambda i: at(i)[1], tracker)
        return at(best)[1], [best]

    def across(v: float) -> tuple[float, float, float]:
        currents = [string_i(string, v) for string in strings]
        total = sum(currents)
        gains = [string_v(string, i)[1] for string, i in zip(strings, currents, strict=True)]
        falls = sum(1.0 / gain for gain in gains if gain != 0.0)
        return v - total * wire, total * (v - total * wire), falls * (v - 2.0 * total * wire) + total

    highest = max(string_v(string, 0.0)[0] for string in strings)
    if highest <= least_v:
        return 0.0, [0.0] * len(strings)
    first = root(lambda v: across(v)[0] - least_v, least_v, highest)
    inner = [string_v(string, diode.takeover())[0] for string in strings for diode in string]
    spots = _peaks(sorted({first, highest, *(v for v in inner if first < v < highest)}), lambda v: across(v)[2])
    best = _chosen(sorted(spots, reverse=True), lambda v: across(v)[1], tracker)
    power = across(best)[1]
    return (power, [string_i(string, best) for string in strings]) if power > 0.0 else (0.0, [0.0] * len(strings))


def _chosen(spots: list[float], power, tracker: str) -> float:
    """The best of the candidates, named from open circuit on; or the first from which the power falls."""
    if tracker == "upper":
        return next((one for one, after in pairwise(spots) if power(after) <= power(one)), spots[-1])
    return max(spots, key=power)


def _peaks(ends: list[float], slope) -> list[float]:
    """Candidates for the highest point of a curve that bends down between each two ends."""
    spots = list(ends)
    for low, high in pairwise(ends):
        inset = 1e-9 * (high - low)
        if slope(low + inset) > 0.0 > slope(high - inset):
            spots.append(root(slope, low + inset, high - inset))
    return spots
