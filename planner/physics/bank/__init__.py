"""One step of a battery bank: what it takes, what it gives, and where every watt went.

Over a step the bank's current I is constant (positive charging). What it loses standing is taken off first; then,
with rest voltage V(s) piecewise linear in the state of charge s, capacity Q and step h, the state moves by e I h / Q
(e the charge efficiency at the start of the step, 1 on discharge), and the bus sees

    P = I mean(V) + I^2 R,      mean(V) = integral of V over the states passed / their difference,

of which e I mean(V) is stored (on discharge I mean(V)), (1 - e) I mean(V) and I^2 R are lost. R is read at the start.
A full bank is held at float volts: there the sources' push above rest takes the place of I R.
"""

from __future__ import annotations

from planner.physics.bank.curve import at_soc, mean_rest_v, rest_integral, soc_at_terminal_voltage
from planner.physics.bank.limits import BankParams, current_for_power, most_charge_a, most_discharge_a
from planner.physics.bank.step import BankStep, bank_step

__all__ = [
    "BankParams",
    "BankStep",
    "at_soc",
    "bank_step",
    "current_for_power",
    "mean_rest_v",
    "most_charge_a",
    "most_discharge_a",
    "rest_integral",
    "soc_at_terminal_voltage",
]
