"""How the boat is sailed and steered, and the small tables that say so."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from planner.domain.inputs.fields import (
    PART,
    Angle,
    Between,
    BoatSpeed,
    Finite,
    Fraction,
    Input,
    Roll,
    Usual,
    ValuesBetween,
    WindSpeed,
    as_many,
    refuse,
    rising,
)


class AngleTable(Input):
    """A figure that depends on an apparent or true wind angle, read linearly between rows and held at the ends.

    Attributes
    ----------
    angle_deg : tuple of float
        Size of the wind angle off the bow, rising [degree], 0..180.
    value : tuple of float
        The figure at each angle, in the units that its key names.
    """

    angle_deg: tuple[Angle, ...] = Field(min_length=1)
    value: tuple[Finite, ...] = Field(min_length=1)

    @field_validator("angle_deg")
    @classmethod
    def _angles_rise(cls, angles: tuple[float, ...]) -> tuple[float, ...]:
        return rising(angles, "wind angles")

    @field_validator("value")
    @classmethod
    def _one_an_angle(cls, value: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        as_many(value, info.data.get("angle_deg"), "wind angles")
        return value


class WindTable(Input):
    """A figure that depends on a wind speed, apparent unless its key says true, read linearly and held at the ends.

    Attributes
    ----------
    wind_kn : tuple of float
        Wind speed, rising [kn].
    value : tuple of float
        The figure at each speed, in the units that its key names.
    """

    wind_kn: tuple[WindSpeed, ...] = Field(min_length=1)
    value: tuple[Finite, ...] = Field(min_length=1)

    @field_validator("wind_kn")
    @classmethod
    def _winds_rise(cls, winds: tuple[float, ...]) -> tuple[float, ...]:
        return rising(winds, "wind speeds")

    @field_validator("value")
    @classmethod
    def _one_a_wind(cls, value: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        as_many(value, info.data.get("wind_kn"), "wind speeds")
        return value


class Polar(Input):
    """Boat speed by true wind angle and true wind speed over the water.

    Attributes
    ----------
    true_wind_speed_kn : tuple of float
        Columns, rising [kn].
    true_wind_angle_deg : tuple of float
        Rows, rising [degree], 0..180.
    speed_kn : tuple of tuple of float
        Boat speed, one row an angle [kn].
    """

    true_wind_speed_kn: tuple[WindSpeed, ...] = Field(min_length=2)
    true_wind_angle_deg: tuple[Angle, ...] = Field(min_length=2)
    speed_kn: tuple[tuple[BoatSpeed, ...], ...] = Field(min_length=2)

    @field_validator("true_wind_speed_kn")
    @classmethod
    def _winds_rise(cls, winds: tuple[float, ...]) -> tuple[float, ...]:
        return rising(winds, "wind speeds")

    @field_validator("true_wind_angle_deg")
    @classmethod
    def _angles_rise(cls, angles: tuple[float, ...]) -> tuple[float, ...]:
        return rising(angles, "wind angles")

    @field_validator("speed_kn")
    @classmethod
    def _no_holes(cls, rows: tuple[tuple[float, ...], ...], info: ValidationInfo) -> tuple[tuple[float, ...], ...]:
        winds, angles = info.data.get("true_wind_speed_kn"), info.data.get("true_wind_angle_deg")
        as_many(rows, angles, "wind angles")
        for row, angle in zip(rows, angles or (), strict=False):
            if winds is not None and len(row) != len(winds):
                problem = f"the row at {angle:g} degrees has {len(row)} speeds for {len(winds)} wind speeds."
                raise refuse(problem, "Fill the hole, or drop what is too many.")
        if not any(any(row) for row in rows):
            raise refuse("every speed is 0; the boat never sails.")
        return rows


class HoveTo(Input):
    """How the boat lies hove-to: headsail aback, helm lashed, drifting straight before the wind.

    Attributes
    ----------
    wind_angle_deg : float
        True wind off the bow [degree]; 50, as most cruising hulls lie (common practice).
    drift_share : float
        Drift through the water over true wind speed [0..1]; a knot in 25 (common practice).
    """

    wind_angle_deg: Angle = 50.0
    drift_share: Fraction = 0.04


class Anchored(Input):
    """How the boat lies at anchor: head to the wind, sails down.

    Attributes
    ----------
    boom_angle_deg : float
        Where the crew stows the boom, positive to port [degree]; 0 is in its crutch amidships.
    roll_amplitude_deg : float
        Roll [degree]; 2 in a fair anchorage (common practice).
    """

    boom_angle_deg: Annotated[Finite, Between(-120.0, 120.0, "an unstayed boom goes that far")] = 0.0
    roll_amplitude_deg: Roll = 2.0


class Sailing(Input):
    """How the boat is sailed.

    Attributes
    ----------
    polar : Polar
        Speed table; in the boat file the key may name a CSV file beside it.
    comfort_factor : float
        What the crew gets of the polar speed in a seaway [0..1].
    seaway_factor : WindTable, optional
        What a seaway leaves of that again, by true wind speed [0..1].
    motoring_speed_kn : float
        Speed through water under engine [kn]; a leg's fixed speed does not raise it.
    engine_below_kn : float
        The engine drives when sailing would be slower than this [kn]; 0 never.
    engine_below_wind_kn : float
        It drives, too, when the true wind is lighter than this [kn]; 0 never.
    engine_below_made_good_kn : float
        An engine that drives at all drives, too, when sailing would gain less ground than this toward the mark, the
        current counted, and the engine gains more [kn]; 0 only where sailing gains none. Under a knot a crew starts
        it (common practice).
    engine_margin_kn : float
        Once driving, it drives until sailing would be faster than ``engine_below_kn``, and gain more ground than
        ``engine_below_made_good_kn``, by this [kn]; a quarter of a knot keeps it from starting again at once (common
        practice).
    engine_least_min : float
        Once started to drive, it drives for so long [min]; half an hour brings it to its temperature (common
        practice).
    motorsailing : {'sails_down', 'mainsail_amid'}
        What stands under engine: nothing, or the mainsail with its boom sheeted amidships.
    board_nm : float
        Widest distance off the leg on boards, to each side [nm].
    board_h : float, optional
        Longest time on one board [h].
    tack_on_shift_deg : float
        A board ends early when the wind has shifted so far since it began and the other now makes better ground
        [degree]; 15 leaves the swings of a steady wind alone (common practice).
    gybe_downwind : bool
        Whether the boat gybes in boards where the leg lies deeper than its best running angle.
    tack_hysteresis_deg : float
        How far the wind must cross the stern before the held tack changes [degree].
    leeway_deg : AngleTable
        Size of the leeway by apparent wind angle, sails reefed for the wind as ``hoist`` says [degree].
    heel_deg : WindTable
        Size of the heel close-hauled by apparent wind speed, sails reefed as ``hoist`` says [degree].
    boom_angle_deg : AngleTable
        Size of the boom angle by apparent wind angle [degree].
    headsail_angle_deg : AngleTable
        Size of the headsail foot's angle by apparent wind angle [degree].
    hoist : WindTable
        Part of the mainsail's luff set, by apparent wind speed [0..1].
    headsail_set : WindTable
        Part of the headsail unfurled, by apparent wind speed [0..1].
    roll_amplitude_deg : AngleTable
        Roll about the mean heel by true wind angle [degree].
    wing_on_wing_beyond_deg : float
        True wind angle beyond which the headsail is poled out to windward [degree].
    hove_to : HoveTo
        How she lies hove-to.
    anchored : Anchored
        How she lies at anchor.
    """

    polar: Polar
    comfort_factor: Annotated[
        Finite,
        Between(0.01, 1.0, "she gets some of the polar, and no more", PART),
        Usual(0.5, 1.0, "what a crew gets of it"),
    ] = 0.9
    seaway_factor: Annotated[WindTable, ValuesBetween(0.0, 1.0, "parts of the polar's speed", PART)] | None = None
    motoring_speed_kn: Annotated[
        Finite,
        Between(0.5, 25.0, "a sailing yacht's hull under engine, planing ones too", "Is it in knots?"),
        Usual(2.0, 12.0, "a dinghy's outboard to a 25 m hull"),
    ] = 5.5
    engine_below_kn: Annotated[
        Finite,
        Between(0.0, 25.0, "no more than she could motor", "Is it in knots?"),
        Usual(0.0, 8.0, "an impatient crew of a fast boat"),
    ] = 3.0
    engine_below_wind_kn: WindSpeed = 0.0
    engine_below_made_good_kn: Annotated[
        Finite,
        Between(0.0, 25.0, "no more than she could motor", "Is it in knots?"),
        Usual(0.0, 6.0, "an impatient crew of a fast boat"),
    ] = 1.0
    engine_margin_kn: Annotated[
        Finite,
        Between(0.0, 10.0, "less than any wind changes", "Is it in knots?"),
        Usual(0.0, 3.0, "a lull and a puff"),
    ] = 0.25
    engine_least_min: Annotated[
        Finite, Between(0.0, 1440.0, "up to a day", "Is it in minutes?"), Usual(0.0, 240.0, "a watch")
    ] = 30.0
    motorsailing: Literal["sails_down", "mainsail_amid"] = "sails_down"
    board_nm: Annotated[
        Finite, Between(0.05, 1000.0, "up a river to across a trade wind", "Is it in nautical miles?")
    ] = 5.0
    board_h: Annotated[Finite, Between(0.05, 240.0, "minutes to ten days on one tack", "Is it in hours?")] | None = (
        None
    )
    tack_on_shift_deg: Annotated[Finite, Between(1.0, 360.0, "over 180 she never tacks so", "Is it in degrees?")] = (
        15.0
    )
    gybe_downwind: bool = False
    tack_hysteresis_deg: Annotated[Finite, Between(0.0, 90.0, "from astern to abeam", "Is it in degrees?")] = 5.0
    leeway_deg: Annotated[AngleTable, ValuesBetween(0.0, 45.0, "a boat that makes more sails no course")]
    heel_deg: Annotated[WindTable, ValuesBetween(0.0, 60.0, "beyond, she lies on her side")]
    boom_angle_deg: Annotated[AngleTable, ValuesBetween(0.0, 120.0, "an unstayed boom goes that far")]
    headsail_angle_deg: Annotated[AngleTable, ValuesBetween(0.0, 120.0, "a poled-out sail goes that far")]
    hoist: Annotated[WindTable, ValuesBetween(0.0, 1.0, "parts of the luff", PART)]
    headsail_set: Annotated[WindTable, ValuesBetween(0.0, 1.0, "parts of the headsail", PART)]
    roll_amplitude_deg: Annotated[AngleTable, ValuesBetween(0.0, 60.0, "beyond is a knockdown")]
    wing_on_wing_beyond_deg: Annotated[Finite, Between(90.0, 360.0, "over 180 she never is", "Is it in degrees?")] = (
        160.0
    )
    hove_to: HoveTo = HoveTo()
    anchored: Anchored = Anchored()

    def under_sail_alone(self) -> Sailing:
        """Return how she is sailed when nothing drives her but the wind."""
        return self.model_copy(update={"engine_below_kn": 0.0, "engine_below_wind_kn": 0.0})


class Autopilot(Input):
    """Steering: what holds the course and what it draws.

    Attributes
    ----------
    steering : {'autopilot', 'wind_vane', 'hand'}
        Only the autopilot draws power; a wind vane leaves it to run under engine.
    watts : AngleTable
        Mean draw by true wind angle, in true wind of up to 15 kn [W].
    watts_under_engine : float
        Mean draw under engine [W].
    watts_per_kn : float
        What each knot of true wind over 15 adds [W/kn]: seas grow with wind.
    """

    steering: Literal["autopilot", "wind_vane", "hand"] = "autopilot"
    watts: Annotated[
        AngleTable, ValuesBetween(0.0, 5000.0, "hydraulics of the largest", "Steering draws power, as +W.")
    ]
    watts_under_engine: Annotated[
        Finite,
        Between(0.0, 5000.0, "hydraulics of the largest", "Is it in watts?"),
        Usual(0.0, 500.0, "a 20 m yacht's hydraulics"),
    ] = 30.0
    watts_per_kn: Annotated[
        Finite,
        Between(0.0, 200.0, "5000 W in 25 kn more", "Is it in watts a knot?"),
        Usual(0.0, 20.0, "a heavy boat's pilot in a seaway"),
    ] = 0.0
