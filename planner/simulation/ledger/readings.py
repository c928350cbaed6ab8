"""What a crew reads on the bank's meters: amps at a minute of a run, volts that betray a meter, days since full."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from planner.domain.inputs.power import Bank, Engine
from planner.physics.bank import BankParams, bank_step, bus_v
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.sources import output_at_a, output_over_run_a

DISCHARGED: Final = -1.0  # 1, lean of the volts after hours of discharge
STANDING_MIN: Final = 10  # min; diffusion and a pump's surge have passed (common practice)
VOLTS_READ: Final = 0.05  # V; a panel meter's two digits, rounded down to what its error leaves of them
# V on a 12 V bank under the volts that the bank should show: what voltmeter, wiring, warmth and one bank's curve and
# resistance differ by. Set over made descents, so that none rings a tenth of the charge above the reserve
# (scripts/bench_low_volts.py); LiFePO4's two hundredths of a volt a percent leave it little room.
DOUBT_V: Final = 0.075
ABOVE_CUTOFF_V: Final = 0.4  # V on a 12 V bank, the least over cut-off: no alarm waits for a disconnect
LEAST_SOC: Final = 0.01  # 1, at which a load can still be read; it stands for a reserve of nothing
_MINUTE_S: Final = 60.0  # s, exact
_INSTANT_S: Final = 1.0  # s, in which the state of charge stands still


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
    """Return the low backstop in volts: those at the reserve under the highest usual load, less their doubt.

    Parameters
    ----------
    bank : Bank
        From the boat file.
    demand_w : float
        Highest usual load, with nothing charging [W].

    Returns
    -------
    LowVolts
        Volts rounded down, amps up.
    """
    twelves, params = bank.nominal_v / 12.0, bank_params(bank)
    # Without cut-off or what cold withholds: those would hide the volts that are asked for.
    free = params._replace(empty_soc=0.0, cutoff_v=0.5 * params.cutoff_v)
    soc = max(bank.reserve_soc, LEAST_SOC)
    step = bank_step(soc, 0.0, 0.0, 0.0, demand_w, _INSTANT_S, free, math.inf, DISCHARGED)
    least_v = params.cutoff_v + ABOVE_CUTOFF_V * twelves
    volts = max(step.voltage_v - DOUBT_V * twelves, least_v)
    down_v = round(math.floor(volts / VOLTS_READ + 1e-9) * VOLTS_READ, 2)
    return LowVolts(down_v, float(math.ceil(-step.current_a)), STANDING_MIN)


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
