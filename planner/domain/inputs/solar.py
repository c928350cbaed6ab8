"""Panels, their controllers, and the dirt on them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Any, Final, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from planner.domain.inputs.fields import (
    IN_METRES,
    PART,
    Bearing,
    Between,
    Coefficient,
    Converts,
    Finite,
    Fraction,
    Input,
    Name,
    Point,
    Tilt,
    Usual,
    as_many,
    rising,
)

Mounting = Literal["open", "ventilated", "on_canvas", "on_deck"]
"""Open arch, a gap behind, flush on canvas, glued on deck."""
PanelSide = Annotated[
    Finite,
    Between(0.05, 5.0, "a lamp's to one that comes rolled up", IN_METRES),
    Usual(0.1, 2.6, "the largest framed module"),
]
PanelVolts = Annotated[Finite, Between(0.5, 300.0, "one cell's to a thin film's", "Is it in volts, of one panel?")]
PanelAmps = Annotated[
    Finite, Between(0.02, 50.0, "a lamp's to twice the largest made", "Is it in amperes, of one panel?")
]
Construction = Literal["rigid", "flexible"]
"""Framed glass; a laminate without glass."""
AGEING_PER_YEAR: Final[Mapping[Construction, float]] = MappingProxyType(
    {
        "rigid": 0.007,  # 1/a, Jordan and Kurtz 2013, doi:10.1002/pip.1182: median 0.5 %, mean 0.8 %
        "flexible": 0.02,  # 1/a, laminates at sea (common practice)
    }
)


Occasion = Literal[
    "by_hand", "sun_to_port", "sun_to_starboard", "starboard_tack", "port_tack", "at_anchor", "hove_to"
]
"""When the crew sets a panel so: only where its ``stance`` says so, or whenever this holds."""


class Stance(Input):
    """One way in which the crew can set a panel.

    Attributes
    ----------
    name : str
        Unique on the panel.
    when : str
        The occasion on which the crew sets it so.
    centre_m : point, optional
        Middle of its face then [m]; the panel's own where left out.
    tilt_deg : float
        Angle of the face from the deck plane then [degree].
    tilt_toward_deg : float
        Relative bearing that the face looks toward then [degree].
    """

    name: Name
    when: Occasion = "by_hand"
    centre_m: Point | None = None
    tilt_deg: Tilt = 0.0
    tilt_toward_deg: Bearing = 0.0


class Panel(Input):
    """A flat rectangular panel and its data sheet at 1000 W/m2, 25 C.

    Attributes
    ----------
    name : str
        Unique on the boat.
    centre_m : point
        Middle of its face in the boat frame [m].
    length_m : float
        Size along the boat, before tilting [m].
    width_m : float
        Size across the boat, before tilting [m].
    tilt_deg : float
        Angle of the face from the deck plane [degree], 0..180.
    tilt_toward_deg : float
        Relative bearing that the tilted face looks toward: 0 bow, 90 starboard, 180 stern [degree].
    mounting : str
        How heat leaves it.
    max_power_w : float
        Rating on its data sheet, at 1000 W/m2 and 25 C [W].
    max_power_v : float
        Its voltage there [V].
    max_power_a : float
        Its current there [A].
    open_circuit_v : float
        Voltage with nothing connected [V].
    short_circuit_a : float
        Current with its ends joined [A].
    cells : int
        Cells in series.
    substrings : int
        Groups of cells under one bypass diode each; divides ``cells``.
    substrings_across : {'length', 'width'}
        Which side the substrings divide.
    bypass_diodes : bool
        Whether bypass diodes are fitted; some flexible panels have none.
    parallel_strings : int
        Strings of cells side by side in each substring: 1 as usual, 2 in a panel of half cells, more in one of
        shingles. They divide the other side; ``cells`` counts those of one.
    cells_along : int, optional
        Cells along the length, by the size of the panel where left out; with those across they make ``cells`` times
        ``parallel_strings``.
    cells_across : int, optional
        Cells along the width, in the same way.
    power_per_c : float
        What maximum power changes by with each degree, over itself [1/C].
    voltage_per_c : float
        The same of the open-circuit voltage [1/C].
    current_per_c : float
        The same of the short-circuit current [1/C].
    construction : {'rigid', 'flexible'}
        Sets how fast it ages where ``ageing_per_year`` does not.
    age_years : float
        Years in use [a].
    ageing_per_year : float
        Part of the rating lost in each [1/a].
    measured_fraction : float
        Part of the yield expected of it so that readings under way showed; counted with its age [1].
    mass_kg : float
        Mass [kg].
    stances : tuple of Stance
        Other ways to set it; the first whose occasion holds is taken, else it stands as written here.
    stance : str, optional
        Name of the stance that it keeps throughout, whatever the occasion.
    available : bool
        False while it is out of service: its string brings nothing, and its shadow stays.
    """

    name: Name
    centre_m: Point
    length_m: PanelSide
    width_m: PanelSide
    tilt_deg: Tilt = 0.0
    tilt_toward_deg: Bearing = 0.0
    mounting: Mounting
    max_power_w: Annotated[
        Finite,
        Between(1.0, 2000.0, "a lantern's to twice the largest module made", "Is it in watts, of one panel?"),
        Usual(5.0, 700.0, "the largest module made"),
    ]
    max_power_v: PanelVolts
    max_power_a: PanelAmps
    open_circuit_v: PanelVolts
    short_circuit_a: PanelAmps
    cells: Annotated[int, Between(1, 400, "one to 250 V of them", "Count the cells in series.")]
    substrings: Annotated[int, Between(1, 12, "one bypass diode each; the largest junction boxes hold a few")] = 1
    substrings_across: Literal["length", "width"] = "width"
    bypass_diodes: bool = True
    parallel_strings: Annotated[int, Between(1, 12, "1 as usual, 2 of half cells, more of shingles")] = 1
    cells_along: (
        Annotated[int, Between(1, 400, "one to 250 V of them", "Count the cells along the length.")] | None
    ) = None
    cells_across: (
        Annotated[int, Between(1, 400, "one to 250 V of them", "Count the cells along the width.")] | None
    ) = None
    power_per_c: Coefficient = -0.0040
    voltage_per_c: Coefficient = -0.0030
    current_per_c: Coefficient = 0.0005
    construction: Construction = "rigid"
    age_years: Annotated[
        Finite,
        Between(0.0, 60.0, "older ones lie in museums", "Is it in years?"),
        Usual(0.0, 35.0, "few panels at sea last longer"),
    ] = 0.0
    ageing_per_year: Fraction = AGEING_PER_YEAR["rigid"]
    measured_fraction: Annotated[Finite, Between(1e-6, 1.5, "a dead panel to one half over its rating", PART)] = 1.0
    mass_kg: (
        Annotated[
            Finite,
            Between(0.05, 200.0, "more than any derrick lifts onto an arch", "Is it in kilograms?"),
            Usual(0.2, 50.0, "what two hands lift"),
        ]
        | None
    ) = None
    stances: tuple[Stance, ...] = ()
    stance: Name | None = None
    available: bool = True

    @model_validator(mode="before")
    @classmethod
    def _age_by_construction(cls, given: Any) -> Any:
        if isinstance(given, dict) and given.get("construction") in AGEING_PER_YEAR:
            return {"ageing_per_year": AGEING_PER_YEAR[given["construction"]], **given}
        return given


class EfficiencyCurve(Input):
    """How a converter's efficiency depends on its load, read linearly between rows and held at the ends.

    Attributes
    ----------
    load : tuple of float
        Input over rated output, rising [1].
    value : tuple of float
        Efficiency over that at the best load [0..1].
    """

    load: tuple[Annotated[Finite, Between(0.0, 10.0, "no converter is loaded more")], ...] = Field(min_length=1)
    value: tuple[Annotated[Finite, Between(0.01, 1.0, "a converter that loses all is broken")], ...] = Field(
        min_length=1
    )

    @field_validator("load")
    @classmethod
    def _loads_rise(cls, load: tuple[float, ...]) -> tuple[float, ...]:
        return rising(load, "loads")

    @field_validator("value")
    @classmethod
    def _one_a_load(cls, value: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        as_many(value, info.data.get("load"), "loads")
        return value


CONVERTER: Final = EfficiencyCurve(
    # A fixed loss of 0.35 % of the rating and a resistive one of 1.2 % at full load (common practice); the loads are
    # about those at which EN 50530 weighs converters (recalled). The board's idle draw is counted with the loads.
    load=(0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0),
    value=(0.862, 0.946, 0.978, 0.993, 0.998, 1.0, 0.999, 0.997),
)


class Controller(Input):
    """A tracking charge controller and the wiring to it.

    Attributes
    ----------
    name : str
        Unique on the boat.
    strings : tuple of tuple of str
        Panels in series within a string; strings in parallel.
    tracker : {'global', 'upper'}
        Whether it finds the highest of several power peaks, or stays on the first that it meets below open circuit.
    follows_roll : bool
        Whether it finds the best voltage anew within each roll of the boat: an upper bound, as none is known to.
    efficiency : float
        Output over input at the best load [0..1].
    efficiency_curve : EfficiencyCurve
        What other loads leave of that.
    max_output_a : float
        Output limit [A].
    max_output_w : float, optional
        Output limit [W]; the lower of the two stands and is the rating that the curve's loads are over.
    min_input_v : float
        Lowest voltage at which it works [V].
    max_input_v : float
        Highest voltage of a string that it bears [V].
    headroom_v : float
        Input must exceed the bank by this to charge [V].
    idle_w : float
        Own draw day and night, counted with the loads [W].
    wire_length_m : float
        From panels to bank, one way [m].
    wire_section_mm2 : float
        Copper section of that wire [mm2].
    soiling_fraction : float
        Light lost to dirt and salt at departure [0..1].
    available : bool
        False while it is out of service: its panels bring nothing.
    """

    name: Name
    strings: tuple[tuple[Name, ...], ...] = Field(min_length=1)
    tracker: Literal["global", "upper"] = "global"
    follows_roll: bool = False
    efficiency: Converts = 0.97
    efficiency_curve: EfficiencyCurve = CONVERTER
    max_output_a: Annotated[
        Finite,
        Between(0.5, 1000.0, "a toy's to several of the largest side by side", "Is it in amperes?"),
        Usual(5.0, 300.0, "the smallest fitted to a yacht to several side by side"),
    ] = 100.0
    max_output_w: (
        Annotated[Finite, Between(5.0, 50_000.0, "a toy's to several of the largest side by side", "Is it in watts?")]
        | None
    ) = None
    min_input_v: Annotated[Finite, Between(0.0, 1000.0, "none is made for more", "Is it in volts?")] = 0.0
    max_input_v: Annotated[
        Finite,
        Between(5.0, 1000.0, "low voltage ends at 1500 V", "Is it in volts?"),
        Usual(20.0, 500.0, "what a yacht's controllers bear"),
    ] = 100.0  # recalled
    headroom_v: Annotated[
        Finite,
        Between(0.0, 50.0, "as much as the bank again", "Is it in volts?"),
        Usual(0.0, 10.0, "most ask for 1 to 5 V"),
    ] = 1.0
    idle_w: Annotated[
        Finite,
        Between(0.0, 500.0, "a hundred times a large one's", "Is it in watts?"),
        Usual(0.0, 20.0, "the largest idles at some 5 W"),
    ] = 0.5
    wire_length_m: Annotated[
        Finite,
        Between(0.0, 200.0, "to the masthead of the largest and back", "Is it in metres, one way?"),
        Usual(0.0, 60.0, "arch to bank, one way"),
    ] = 5.0
    wire_section_mm2: Annotated[
        Finite,
        Between(0.75, 500.0, "no thinner wire may be used", "It is copper in mm2, not a gauge."),
        Usual(1.5, 120.0, "a small panel's to a starter cable"),
    ] = 6.0  # recalled
    soiling_fraction: Fraction = 0.03
    available: bool = True


class Soiling(Input):
    """How dirt and salt gather on the panels after departure, and what takes them off.

    Attributes
    ----------
    per_day : float
        Light lost to a day without rain [1/d].
    at_most : float
        Where that ends [0..1].
    rain_cleans_mm : float
        Rain in 24 hours that washes the panels [mm].
    left_after : float
        What rain or a wash leaves [0..1].
    wash_every_days : float, optional
        The crew washes them so often, first after so many days [d].
    """

    per_day: Fraction = 0.002  # 1/d, dust ashore: Kimber et al. 2006, doi:10.1109/WCPEC.2006.279690 (recalled)
    at_most: Fraction = 0.08  # 1, a film of salt (common practice)
    rain_cleans_mm: Annotated[
        Finite, Between(0.1, 500.0, "a drizzle to a week's downpour", "Is it in millimetres?")
    ] = 5.0  # mm, Kimber et al. 2006 (recalled)
    left_after: Fraction = 0.01  # 1, what water alone does not move (common practice)
    wash_every_days: Annotated[Finite, Between(0.1, 3650.0, "every watch to never", "Is it in days?")] | None = None
