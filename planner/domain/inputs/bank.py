"""The house bank, its monitor, and what it showed once."""

from __future__ import annotations

from typing import Annotated, Literal

from planner.domain.inputs.fields import (
    AmpHours,
    Between,
    Converts,
    Finite,
    Fraction,
    Input,
    Usual,
    Volts,
)

Chemistry = Literal["flooded", "agm", "gel", "lifepo4"]


class Meter(Input):
    """The battery monitor on the shunt, as it is set.

    Attributes
    ----------
    capacity_ah : float, optional
        The capacity that it knows; None is the bank's, aged [Ah].
    charge_efficiency : float, optional
        Part of the charging amp-hours that it counts [0..1].
    """

    capacity_ah: AmpHours | None = None
    charge_efficiency: Converts | None = None


class NotedVolts(Input):
    """What the bank showed once on loads alone, an hour or more after charging ended; it tells where its cells stand.

    Attributes
    ----------
    state_of_charge : float
        As the monitor had it, soon after the bank had set it right [0..1].
    volts : float
        At the bank [V].
    amps : float
        Drawn [A].
    """

    state_of_charge: Annotated[Finite, Between(0.15, 0.95, "beyond, volts change too fast to tell a bank's own")]
    volts: Volts
    amps: Annotated[Finite, Between(0.0, 1000.0, "as much as a house bank's cables carry", "Is it in amperes?")]


class Bank(Input):
    """The house bank.

    Attributes
    ----------
    chemistry : {'flooded', 'agm', 'gel', 'lifepo4'}
        What it is made of; it sets the rest curve, and every value that is left out.
    nominal_v : float
        12, 24, 36 or 48 [V].
    capacity_ah : float
        Rated capacity when new, 20-hour rate for lead [Ah].
    health : float
        Part of the rated capacity that age has left [0..1].
    reserve_soc : float
        The crew wants to stay above this [0..1].
    resistance_ohm : float, optional
        Of the whole bank as it is now, to a change of load [ohm].
    charge_limit_c : float, optional
        Highest charging current over aged capacity [1/h].
    absorption_v : float, optional
        Voltage that solar controllers and chargers hold; by the chemistry where left out [V].
    alternator_v : float, optional
        Voltage that the alternator's regulator holds; as ``absorption_v`` where left out [V].
    float_v : float, optional
        Voltage that holds the bank once it is full [V].
    tail_current_c : float, optional
        Charging current over capacity at which the bank counts as full [1/h].
    self_discharge_per_month : float, optional
        Part of the capacity lost in thirty days of standing [0..1].
    temp_c : float
        Bank temperature [degree Celsius].
    connected : bool
        False while its management, a fuse or a switch has taken it off the bus: it neither takes nor gives.
    meter : Meter
        The battery monitor.
    noted : NotedVolts, optional
        Volts at a known state of charge; the rest curve is shifted to meet them.
    """

    chemistry: Chemistry
    nominal_v: Literal[12, 24, 36, 48] = 12
    capacity_ah: Annotated[AmpHours, Usual(50.0, 2500.0, "a pair of batteries to a bank of half a ton")]
    health: Annotated[
        Finite,
        Between(0.1, 1.0, "below, a bank is scrap", "It is a part of 1: 0.8 is 80 %."),
        Usual(0.5, 1.0, "half its capacity lost is time for another"),
    ] = 1.0
    reserve_soc: Annotated[Fraction, Usual(0.05, 0.8, "lithium is kept over a tenth or more, lead over a half")]
    resistance_ohm: (
        Annotated[Finite, Between(1e-5, 5.0, "20 kAh of lithium to 5 Ah of worn lead at 48 V", "Is it in ohms?")]
        | None
    ) = None
    charge_limit_c: (
        Annotated[
            Finite,
            Between(0.01, 10.0, "a trickle to the fastest cells made", "It is amperes over ampere-hours."),
            Usual(0.05, 1.0, "lead takes a tenth to a fifth of its capacity, lithium a half to all of it"),
        ]
        | None
    ) = None
    absorption_v: Volts | None = None
    alternator_v: Volts | None = None
    float_v: Volts | None = None
    tail_current_c: (
        Annotated[
            Finite,
            Between(
                0.0005, 1.0, "below, no shunt reads it; above, no bank is full", "It is amperes over ampere-hours."
            ),
            Usual(0.002, 0.1, "a few hundredths of the capacity"),
        ]
        | None
    ) = None
    self_discharge_per_month: Fraction | None = None
    temp_c: Annotated[
        Finite,
        Between(-40.0, 60.0, "makers of lead and lithium allow none beyond", "Is it in degrees Celsius?"),
        Usual(-5.0, 45.0, "lockers of a boat that people live in"),
    ] = 25.0
    connected: bool = True
    meter: Meter = Meter()
    noted: NotedVolts | None = None
