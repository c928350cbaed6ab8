"""What sets one battery chemistry from another: tables and defaults for a 12 V battery, per ampere-hour.

All tables stand on one even grid of state of charge, 0 to 1 by half a percent, and are read linearly between its
nodes. Resistances are for 12 V and one ampere-hour [ohm Ah]: divide by the capacity, multiply by nominal volts / 12.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from planner.domain.arrays import Floats

GRID_NODES: Final = 201  # states of charge 0, 0.005, ... 1
REFERENCE_C: Final = 25.0  # degree Celsius; ratings hold here (IEC 60896-21, recalled)
CELLS_LEAD: Final = 6.0  # 2 V cells in a 12 V battery
CELLS_LFP: Final = 4.0  # 3.2 V cells in a 12 V class battery

# Rest voltage of 12 V lead banks at 25 C. Flooded: the trade's table, recalled; the half cells of Bode (Lead-Acid
# Batteries, 1977, as in PyBaMM) give it to 20 mV at the hydrometer's densities. AGM and gel, of stronger acid: a
# published table of volts a day after the last current, by kind, which stands 40 to 90 mV lower for flooded.
_LEAD_NODES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
_FLOODED_V: Final = (11.89, 12.06, 12.24, 12.45, 12.65)
_FLOODED_LOWEST_V: Final = (11.80, 12.00, 12.20, 12.40, 12.60)
_AGM_V: Final = (11.80, 12.00, 12.30, 12.60, 12.85)
_GEL_V: Final = (11.80, 12.00, 12.35, 12.65, 12.90)

# Cell voltage of LiFePO4, mean of slow charge and discharge, of three published curves, each read from where the cell
# rests at 2.751 V to where it rests at 3.479 V. Their middle is a mean of charge and discharge over 32 hours (Sunil,
# Pattipati and Balasingam, IEEE Trans. Instrum. Meas., 2025), given by few break points: its level is taken, and all
# of it under 8 %. A measured quasi-open-circuit curve (PyBatteryID, BSD-3) lies 44 to 66 mV over it: from 10 to 97 %
# its finer shape is taken, 54 mV lower. Half cells (Prada 2012 and 2013, as in PyBaMM) lie under it, by 20 to 70 mV
# from 15 to 95 %. A source's standard deviation is 40 to 60 mV a cell there: volts alone say little of the charge.
_LFP_NODES: Final = (
    *(0.0, 0.005, 0.0144, 0.0415, 0.0772, 0.1, 0.12, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.65),
    *(0.68, 0.7, 0.72, 0.75, 0.8, 0.85, 0.9, 0.95, 0.97, 0.98, 0.9864, 0.99, 0.995, 1.0),
)
_LFP_CELL_V: Final = (
    *(2.751, 2.813, 2.930, 3.087, 3.194, 3.202, 3.206, 3.222, 3.249, 3.267, 3.281, 3.288, 3.291, 3.297, 3.303, 3.316),
    *(3.327, 3.330, 3.332, 3.332, 3.333, 3.333, 3.335, 3.337, 3.339, 3.343, 3.351, 3.376, 3.415, 3.479),
)
# How far the lowest of the three (the half cells) and the highest (the measured cell) stand off it, V a cell.
_LFP_LOWEST_NODES: Final = (
    *(0.0, 0.01, 0.015, 0.03, 0.05, 0.08, 0.1, 0.12, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6),
    *(0.65, 0.7, 0.75, 0.8, 0.95, 0.98, 1.0),
)
_LFP_LOWEST_CELL_V: Final = (
    *(0.0, -0.061, -0.093, -0.119, -0.154, -0.161, -0.117, -0.080, -0.062, -0.068, -0.069, -0.059, -0.043, -0.033),
    *(-0.030, -0.034, -0.046, -0.053, -0.036, -0.023, -0.020, -0.005, 0.0),
)
_LFP_HIGHEST_NODES: Final = (0.0, 0.005, 0.01, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1, 0.97, 1.0)
_LFP_HIGHEST_CELL_V: Final = (0.0, 0.062, 0.073, 0.092, 0.085, 0.091, 0.093, 0.057, 0.054, 0.054, 0.0)
# Half of what cells at rest differ by after charge and after discharge: 0.020 to 0.028 V a cell fit the measured run
# published with PyBatteryID (BSD-3); none at either end, where one branch begins.
_LFP_LEAN_NODES: Final = (0.0, 0.05, 0.97, 1.0)
_LFP_LEAN_CELL_V: Final = (0.0, 0.025, 0.025, 0.0)

# Lead on charge stands above rest by ohmic terms and, over I / C, by rise / (1 - SOC)^1.6; of the charge it keeps
# 1 - exp(20.73 (SOC - 1) / (I / I10 + 0.55)), here at the ten-hour current (Copetti, Lorenzo and Chenlo, Progress in
# Photovoltaics 1 (1993) 283, recalled, who have the power 1.2). Their 1 lies beyond any charge in use: a bank counts
# as full, and a battery monitor shows 100 %, once its current at absorption has fallen to the tail. So 1 - SOC is
# written 1 - SOC + d here, with d such that the full bank just draws its tail current.
# Power, polarisation and its rise on discharge are fitted to a measured sealed bank of 100 Ah: a discharge at 10 A
# and a charge at 31 A, held at 14.95 V (tests/external/test_lead_measured.py).
_RISE_POWER: Final = 1.6
_COPETTI_KEEP: Final = 20.73 / (1.0 + 0.55)  # 1
_LEAD_POLARISATION: Final = 2.2  # ohm Ah
_LEAD_DISCHARGE_RISE: Final = 3.1  # ohm Ah; what an empty bank has more than a full one
_LEAD_BEND_C: Final = 0.3  # 1/h; so that an hour's discharge of lead still ends by its wells, not by its volts
_AGEING_POWER: Final = 1.0  # 1; beyond the capacity lost: at 80 %, resistance is up by half (common practice)
_DAYS_PER_MONTH: Final = 30.0  # d


@dataclass(frozen=True, eq=False)
class Chemistry:
    """A 12 V battery of one chemistry at 25 C.

    Attributes
    ----------
    open_circuit_v : array (node,)
        Rest voltage [V].
    lowest_v, highest_v : array (node,)
        That of the lowest and of the highest published curve [V].
    charge_efficiency : array (node,)
        Part of the charge taken that is kept [0..1].
    hysteresis_v : array (node,)
        Half of what the rest voltage differs by after charge and after discharge [V].
    ohmic_ohm_ah, polarisation_ohm_ah : float
        Resistance at any state of charge: at once, and what a steady current adds in half an hour [ohm Ah].
    charge_rise_ohm_ah, discharge_rise_ohm_ah : array (node,)
        What polarisation adds to it on charge, and on discharge at a small current [ohm Ah].
    discharge_bend_c : float
        Discharging current over capacity at which resistance has fallen by half; may be infinite [1/h].
    charge_limit_c, tail_current_c : float
        Highest charging current, and that at which it counts as full, over capacity [1/h].
    absorption_v, float_v, cutoff_v : float
        Voltage that charging holds, that holds a full bank, and at which discharge ends [V].
    charge_v_per_c, rest_v_per_c : float
        Compensation of the first two; change of the rest voltage with temperature [V/C].
    self_discharge_per_h : float
        Part of the capacity lost in an hour of standing [1/h].
    meter_keeps : float
        Charge efficiency that battery monitors are set to [0..1].
    charge_resistance_per_c, discharge_resistance_per_c : float
        Fall of resistance with temperature, over its value at 25 C [1/C].
    withheld_per_c : float
        Part of the capacity that each degree under 25 C withholds [1/C].
    coldest_charge_c : float
        No charge is taken below [degree Celsius].
    available_fraction, flow_per_h : float
        Kinetic two-well model: share of the charge at hand, and rate at which the rest follows [1, 1/h].
    """

    open_circuit_v: Floats
    lowest_v: Floats
    highest_v: Floats
    hysteresis_v: Floats
    charge_efficiency: Floats
    ohmic_ohm_ah: float
    polarisation_ohm_ah: float
    charge_rise_ohm_ah: Floats
    discharge_rise_ohm_ah: Floats
    discharge_bend_c: float
    charge_limit_c: float
    tail_current_c: float
    absorption_v: float
    float_v: float
    cutoff_v: float
    charge_v_per_c: float
    rest_v_per_c: float
    self_discharge_per_h: float
    meter_keeps: float
    charge_resistance_per_c: float
    discharge_resistance_per_c: float
    withheld_per_c: float
    coldest_charge_c: float
    available_fraction: float
    flow_per_h: float


def soc_grid() -> Floats:
    """Return the states of charge at which every table stands, shape (node,) [0..1]."""
    return np.arange(GRID_NODES) / (GRID_NODES - 1.0)


def _lead(
    rest_v: tuple[float, ...],
    *,
    lowest_v: tuple[float, ...] | None = None,
    keep: float,
    rise: float,
    ohmic: float,
    limit: float,
    tail: float,
    absorption: float,
    floating: float,
    month: float,
    meter: float,
) -> Chemistry:
    """Return a lead chemistry; ``keep`` scales the published exponent, ``rise`` is that of charge [ohm Ah]."""
    tail_ohm_ah = (absorption - rest_v[-1]) / tail - ohmic - _LEAD_POLARISATION
    beyond = (rise / tail_ohm_ah) ** (1.0 / _RISE_POWER)
    room = 1.0 - soc_grid() + beyond
    return Chemistry(
        open_circuit_v=np.interp(soc_grid(), _LEAD_NODES, rest_v),
        lowest_v=np.interp(soc_grid(), _LEAD_NODES, lowest_v or rest_v),
        highest_v=np.interp(soc_grid(), _LEAD_NODES, rest_v),
        hysteresis_v=np.zeros(GRID_NODES),
        charge_efficiency=1.0 - np.exp(-_COPETTI_KEEP * keep * room),
        ohmic_ohm_ah=ohmic,
        polarisation_ohm_ah=_LEAD_POLARISATION,
        charge_rise_ohm_ah=rise * room**-_RISE_POWER,
        discharge_rise_ohm_ah=_LEAD_DISCHARGE_RISE * (1.0 - soc_grid()),
        discharge_bend_c=_LEAD_BEND_C,
        charge_limit_c=limit,
        tail_current_c=tail,
        absorption_v=absorption,
        float_v=floating,
        cutoff_v=10.5,  # V; 1.75 V a cell, usual end of discharge (IEC 60896-21, recalled)
        charge_v_per_c=-0.024,  # V/C; 4 mV a cell, common practice
        rest_v_per_c=0.0012,  # V/C; 0.2 mV a cell (Bode, Lead-Acid Batteries, 1977, recalled)
        self_discharge_per_h=month / (_DAYS_PER_MONTH * 24.0),
        meter_keeps=meter,
        charge_resistance_per_c=0.025,  # 1/C; Copetti 1993, recalled
        discharge_resistance_per_c=0.007,  # 1/C; Copetti 1993, recalled
        withheld_per_c=0.005,  # 1/C; Copetti 1993, recalled
        coldest_charge_c=-273.15,  # degree Celsius; lead takes charge in any cold
        # Fitted to 100, 93 and 60 Ah at 20, 10 and 1 h; Manwell and McGowan, Solar Energy 50 (1993) 399.
        available_fraction=0.4751,  # 1
        flow_per_h=0.6770,  # 1/h
    )


def _lithium_iron_phosphate() -> Chemistry:
    """Return LiFePO4: flat rest voltage, little loss, no taper before the last hundredth."""
    soc = soc_grid()
    middle_v = np.interp(soc, _LFP_NODES, _LFP_CELL_V)
    return Chemistry(
        open_circuit_v=CELLS_LFP * middle_v,
        lowest_v=CELLS_LFP * (middle_v + np.interp(soc, _LFP_LOWEST_NODES, _LFP_LOWEST_CELL_V)),
        highest_v=CELLS_LFP * (middle_v + np.interp(soc, _LFP_HIGHEST_NODES, _LFP_HIGHEST_CELL_V)),
        hysteresis_v=CELLS_LFP * np.interp(soc, _LFP_LEAN_NODES, _LFP_LEAN_CELL_V),
        charge_efficiency=np.full(GRID_NODES, 0.995),  # 1; common practice
        # Four measured cells (the validation run published with PyBatteryID, BSD-3) stand off their branch as 0.5 ohm
        # Ah over ten seconds and as 0.75 over half an hour, four of Prada 2013 in PyBaMM as 0.35 to 0.6: between
        # them 0.4 and 0.6. Bus bars and management system add 0.2 (common practice).
        ohmic_ohm_ah=0.60,
        polarisation_ohm_ah=0.20,
        charge_rise_ohm_ah=np.zeros(GRID_NODES),
        discharge_rise_ohm_ah=np.zeros(GRID_NODES),
        discharge_bend_c=np.inf,
        charge_limit_c=0.5,  # 1/h; common practice
        tail_current_c=0.04,  # 1/h; common practice
        absorption_v=14.2,  # V; 3.55 V a cell, common practice
        float_v=13.5,  # V; common practice
        cutoff_v=10.0,  # V; 2.5 V a cell, where management systems open, common practice
        charge_v_per_c=0.0,
        rest_v_per_c=0.0,  # V/C; a tenth of a millivolt a cell either way: left out
        self_discharge_per_h=0.02 / (_DAYS_PER_MONTH * 24.0),  # 1/h; 2 % a month, common practice
        meter_keeps=0.99,  # 1; common practice
        charge_resistance_per_c=0.02,  # 1/C; common practice
        discharge_resistance_per_c=0.02,  # 1/C; common practice
        withheld_per_c=0.004,  # 1/C; about a tenth less at freezing point, common practice
        coldest_charge_c=0.0,  # degree Celsius; metallic lithium plates out below, common practice
        available_fraction=1.0,  # all of the charge is at hand
        flow_per_h=1.0,  # 1/h; of no effect with one well
    )


# keep, rise: of AGM fitted to the measured bank; gel and flooded gas sooner and take charge worse (common practice).
# ohmic: 10, 5 and 7 milliohm at 100 Ah (common practice); limits, tails, volts, losses a month and
# what the monitor is set to: common practice.
_CHEMISTRIES: Final = {
    "flooded": _lead(
        _FLOODED_V, lowest_v=_FLOODED_LOWEST_V, keep=1.0, rise=0.8, ohmic=1.0, limit=0.25, tail=0.02, absorption=14.4,
        floating=13.5, month=0.06, meter=0.90,
    ),
    "agm": _lead(
        _AGM_V, keep=2.5, rise=0.4, ohmic=0.5, limit=0.4, tail=0.01, absorption=14.4, floating=13.6,
        month=0.03, meter=0.95,
    ),
    "gel": _lead(
        _GEL_V, keep=1.6, rise=0.64, ohmic=0.7, limit=0.2, tail=0.015, absorption=14.1, floating=13.7,
        month=0.03, meter=0.95,
    ),
    "lifepo4": _lithium_iron_phosphate(),
}  # fmt: skip


def chemistry(name: str) -> Chemistry:
    """Return a chemistry by name.

    Parameters
    ----------
    name : {'flooded', 'agm', 'gel', 'lifepo4'}
        As in the boat file.

    Returns
    -------
    Chemistry
        Figures of a 12 V bank over its SOC [V, ohm Ah, 1].

    Raises
    ------
    KeyError
        For another name.
    """
    return _CHEMISTRIES[name]


def temperature_factor(temp_c: float, per_c: float) -> float:
    """Return resistance over its value at 25 C: a straight line in temperature, held above one half.

    Parameters
    ----------
    temp_c : float
        Of the bank [degree Celsius].
    per_c : float
        Fall for each degree of warming [1/C].
    """
    return max(0.5, 1.0 - per_c * (temp_c - REFERENCE_C))


def ageing_factor(health: float) -> float:
    """Return resistance over that of a new bank of the same capacity left.

    An ampere-hour lost takes its plates with it, so resistance rises with 1 / capacity; age adds as much again.

    Parameters
    ----------
    health : float
        Part of the rated capacity that age has left [0..1].
    """
    return float(health**-_AGEING_POWER)
