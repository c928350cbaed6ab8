"""How far a battery monitor's state of charge has drifted since it last stood at a full bank.

A monitor counts amp-hours, and is set to 100 % when the bank is full. From there on its count errs by what it takes
the bank to keep of a charge and by the gain of its shunt, which grow with the charge put in, and by the zero of its
shunt, which grows with time. These are fixed errors of one monitor on one bank, so each adds up along the way and not
as its root; they are independent of one another, so their variances add.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Floats

# Standard deviations (common practice: a class 0.5 to 1 shunt, a monitor's finest step, the settings in its manual).
FULL_SOC: Final = MappingProxyType({"lifepo4": 0.01, "agm": 0.02, "gel": 0.02, "flooded": 0.02})  # 1, when shown full
KEPT: Final = MappingProxyType({"lifepo4": 0.005, "agm": 0.03, "gel": 0.03, "flooded": 0.04})  # 1, charge efficiency
SHUNT_GAIN: Final = 0.01  # 1
SHUNT_ZERO_A: Final = 0.03  # A
# 1, charge by the log's amp-hours and by volts at rest, which say more of lead (common practice)
WITHOUT_METER: Final = MappingProxyType({"lifepo4": 0.10, "agm": 0.06, "gel": 0.06, "flooded": 0.06})
_HOURS_PER_DAY: Final = 24.0  # h/d, exact


class MeterDrift(NamedTuple):
    """What a monitor errs by, as standard deviations.

    Attributes
    ----------
    at_start : float
        At departure [0..1].
    at_full : float
        When it has just been set to full [0..1].
    per_throughput : float
        For each charge of the whole capacity put in since [1].
    per_day : float
        For each day since [1/d].
    full_soc : float
        State of charge from which the bank counts as full [0..1].
    """

    at_start: float
    at_full: float
    per_throughput: float
    per_day: float
    full_soc: float


STEADY: Final = MeterDrift(at_start=1.0, at_full=1.0, per_throughput=0.0, per_day=0.0, full_soc=np.inf)
"""A monitor whose error stays as it was at departure."""


def meter_drift(chemistry: str, capacity_ah: float, *, at_start: float, full_soc: float) -> MeterDrift:
    """Return how a monitor on a bank drifts.

    Parameters
    ----------
    chemistry : {'flooded', 'agm', 'gel', 'lifepo4'}
        As in the boat file.
    capacity_ah : float
        Of the bank as it is [Ah].
    at_start, full_soc : float
        As ``MeterDrift`` has them; at departure no more certain than when just set to full.

    Raises
    ------
    KeyError
        For another chemistry.
    """
    per_throughput = float(np.hypot(KEPT[chemistry], SHUNT_GAIN))
    per_day = SHUNT_ZERO_A * _HOURS_PER_DAY / capacity_ah
    return MeterDrift(at_start, FULL_SOC[chemistry], per_throughput, per_day, full_soc)


@njit(cache=True, error_model="numpy", forceinline=True)
def meter_error(
    throughput: Floats | float, since_d: Floats | float, drift: MeterDrift, at_first: float
) -> Floats | float:
    """Return the standard deviation of a monitor's state of charge; arguments broadcast.

    Parameters
    ----------
    throughput : float or array
        Charge put in since departure or the last full charge, over capacity [1].
    since_d : float or array
        Days since then [d].
    drift : MeterDrift
        The monitor's.
    at_first : float
        Its error then: ``drift.at_start`` or ``drift.at_full`` [0..1].

    Returns
    -------
    float or array
        [0..1].
    """
    of_charge, of_time = drift.per_throughput * throughput, drift.per_day * since_d
    return np.sqrt(at_first * at_first + of_charge * of_charge + of_time * of_time)
