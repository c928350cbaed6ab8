"""What is left, and what to do, when something fails."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from planner.domain.inputs.failure import Failure
from planner.domain.results.bill import Lasts
from planner.domain.results.figures import Count, Spread, Wind
from planner.domain.results.note import Note


@dataclass(frozen=True)
class ShedStep:
    """How the boat fares once some loads more are shed; the first step sheds none.

    Attributes
    ----------
    loads : tuple of str
        Shed in this step, those of the steps before it staying off.
    saves_wh_per_day : float
        What they draw [Wh/d].
    draws_wh_per_day : float
        What is left on, mean over the members [Wh/d].
    kept : Count
        Members that keep the reserve to the end of their tracks.
    lit : Count
        Members that reach landfall with all served that is left on, navigation lights and VHF among it.
    lasts : Lasts
        From the failure on, in the poor tenth of the members.
    gained_h : float
        Hours by which this step puts off lights out in the poor tenth; where no lights go out, the reserve's end.
        Below 0 where less load lets the ladders run the engine later [h].
    lit_h_per_day : float
        Hours a day in which all is served that is left on, mean over the members [h].
    charging_h : Spread
        Engine to charge by the plan's own ladders [h]; ``planned`` is the members' mean.
    """

    loads: tuple[str, ...]
    saves_wh_per_day: float
    draws_wh_per_day: float
    kept: Count
    lit: Count
    lasts: Lasts
    gained_h: float
    lit_h_per_day: float
    charging_h: Spread


@dataclass(frozen=True)
class FailureLine:
    """One failure from the start of the plan on, its ladders followed where the engine can charge.

    Attributes
    ----------
    failure : Failure
    first : Note
        What to do first, and the caution that goes with it.
    assumed : Note
        What the figures suppose.
    sun_wh_per_day : Spread
        What the sun offers the bus [Wh/d]; ``planned`` is the members' mean.
    steps : tuple of ShedStep
        As it is, then one shedding after the other, until the reserve is kept as surely as asked for and all is lit;
        empty where she does not reach her destination so.
    enough : bool
        Whether the last step does so.
    wind : {'own', 'control', 'forecast'}
        Whose wind the members sail in, as ``ReserveKept`` has it.
    later_h : float
        By which the track that is drawn arrives later [h].
    """

    failure: Failure
    first: Note
    assumed: Note
    sun_wh_per_day: Spread
    steps: tuple[ShedStep, ...]
    enough: bool
    wind: Wind
    later_h: float

    @property
    def allowed_wh_per_day(self) -> float | None:
        """Loads that may stay on [Wh/d]; None where even what is never shed draws too much."""
        return self.steps[-1].draws_wh_per_day if self.enough else None


@dataclass(frozen=True)
class Diversion:
    """The nearest port of refuge as a day of the passage begins.

    Attributes
    ----------
    day : int
        Of the passage, from 1.
    start : datetime
        UTC.
    to_go_nm : float
        Along the route [nm].
    refuge : str
        The nearest one.
    refuge_nm : float
        To it by the great circle, whatever lies between [nm].
    """

    day: int
    start: datetime
    to_go_nm: float
    refuge: str
    refuge_nm: float

    @property
    def nearer(self) -> bool:
        """Whether it is nearer than the destination."""
        return self.refuge_nm < self.to_go_nm


@dataclass(frozen=True)
class FailureCard:
    """The failure card.

    Attributes
    ----------
    planned_with : tuple of Failure
        What has failed in the plan itself.
    lines : tuple of FailureLine
        One for each thing that can fail besides.
    diversions : tuple of Diversion
        One a day; empty where the passage names no port of refuge.
    """

    planned_with: tuple[Failure, ...]
    lines: tuple[FailureLine, ...]
    diversions: tuple[Diversion, ...]
