"""The bank, one step of one member at a time: what it takes and gives, and where the energy goes."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from itertools import pairwise

from model_tables import interp, root

LIFEPO4_SOC = (
    *(
        0.0,
        0.005,
        0.0144,
        0.0415,
        0.0772,
        0.1,
        0.12,
        0.15,
        0.2,
        0.25,
        0.3,
        0.35,
        0.4,
        0.5,
        0.6,
        0.65,
        0.68,
        0.7,
        0.72,
    ),
    *(0.75, 0.8, 0.85, 0.9, 0.95, 0.97, 0.98, 0.9864, 0.99, 0.995, 1.0),
)
LIFEPO4_CELL_V = (
    *(2.751, 2.813, 2.930, 3.087, 3.194, 3.202, 3.206, 3.222, 3.249, 3.267, 3.281, 3.288, 3.291, 3.297, 3.303, 3.316),
    *(3.327, 3.330, 3.332, 3.332, 3.333, 3.333, 3.335, 3.337, 3.339, 3.343, 3.351, 3.376, 3.415, 3.479),
)
QUARTERS = (0.0, 0.25, 0.5, 0.75, 1.0)
AGM_V = (11.8, 12.0, 12.3, 12.6, 12.85)
GEL_V = (11.8, 12.0, 12.35, 12.65, 12.9)
LEAD = {
    "lean_v": ((0.0, 1.0), (0.0, 0.0)),
    "polarisation": 2.2,
    "empty_more": 3.1,
    "bend": 0.3,
    "cutoff": 10.5,
    "charge_v_per_c": -0.024,
    "rest_v_per_c": 0.0012,
    "charge_r_per_c": 0.025,
    "discharge_r_per_c": 0.007,
    "withheld": 0.005,
    "coldest": -273.15,
    "c": 0.4751,
    "k": 0.6770,
}
FLOODED_V = (11.89, 12.06, 12.24, 12.45, 12.65)
LIFEPO4_V = tuple(4.0 * cell for cell in LIFEPO4_CELL_V)
LITHIUM = {
    "lean_v": ((0.0, 0.05, 0.97, 1.0), (0.0, 0.1, 0.1, 0.0)),
    "polarisation": 0.2,
    "empty_more": 0.0,
    "bend": math.inf,
    "cutoff": 10.0,
    "charge_v_per_c": 0.0,
    "rest_v_per_c": 0.0,
    "charge_r_per_c": 0.02,
    "discharge_r_per_c": 0.02,
    "withheld": 0.004,
    "coldest": 0.0,
    "c": 1.0,
    "k": 1.0,
}
OWN = ("soc", "ocv", "keep", "rise", "ohmic", "limit", "tail", "absorption", "float", "a_month")
CHEMISTRY = {
    name: dict(zip(OWN, figures, strict=True)) | shared
    for name, figures, shared in (
        ("flooded", (QUARTERS, FLOODED_V, 1.0, 0.8, 1.0, 0.25, 0.02, 14.4, 13.5, 0.06), LEAD),
        ("agm", (QUARTERS, AGM_V, 2.5, 0.4, 0.5, 0.4, 0.01, 14.4, 13.6, 0.03), LEAD),
        ("gel", (QUARTERS, GEL_V, 1.6, 0.64, 0.7, 0.2, 0.015, 14.1, 13.7, 0.03), LEAD),
        ("lifepo4", (LIFEPO4_SOC, LIFEPO4_V, None, 0.0, 0.6, 0.5, 0.04, 14.2, 13.5, 0.02), LITHIUM),
    )
}
GRID = [i / 200.0 for i in range(201)]


class Bank:
    """A bank as its file describes it, with everything that does not change along the passage."""

    def __init__(self, bank) -> None:
        kind, blocks, chill = CHEMISTRY[bank.chemistry], bank.nominal_v / 12.0, bank.temp_c - 25.0
        self.q = bank.capacity_ah * bank.health
        self.c, self.k = kind["c"], kind["k"]
        aged = blocks / self.q / bank.health  # ohm a (ohm Ah) of a 12 V bank that is new
        ohmic = (bank.resistance_ohm or kind["ohmic"] * aged) + kind["polarisation"] * aged
        warm_charge = max(0.5, 1.0 - kind["charge_r_per_c"] * chill)
        self.ocv_v = [(interp(kind["soc"], kind["ocv"], s) + kind["rest_v_per_c"] * chill) * blocks for s in GRID]
        self.efficiency, rises = zip(*(_charging(kind, s) for s in GRID), strict=True)
        self.charge_ohm = [(ohmic + rise * aged) * warm_charge for rise in rises]
        warm_discharge = max(0.5, 1.0 - kind["discharge_r_per_c"] * chill)
        self.discharge_ohm = [(ohmic + kind["empty_more"] * (1.0 - s) * aged) * warm_discharge for s in GRID]
        self.bend_a = kind["bend"] * self.q
        self.lean_v = [interp(*kind["lean_v"], s) * blocks for s in GRID]
        warmer_v = kind["charge_v_per_c"] * chill
        self.absorption_v = bank.absorption_v or (kind["absorption"] + warmer_v) * blocks
        self.alternator_v = bank.alternator_v or self.absorption_v
        self.float_v = bank.float_v or (kind["float"] + warmer_v) * blocks
        self.limit_a = 0.0 if bank.temp_c < kind["coldest"] else (bank.charge_limit_c or kind["limit"]) * self.q
        self.cutoff_v = kind["cutoff"] * blocks
        self.empty = min(kind["withheld"] * max(-chill, 0.0), 1.0)
        given = bank.self_discharge_per_month
        self.lost_per_h = (kind["a_month"] if given is None else given) / 720.0

    def ocv(self, soc: float) -> float:
        return interp(GRID, self.ocv_v, soc)

    def off_ohm(self, soc: float, net_w: float) -> float:
        """Resistance to a power, positive charging; on discharge it falls with the current drawn at rest volts."""
        if net_w >= 0.0:
            return interp(GRID, self.charge_ohm, soc)
        return interp(GRID, self.discharge_ohm, soc) / (1.0 - net_w / self.ocv(soc) / self.bend_a)

    def bus_v(self, soc: float, amps: float, rest_w: float, lean: float) -> float:
        """Volts at which an alternator's current meets other sources less loads, from cut-off to its regulator's."""
        rest = self.ocv(soc) + lean * interp(GRID, self.lean_v, soc)
        charges = amps * rest + rest_w >= 0.0
        ohm = interp(GRID, self.charge_ohm if charges else self.discharge_ohm, soc)
        stands = root(lambda v: v - rest - ohm * (amps + rest_w / v), self.cutoff_v, 10.0 * rest)
        return min(stands, self.alternator_v)

    def lean_after(self, lean: float, current_a: float, h: float) -> float:
        """Branch of the volts after a current: two thirds of the way over with 3 % of the capacity."""
        if current_a == 0.0:
            return lean
        toward = math.copysign(1.0, current_a)
        return toward + (lean - toward) * math.exp(-abs(current_a) * h / self.q / 0.03)

    def energy_wh(self, start: float, end: float) -> float:
        """Energy along the open-circuit curve between two states of charge: trapezia from node to node."""
        low, high = min(start, end), max(start, end)
        nodes = [low, *GRID[bisect_right(GRID, low) : bisect_left(GRID, high)], high]
        area = sum((b - a) * (self.ocv(a) + self.ocv(b)) / 2.0 for a, b in pairwise(nodes))
        return math.copysign(area * self.q, end - start)

    def at_hand_a(self, soc: float, gap: float, h: float) -> float:
        """Largest mean discharge current that the two wells can give over a step."""
        c, k = self.c, self.k
        spare = (1.0 - c) * (1.0 - math.exp(-20.0 * k)) / (c * k * 20.0)
        decay = math.exp(-k * h)
        ready = max(soc + spare - (1.0 - c) * gap * decay, 0.0)
        return self.q * ready / (h + (1.0 - c) * (1.0 - decay) / (c * k))

    def gap_after(self, gap: float, current_a: float, h: float) -> float:
        decay = math.exp(-self.k * h)
        return gap * decay - current_a / self.q * (1.0 - decay) / (self.c * self.k)

    def step(  # noqa: C901 - one step, read from top to bottom
        self, soc, *, solar, alternator, other, demand, h, at_hand_a=math.inf, lean=0.0
    ) -> dict[str, float]:
        """One step of ``h`` hours: the current that balances the bus, or the most that the bank allows."""
        rested = soc - min(self.lost_per_h * h, soc)
        net = solar + alternator + other - demand
        charging, unserved = net >= 0.0, 0.0
        e = interp(GRID, self.efficiency, rested) if charging else 1.0
        ohm = self.off_ohm(rested, net)
        shift = lean * interp(GRID, self.lean_v, rested)

        def after(current: float) -> float:
            return rested + e * current * h / self.q

        def mean_v(current: float) -> float:
            moved = after(current) - rested
            return self.energy_wh(rested, after(current)) / (moved * self.q) if moved else self.ocv(rested)

        def bus_w(current: float) -> float:
            return self.energy_wh(rested, after(current)) / h / e + current * (shift + current * ohm)

        def solve(power: float, most: float) -> tuple[float, float]:
            """Current that answers a power, or the most there may be; and the power that it makes."""
            if abs(power) > abs(bus_w(most)):
                return most, bus_w(most)
            return root(lambda i: bus_w(i) - power, min(most, 0.0), max(most, 0.0)) if power else 0.0, power

        def charge(power: float, held_v: float) -> tuple[float, float]:
            most = min(self.limit_a, (1.0 - rested) * self.q / (e * h))
            return solve(power, _held(most, lambda i: held_v - shift - self.ocv(after(i)) - i * ohm))

        lower_v, upper_v = sorted((self.absorption_v, self.alternator_v))
        alternator_first = self.alternator_v > self.absorption_v
        floats = charging and soc >= 1.0 - 1e-9
        if not charging:
            most = min(at_hand_a, max((rested - self.empty) * self.q / h, 0.0))
            current, power = solve(net, -_held(most, lambda i: self.ocv(after(-i)) + shift - i * ohm - self.cutoff_v))
            unserved = power - net
        else:
            current, power = charge(net, upper_v if floats else lower_v)
            higher = (alternator if alternator_first else solar + other) - demand
            if not floats and power < net and lower_v < upper_v and higher > power:
                current, power = charge(higher, upper_v)
        off = current * ohm
        pushed = self.float_v - mean_v(current) - shift
        if floats and power < net and off < pushed and current * self.float_v < net:
            off, power = pushed, current * self.float_v
        taken = demand + power if charging else solar + other + alternator
        order = {"solar_power_w": solar, "other_charge_power_w": other, "alternator_power_w": alternator}
        if alternator_first:
            order = {"alternator_power_w": alternator, **order}
        result, left = {}, taken
        for name, offered in order.items():
            result[name] = min(offered, left)
            left -= result[name]
        end, volts = min(max(after(current), 0.0), 1.0), mean_v(current)
        standing = self.energy_wh(rested, soc) / h
        return result | {
            "unserved_power_w": unserved,
            "bank_current_a": current,
            "bank_voltage_v": volts + shift + off,
            "resistive_loss_power_w": current * off,
            "coulombic_loss_power_w": (1.0 - e) * current * volts + standing,
            "hysteresis_loss_power_w": current * shift,
            "stored_power_w": self.energy_wh(soc, end) / h,
            "soc_next": end,
        }


def _held(most: float, slack) -> float:
    """The current that a voltage limit leaves of ``most``."""
    if slack(0.0) <= 0.0:
        return 0.0
    return most if slack(most) >= 0.0 else root(slack, 0.0, most)


def _charging(kind: dict, soc: float) -> tuple[float, float]:
    """Part of the charge that stays, and what charging adds to the resistance [ohm Ah]."""
    if kind["keep"] is None:
        return 0.995, 0.0
    full = (kind["absorption"] - kind["ocv"][-1]) / kind["tail"] - kind["ohmic"] - kind["polarisation"]
    room = 1.0 - soc + (kind["rise"] / full) ** (1.0 / 1.6)
    return 1.0 - math.exp(-(20.73 / 1.55) * kind["keep"] * room), kind["rise"] * room**-1.6
