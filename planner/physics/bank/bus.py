"""The volts at the bus while a source of a given current charges."""

from __future__ import annotations

import numpy as np

from planner.physics.bank.curve import at_soc
from planner.physics.bank.limits import BankParams
from planner.physics.kernels import in_every_step


@in_every_step
def bus_v(soc: float, amps: float, rest_w: float, params: BankParams, lean: float = 0.0) -> float:
    """Return the volts that an alternator's current finds at the bus: from cut-off to what its regulator holds.

    With rest voltage E, resistance R, current I and the power P of what else is at the bus, they solve
    V = E + R (I + P / V), E and R being those of the state of charge.

    Parameters
    ----------
    soc : float
        State of charge [0..1].
    amps : float
        Of the alternator [A].
    rest_w : float
        Other sources less loads [W].
    params : BankParams
        The bank.
    lean : float
        Which branch the volts are on, -1 after discharge to 1 after charge [1].

    Returns
    -------
    float
        [V].
    """
    rest_v = at_soc(params.open_circuit_v, soc) + lean * at_soc(params.hysteresis_v, soc)
    charges = amps * rest_v + rest_w >= 0.0
    resistance = at_soc(params.charge_resistance_ohm if charges else params.discharge_resistance_ohm, soc)
    pushed_v = rest_v + resistance * amps
    volts = 0.5 * (pushed_v + np.sqrt(max(pushed_v * pushed_v + 4.0 * resistance * rest_w, 0.0)))
    return float(min(max(volts, params.cutoff_v), params.alternator_v))
