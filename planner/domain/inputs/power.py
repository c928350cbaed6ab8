"""The electrical parts of the boat: bank, engine, loads; panels and controllers from ``solar``."""

from __future__ import annotations

import re
from typing import Annotated, Final, Literal

from pydantic import Field

from planner.domain.inputs.bank import Bank, Chemistry, Meter, NotedVolts
from planner.domain.inputs.fields import (
    PART,
    Between,
    ClockTime,
    Converts,
    Finite,
    Fraction,
    Input,
    Name,
    Usual,
    Watts,
    WindSpeed,
)
from planner.domain.inputs.solar import Controller, Mounting, Panel, Soiling

__all__ = [
    "Bank",
    "Charger",
    "Chemistry",
    "Controller",
    "Engine",
    "EngineSpeedTable",
    "Generator",
    "Inverter",
    "Load",
    "Meter",
    "Mounting",
    "NotedVolts",
    "Panel",
    "SecondaryBank",
    "Soiling",
    "SpeedTable",
]

EngineSpeed = Annotated[
    Finite,
    Between(
        200.0, 10_000.0, "a slow diesel idling to a small petrol engine at full throttle", "Is it in turns a minute?"
    ),
    Usual(600.0, 4000.0, "a yacht's diesel, idling to full speed"),
]


class EngineSpeedTable(Input):
    """A figure that depends on engine speed, read linearly between rows and held at the ends.

    Attributes
    ----------
    rpm : tuple of float
        Engine speed, rising [1/min].
    value : tuple of float
        The figure at each speed, in the units that its key names.
    """

    rpm: tuple[Annotated[Finite, Between(0.0, 10_000.0, "engines turn no faster")], ...] = Field(min_length=1)
    value: tuple[
        Annotated[
            Finite, Between(0.0, 1.0, "none to all of alternator_a", "Give parts of alternator_a, not amperes.")
        ],
        ...,
    ] = Field(min_length=1)


class Engine(Input):
    """Engine and alternator.

    Attributes
    ----------
    available : bool
        False when it cannot run.
    alternator_a : float
        Cold output, at charging speed unless ``output_by_rpm`` says less; 0 when it is dead [A].
    hot_fraction : float
        Output once hot, over cold [0..1].
    warm_up_min : float
        Time constant of its warming; 0 takes it as hot from the start [min].
    regulator_limit_a : float, optional
        Output that the regulator does not let it exceed [A].
    output_by_rpm : EngineSpeedTable, optional
        Part of ``alternator_a`` by engine speed [0..1]; None, all of it.
    charging_rpm : float
        Engine speed when charging out of gear [1/min].
    motoring_rpm : float
        Engine speed when driving the boat [1/min].
    charging_l_per_h : float
        Fuel at charging speed out of gear [L/h].
    motoring_l_per_h : float
        Fuel when driving the boat [L/h].
    marginal_l_per_kwh : float
        Fuel that the alternator adds to that; 0 where ``motoring_l_per_h`` has it in [L/kWh].
    started_by : {'start_bank', 'house_bank'}
        What cranks it; the house bank is refused.
    min_run_min : int
        Shortest charging run in a watch; taken in whole steps, up [min].
    max_run_min : int
        Longest charging run in a watch; taken in whole steps, down [min].
    max_heel_deg : float
        No charging runs beyond this heel [degree].
    tank_l : float
        Fuel aboard at departure [L].
    landfall_l : float
        Fuel kept for landfall [L].
    """

    available: bool = True
    alternator_a: Annotated[
        Finite,
        Between(0.0, 1000.0, "two of the largest that a yacht's engine turns", "Is it in amperes?"),
        Usual(10.0, 300.0, "a small engine's to two large ones on brackets; write available = false for a dead one"),
    ]
    hot_fraction: Annotated[
        Finite, Between(0.3, 1.0, "hot, an alternator gives a half to nine tenths of its cold output", PART)
    ] = 0.75
    warm_up_min: Annotated[
        Finite,
        Between(0.0, 240.0, "even a large one is warm in an hour", "Is it in minutes?"),
        Usual(0.0, 60.0, "even a large one is warm in an hour"),
    ] = 0.0
    regulator_limit_a: (
        Annotated[Finite, Between(1.0, 1000.0, "a trickle to two of the largest", "Is it in amperes?")] | None
    ) = None
    output_by_rpm: EngineSpeedTable | None = None
    charging_rpm: EngineSpeed = 1500.0
    motoring_rpm: EngineSpeed = 2200.0
    charging_l_per_h: Annotated[
        Finite,
        Between(0.05, 60.0, "an outboard idling to a 60 m yacht's set", "Is it in litres an hour?"),
        Usual(0.2, 6.0, "a yacht's diesel turning little more than its alternator"),
    ]
    motoring_l_per_h: Annotated[
        Finite,
        Between(0.1, 300.0, "the same, driving", "Is it in litres an hour?"),
        Usual(0.5, 25.0, "a yacht's diesel at a cruising speed"),
    ]
    marginal_l_per_kwh: Annotated[
        Finite,
        Between(0.0, 5.0, "ten times what a diesel burns", "Is it in litres a kilowatt-hour?"),
        Usual(0.0, 1.0, "a small diesel burns a third to half a litre for a kilowatt-hour"),
    ] = 0.0
    started_by: Literal["start_bank", "house_bank"] = "start_bank"
    min_run_min: Annotated[
        int,
        Between(10, 1440, "shorter it does not warm up; a watch is no longer than a day", "Is it in minutes?"),
        Usual(10, 240, "a run that fits a watch"),
    ] = 30
    max_run_min: Annotated[
        int,
        Between(10, 1440, "shorter it does not warm up; a watch is no longer than a day", "Is it in minutes?"),
        Usual(30, 720, "longer runs leave no watch without noise"),
    ] = 240
    max_heel_deg: Annotated[
        Finite,
        Between(1.0, 90.0, "upright to flat on the water", "Is it in degrees?"),
        Usual(8.0, 35.0, "engine makers allow 15 to 30"),
    ] = 20.0
    tank_l: Annotated[
        Finite,
        Between(1.0, 100_000.0, "a can to a ship's tanks", "Is it in litres?"),
        Usual(10.0, 4000.0, "a yacht's tanks"),
    ]
    landfall_l: Annotated[Finite, Between(0.0, 100_000.0, "nothing to a ship's tanks", "Is it in litres?")] = 0.0


