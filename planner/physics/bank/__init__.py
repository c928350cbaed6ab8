"""One step of a battery bank: what it takes, what it gives, and where every watt went.

Over a step the bank's current I is constant (positive charging). What it loses standing is taken off first; then,
with rest voltage V(s) piecewise linear in the state of charge s, capacity Q and step h, the state moves by e I h / Q
(e the charge efficiency at the start of the step, 1 on discharge), and the bus sees

    P = I (mean(V) + l H) + I^2 R,      mean(V) = integral of V over the states passed / their difference,

of which e I mean(V) is stored (on discharge I mean(V)), (1 - e) I mean(V), I l H and I^2 R are lost. R, half the
width of the hysteresis H(s), and the lean l, -1 on the branch of discharge and 1 on that of charge, are read at the
start; l moves toward the sign of a current as exp(-charge moved / Q / 0.03). On discharge R falls with the current
drawn at rest volts as 1 / (1 + I / b), as the overvoltage of lead does (Copetti 1993 has such a term, recalled).
A full bank is held at float volts: there the sources' push above rest takes the place of I R.

The kernels are inlined where they are called (``forceinline``): a march of a bank takes a third less time.
"""

from __future__ import annotations

from planner.physics.bank.bus import bus_v
from planner.physics.bank.curve import at_soc, mean_rest_v, rest_integral, soc_at_terminal_voltage
from planner.physics.bank.limits import BankParams, current_for_power, most_charge_a, most_discharge_a
from planner.physics.bank.meter import MeterDrift, meter_drift, meter_error
from planner.physics.bank.step import BankStep, bank_step, next_lean

__all__ = [
    "BankParams",
    "BankStep",
    "MeterDrift",
    "at_soc",
    "bank_step",
    "bus_v",
    "current_for_power",
    "mean_rest_v",
    "meter_drift",
    "meter_error",
    "most_charge_a",
    "most_discharge_a",
    "next_lean",
    "rest_integral",
    "soc_at_terminal_voltage",
]
