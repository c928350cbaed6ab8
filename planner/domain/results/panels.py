"""What the study of panels finds."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.results.figures import Spread, spread_words
from planner.domain.results.note import Note
from planner.domain.shown import Shown


@dataclass(frozen=True)
class LossAccount:
    """From a panel's rating to the bank over the passage, mean over members; the items add up.

    Attributes
    ----------
    rating_wh : float
        Rated power from sunrise to sunset [Wh].
    items : tuple of (str, float)
        What each takes of it, in order; negative gives [Wh].
    bank_wh : float
        What is left at the bank's bus [Wh].
    """

    rating_wh: float
    items: tuple[tuple[str, float], ...]
    bank_wh: float


@dataclass(frozen=True)
class PanelWorth:
    """What one panel brings, and costs in deck space and mass.

    Attributes
    ----------
    name : str
        Of the panel or the place.
    account : LossAccount or None
        Of a panel aboard.
    yield_wh : Spread
        At the bus over the passage, whether or not a full bank took it [Wh].
    saves_charging_h : Spread or None
        Hours of charging without it less hours with it, each planned anew [h].
    wh_per_day_m2, wh_per_day_kg : float or None
        Planned yield a day over area and over mass [Wh/(d m2), Wh/(d kg)].
    failure : str
        Why it could not be tried; empty when it could.
    difference_wh : Spread or None
        What the boat's controllers could deliver with it, less without it, member by member [Wh].
    wiring : tuple of Note
        Strings that are made anew without it, or with it, and panels that then lie idle.
    """

    name: str
    account: LossAccount | None
    yield_wh: Spread | None
    saves_charging_h: Spread | None
    wh_per_day_m2: float | None
    wh_per_day_kg: float | None
    failure: str = ""
    difference_wh: Spread | None = None
    wiring: tuple[Note, ...] = ()


@dataclass(frozen=True)
class PairWiring:
    """Two panels in series on one controller against each on its own.

    Attributes
    ----------
    first, second : str
        The panels.
    wired_now : str
        How they are wired: 'series', 'parallel' or 'apart'.
    series_wh, own_wh : Spread or None
        At the bus over the passage [Wh].
    gain_wh : Spread or None
        Own less series, member by member [Wh].
    failure, own_failure : str
        Why series, and why each on its own, cannot be; empty when it can.
    """

    first: str
    second: str
    wired_now: str
    series_wh: Spread | None
    own_wh: Spread | None
    gain_wh: Spread | None
    failure: str = ""
    own_failure: str = ""


@dataclass(frozen=True, repr=False)
class PanelStudy(Shown):
    """Which panel earns its place.

    Attributes
    ----------
    days : float
        Length of the passage [d].
    aboard : tuple of PanelWorth
        In boat order.
    together_save_h : Spread
        Hours of charging with no panel lit less hours with all [h].
    pairs : tuple of PairWiring
        Pairs of like panels.
    next_rating_w : float
        Rating tried on the places [W].
    places : tuple of PanelWorth
        The most saving first.
    sums : Note
        The hours of the panels, summed, beside ``together_save_h``, and why they differ.
    """

    days: float
    aboard: tuple[PanelWorth, ...]
    together_save_h: Spread
    pairs: tuple[PairWiring, ...]
    next_rating_w: float
    places: tuple[PanelWorth, ...]
    sums: Note

    def headline(self) -> str:
        """Return what is looked at."""
        return (
            f"{len(self.aboard)} panels, {len(self.pairs)} pairs, {len(self.places)} places over {self.days:.1f} days"
        )

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return yield and saved hours of each panel and place."""
        return tuple((worth.name, _worth_words(worth)) for worth in (*self.aboard, *self.places))


def _worth_words(worth: PanelWorth) -> str:
    if worth.yield_wh is None or worth.saves_charging_h is None:
        return worth.failure
    return f"{spread_words(worth.yield_wh)} Wh, saves {spread_words(worth.saves_charging_h, 1)} h of charging"