class SpeedTable(Input):
    """A generator's output by speed, read linearly between rows; none below the first, held above the last.

    Attributes
    ----------
    speed_kn : tuple of float
        Boat speed through water or apparent wind speed, rising [kn].
    watts : tuple of float
        At the bus [W].
    """

    speed_kn: tuple[WindSpeed, ...] = Field(min_length=1)
    watts: tuple[Watts, ...] = Field(min_length=1)


class Generator(Input):
    """A towed or a wind generator.

    Attributes
    ----------
    name : str
        What it is.
    driven_by : {'boat_speed', 'apparent_wind'}
        A towed one is taken in under engine.
    output : SpeedTable
        By that speed.
    """

    name: Name
    driven_by: Literal["boat_speed", "apparent_wind"]
    output: SpeedTable


class Charger(Input):
    """A charger on shore power or on a separate generating set.

    Attributes
    ----------
    name : str
        What it is.
    output_w : float
        At the bus [W].
    hours : tuple of (str, str)
        Ship's-time spans in which it has power.
    """

    name: Name
    output_w: Annotated[
        Watts,
        Between(1.0, 50_000.0, "a charger that gives nothing is none"),
        Usual(50.0, 15000.0, "a small plug-in charger to a large generating set"),
    ]
    hours: tuple[tuple[ClockTime, ClockTime], ...] = Field(min_length=1)


class Inverter(Input):
    """The inverter that feeds loads marked ``ac``.

    Attributes
    ----------
    efficiency : float
        Output over input [0..1].
    idle_w : float
        Own draw while any of them is on [W].
    rated_w : float, optional
        What it can give for as long as one likes [W]; loads of more together are warned of.
    """

    efficiency: Converts = 0.88
    idle_w: Annotated[
        Finite,
        Between(0.0, 1000.0, "several large ones idling", "Is it in watts?"),
        Usual(0.0, 100.0, "a large one idles at some 30 W"),
    ] = 8.0
    rated_w: Annotated[Watts, Usual(50.0, 10_000.0, "a socket for telephones to an electric galley")] | None = None


