"""What a crew reads on the bank's meters: amps at a minute of a run, volts that betray a meter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Bank, Engine
from planner.physics.bank import BankParams, bank_step, bus_v
from planner.physics.chemistry import chemistry, soc_grid
from planner.simulation.ledger.bank import DISCHARGED, bank_params, on_loads
from planner.simulation.ledger.sources import output_at_a, output_over_run_a

USUAL: Final = 0.9  # 1, part of a time's steps that draw no more than its highest usual load
UNLISTED: Final = 1.5  # 1, of the listed loads that the backstop must bear: a boat draws more than its list
STANDING_MIN: Final = 10  # min; diffusion and a pump's surge have passed (common practice)
VOLTS_READ: Final = 0.01  # V; a battery monitor's last digit
# 1, over the reserve, where the volts must not ring yet; wide enough that they ring before a tenth is left
OVER_RESERVE: Final = 0.10
# V on a 12 V bank under what the lowest published curve, or the bank by its noted volts, shows there: for voltmeter,
# wiring, warmth, a bank's own resistance and bend of the curve, and the monitor's error where volts were noted. With
# these none of 3000 made descents of each kind of cells rings early, with two hundredths less some do
# (scripts/bench_low_volts.py, which scores on other descents).
LITHIUM_DOUBT_V: Final = 0.12
LEAD_DOUBT_V: Final = 0.175
NOTED_DOUBT_V: Final = 0.175
ABOVE_CUTOFF_V: Final = 0.4  # V on a 12 V bank, the least over cut-off: no alarm waits for a disconnect
_MINUTE_S: Final = 60.0  # s, exact


@dataclass(frozen=True)
class LowVolts:
    """A backstop to the alarm by state of charge, for a meter that is lost or has drifted.

    Attributes
    ----------
    volts : float
        At the bank; it rings when they stand under this [V].
    amps : float
        While no more than this is drawn [A].
    minutes : int
        For so long [min].
    """

    volts: float
    amps: float
    minutes: int


def low_volts(bank: Bank, *, demand_w: float) -> LowVolts:
    """Return the low backstop in volts, which rings for no bank of its kind with more than ``OVER_RESERVE`` to spare.

    Parameters
    ----------
    bank : Bank
        From the boat file; where it has noted no volts, its cells may be those of the lowest published curve.
    demand_w : float
        Highest usual load, with nothing charging [W].

    Returns
    -------
    LowVolts
        Volts rounded down, amps up.
    """
    twelves, kind = bank.nominal_v / 12.0, chemistry(bank.chemistry)
    lowest = bank_params(bank) if bank.noted else _on_curve(bank, kind.lowest_v)
    doubt_v = LITHIUM_DOUBT_V if bank.chemistry == "lifepo4" else LEAD_DOUBT_V
    most_w = UNLISTED * demand_w
    shown_v, drawn_a = on_loads(lowest, soc=min(bank.reserve_soc + OVER_RESERVE, 1.0), demand_w=most_w)
    least_v = lowest.cutoff_v + ABOVE_CUTOFF_V * twelves
    volts = max(shown_v - (NOTED_DOUBT_V if bank.noted else doubt_v) * twelves, least_v)
    return LowVolts(
        round(math.floor(volts / VOLTS_READ + 1e-9) * VOLTS_READ, 2), float(math.ceil(drawn_a)), STANDING_MIN
    )


def late_soc(bank: Bank, low: LowVolts) -> float:
    """Return the state of charge at which the backstop rings where cells stand on the highest published curve [0..1].

    Parameters
    ----------
    bank : Bank
        From the boat file.
    low : LowVolts
        Its backstop.
    """
    highest = _on_curve(bank, chemistry(bank.chemistry).highest_v)
    return next((soc for soc in soc_grid().tolist() if on_loads(highest, soc=soc, demand_w=0.0)[0] >= low.volts), 1.0)


def _on_curve(bank: Bank, rest_v: Floats) -> BankParams:
    """Return a bank whose cells stand on another published rest curve of its chemistry, (node,) [V on 12 V]."""
    params = bank_params(bank)
    off_v = (rest_v - chemistry(bank.chemistry).open_circuit_v) * bank.nominal_v / 12.0
    return params._replace(open_circuit_v=params.open_circuit_v + off_v)


def current_at_minute_a(engine: Engine, params: BankParams, *, minute: int, soc: float, rest_w: float) -> float:
    """Return the bank current at a minute of a run to charge, as the shunt shows it: net of what else is at the bus.

    Parameters
    ----------
    engine : Engine
        From the boat file; the run begins cold, after hours of discharge.
    params : BankParams
        The bank.
    minute : int
        Since the start [min].
    soc : float
        At the start [0..1].
    rest_w : float
        Other sources less loads [W].

    Returns
    -------
    float
        Positive charging [A].
    """
    lean = DISCHARGED
    others_w, demand_w = max(rest_w, 0.0), max(-rest_w, 0.0)

    def after(amps: float) -> tuple[float, float, float]:
        alternator_w = amps * bus_v(soc, amps, rest_w, params, lean)
        step = bank_step(soc, others_w, alternator_w, 0.0, demand_w, _MINUTE_S, params, math.inf, lean)
        return step.soc_next, step.lean_next, step.current_a

    warming = output_over_run_a(engine, step_min=1.0)[0]
    for passed in range(minute):
        soc, lean, _ = after(warming[min(passed, warming.size - 1)])
    return after(output_at_a(engine, float(minute)))[2]
