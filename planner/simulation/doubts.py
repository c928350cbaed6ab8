"""What is legal but beyond any boat: figures outside what is usual, and pairs that cannot be."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.fields import Range
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.ranges import figures_of
from planner.domain.results.note import Note
from planner.domain.units import M_S_PER_KN
from planner.simulation.harvest.fit import panels_meet
from planner.simulation.ledger.bank import bank_params

if TYPE_CHECKING:
    import xarray as xr

BEST_CELLS_W_M2: Final = 250.0  # W/m2, of a panel at 1000 W/m2 and 25 %, better than any that is sold
HURRICANE_KN: Final = 64.0  # kn, Beaufort 12
MAST_OVER_LENGTH: Final = (0.7, 2.0)  # 1, height of a mast over the hull's length (common practice)
OVERHANG_M: Final = 2.0  # m, how far beside or beyond the hull gear may carry a panel
CANNOT_BE: Final = 1e9  # stands before every figure that is merely unusual


class Doubt(NamedTuple):
    """A warning before planning: how far beyond belief it is, the key that it is about, and what is said."""

    how_far: float
    key: str
    note: Note


def doubts(boat: Boat, passage: Passage, forecast: xr.Dataset) -> tuple[Note, ...]:
    """Return warnings of an input that is legal, the worst first; none of those that the passage acknowledges.

    Parameters
    ----------
    boat, passage
        As read, and found consistent.
    forecast : xarray.Dataset
        The glossary's.

    Returns
    -------
    tuple of Note
        Each with the figure ``key``, by which it is acknowledged.
    """
    found = [
        *_unusual(boat, passage),
        *_panel_doubts(boat),
        *_electric_doubts(boat),
        *_hull_doubts(boat),
        *_wind_doubts(forecast),
    ]
    known = set(passage.acknowledged)
    idle = sorted(known - {doubt.key for doubt in found})
    worst_first = sorted(found, key=lambda doubt: -doubt.how_far)
    return (
        *(doubt.note for doubt in worst_first if doubt.key not in known),
        *(Note("acknowledged_idle", {"key": key}) for key in idle),
    )


def _unusual(boat: Boat, passage: Passage) -> Iterator[Doubt]:
    """Yield every figure of both files that is beyond what its field calls usual."""
    for key, given, usual in (*figures_of(passage), *figures_of(boat, "boat.")):
        if not usual.holds(given):
            about = {"key": key, "given": given, "low": usual.low, "high": usual.high, "reason": usual.reason}
            yield Doubt(_how_far(given, usual), key, Note("unusual", about))


def _how_far(given: float, usual: Range) -> float:
    """Return how far beyond its range a figure is, in widths of the range."""
    return max(usual.low - given, given - usual.high) / (usual.high - usual.low)


def _panel_doubts(boat: Boat) -> Iterator[Doubt]:
    """Yield panels that give more than their size can, and those that go through each other."""
    for panel in boat.panel:
        most_w = BEST_CELLS_W_M2 * panel.length_m * panel.width_m
        if panel.max_power_w > most_w:
            key = f"boat.panel.{panel.name}.max_power_w"
            about = {"key": key, "given_w": panel.max_power_w, "most_w": most_w}
            yield Doubt(CANNOT_BE, key, Note("panel_too_strong", about))
    for one, other in combinations(boat.panel, 2):
        if panels_meet(one, other):
            key = f"boat.panel.{other.name}.centre_m"
            yield Doubt(CANNOT_BE, key, Note("panels_meet", {"key": key, "one": one.name, "other": other.name}))


def _electric_doubts(boat: Boat) -> Iterator[Doubt]:
    """Yield chargers that give more than the bank takes, and loads that the inverter cannot carry."""
    limit_a, volts = bank_params(boat.bank).charge_limit_a, float(boat.bank.nominal_v)
    engine = boat.engine
    regulated_a = engine.alternator_a if engine.regulator_limit_a is None else engine.regulator_limit_a
    offered = {"boat.engine.alternator_a": min(engine.alternator_a, regulated_a) if engine.available else 0.0}
    offered |= {f"boat.charger.{charger.name}.output_w": charger.output_w / volts for charger in boat.charger}
    for key, amps in offered.items():
        if 0.0 < limit_a < amps:
            about = {"key": key, "given_a": amps, "limit_a": limit_a}
            yield Doubt(amps / limit_a, key, Note("charger_over_bank", about))
    rated_w = boat.inverter.rated_w if boat.inverter is not None else None
    drawn_w = sum(
        (load.watts if load.watts is not None else (load.amps or 0.0) * volts) for load in boat.load if load.ac
    )
    if rated_w is not None and drawn_w > rated_w:
        key = "boat.inverter.rated_w"
        yield Doubt(
            drawn_w / rated_w, key, Note("loads_over_inverter", {"key": key, "drawn_w": drawn_w, "rated_w": rated_w})
        )


def _hull_doubts(boat: Boat) -> Iterator[Doubt]:
    """Yield what does not go with the size of the hull: masts, and panels that lie off it."""
    mast_m = max(boat.rig.i_m, boat.rig.boom_height_m + boat.rig.p_m)
    low, high = (share * boat.length_m for share in MAST_OVER_LENGTH)
    if not low <= mast_m <= high:
        about = {"key": "boat.length_m", "mast_m": mast_m, "length_m": boat.length_m}
        yield Doubt(CANNOT_BE, "boat.length_m", Note("mast_and_hull", about))
    for panel in boat.panel:
        x, y, _ = panel.centre_m
        off_m = max(abs(x) - boat.length_m, abs(y) - boat.beam_m / 2.0)
        if off_m > OVERHANG_M:
            key = f"boat.panel.{panel.name}.centre_m"
            yield Doubt(CANNOT_BE, key, Note("panel_off_hull", {"key": key, "off_m": off_m}))


def _wind_doubts(forecast: xr.Dataset) -> Iterator[Doubt]:
    """Yield a wind of the forecast that blows nowhere a yacht would go."""
    if "wind_east_m_s" not in forecast:
        return
    speed = np.hypot(forecast["wind_east_m_s"].to_numpy(), forecast["wind_north_m_s"].to_numpy()) / M_S_PER_KN
    most_kn = float(np.nanmax(speed, initial=0.0))
    if most_kn > HURRICANE_KN:
        about = {"key": "forecast", "most_kn": most_kn, "limit_kn": HURRICANE_KN}
        yield Doubt(most_kn / HURRICANE_KN, "forecast", Note("wind_beyond", about))