class SecondaryBank(Input):
    """A bank apart from the house (start, thruster), charged from it through a DC-DC charger.

    Attributes
    ----------
    name : str
        What it is.
    need_wh_per_day : float
        What it must be given in a passage day [Wh].
    charger_w : float
        What the charger draws while it works [W].
    charger_efficiency : float
        Output over input [0..1].
    when : {'always', 'engine'}
        When the charger may work: at any time, or while the engine drives the boat.
    """

    name: Name
    need_wh_per_day: Annotated[Finite, Between(0.1, 100_000.0, "thrusters in port all day", "Is it in watt-hours?")]
    charger_w: Annotated[Watts, Between(1.0, 50_000.0, "a charger that draws nothing is none")]
    charger_efficiency: Converts = 0.9
    when: Literal["always", "engine"] = "always"


# what keeps a boat seen, heard, afloat and her bank connected (common practice)
VITAL_NAMES: Final = re.compile(
    r"\b(nav(igation)?\W*lights?|(compass|binnacle)\W*(light|lamp)s?|vhf|bilge|bms|battery\W*management|"
    r"(co|gas|carbon monoxide)\W*(alarm|detector)s?)\b",
    re.IGNORECASE,
)


class Load(Input):
    """One thing that draws power.

    Attributes
    ----------
    name : str
        What it is.
    watts : float, optional
        Draw while it runs [W]; either this or ``amps``.
    amps : float, optional
        The same in amperes at the bank's nominal voltage [A].
    duty : float
        Part of the time that it draws while on [0..1].
    when : str
        When it is on: always, night (sunset to sunrise), sailing, engine (driving the boat), hours, watch.
    hours : tuple of (str, str)
        Ship's-time spans for ``when = 'hours'``.
    roles : tuple of str
        Roles on watch for ``when = 'watch'``.
    above_wind_kn : float
        On only at this true wind or more [kn].
    per_c : float
        Change of draw for each degree of air over 25 C, over the draw [1/C] (a fridge).
    wh_per_day : float, optional
        For a deferrable load: the energy needed a passage day [Wh]; it is placed in surplus within ``hours``, whose
        spans are its earliest starts and latest ends.
    min_run_min : int
        Shortest run of a deferrable load, in one piece; 0 lets it come and go with the sun [min].
    ac : bool
        Fed through the inverter.
    shed_order : int, optional
        Order of shedding in need, 1 first; None is never shed (navigation lights, VHF, bilge pump).
    vital : bool, optional
        Never shed, whatever the order; what the boat file leaves open the name decides (``VITAL_NAMES``).
    """

    name: Name
    watts: Annotated[Watts, Usual(0.0, 4000.0, "a cooker, or air conditioning")] | None = None
    amps: (
        Annotated[
            Finite,
            Between(0.0, 4000.0, "50 kW at 12 V", "Is it in amperes?"),
            Usual(0.0, 200.0, "a windlass at full pull"),
        ]
        | None
    ) = None
    duty: Fraction = 1.0
    when: Literal["always", "night", "sailing", "engine", "hours", "watch"] = "always"
    hours: tuple[tuple[ClockTime, ClockTime], ...] = ()
    roles: tuple[Name, ...] = ()
    above_wind_kn: WindSpeed = 0.0
    per_c: Annotated[
        Finite,
        Between(0.0, 1.0, "it doubles with each degree", "It is a part of 1 a degree: 3 % is 0.03."),
        Usual(0.0, 0.1, "a fridge draws some 3 % more a degree"),
    ] = 0.0
    wh_per_day: (
        Annotated[
            Finite,
            Between(0.1, 1_000_000.0, "42 kW day and night", "Is it in watt-hours?"),
            Usual(0.1, 20000.0, "a watermaker that fills baths"),
        ]
        | None
    ) = None
    min_run_min: Annotated[int, Between(0, 1440, "up to a day", "Is it in minutes?")] = 0
    ac: bool = False
    shed_order: Annotated[int, Between(1, 1000, "one rank each")] | None = None
    vital: bool | None = None

    @property
    def is_vital(self) -> bool:
        """Whether the boat or her crew are in danger without it."""
        return self.vital if self.vital is not None else VITAL_NAMES.search(self.name) is not None
