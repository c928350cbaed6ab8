"""What each load costs in engine time."""

from __future__ import annotations

import numpy as np

from planner.domain.results.plan import LoadPrice
from planner.domain.voyage import Voyage
from planner.physics.bank import bank_step
from planner.simulation.ledger.bank import alternator_limit_w, bank_params
from planner.simulation.track.under_sail import under_sail

WATCH_H = 4.0  # h, the watch that prices are quoted for
HALF_FULL = 0.5  # 1, SOC at which they are quoted
LEAST_CHARGING_W = 1e-9  # W, below which the alternator is said not to charge


def load_prices(voyage: Voyage) -> tuple[LoadPrice, ...]:
    """Return the price of each load: four hours of it over what an hour of engine stores in a half-full bank.

    The alternator carries the passage's mean load meanwhile, and the sun is left out. The price is a whole watch of
    engine at most: there, or where the alternator cannot charge at all, the load cannot be paid for.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    tuple of LoadPrice
        The dearest first.
    """
    stored_w = charging_power_w(voyage)
    order = {load.name: load.shed_order for load in voyage.boat.load}
    mean_w = voyage.demand["load_item_power_w"].mean("time").values
    prices = [
        LoadPrice(
            name=str(name),
            wh_per_day=24.0 * float(watts),
            engine_min_per_watch=_minutes(WATCH_H * float(watts), stored_w),
            shed_order=order.get(str(name)),
        )
        for name, watts in zip(voyage.demand["load"].values, mean_w, strict=True)
    ]
    return tuple(sorted(prices, key=lambda price: -price.wh_per_day))


def charging_power_w(voyage: Voyage) -> float:
    """Return what the engine stores in a half-full bank while it carries the mean load [W]."""
    running = voyage.boat.engine.model_copy(update={"available": True})  # a price, even while it is out of service
    alternator_w = float(np.median(alternator_limit_w(under_sail(voyage.track), running, voyage.boat.bank)))
    demand_w = float(voyage.planned_demand_w.mean())
    step = bank_step(HALF_FULL, 0.0, alternator_w, 0.0, demand_w, voyage.step_s, bank_params(voyage.boat.bank))
    return float(step.stored_w)


def _minutes(energy_wh: float, stored_w: float) -> float:
    if stored_w <= LEAST_CHARGING_W:
        return WATCH_H * 60.0 if energy_wh > 0.0 else 0.0
    return min(60.0 * energy_wh / stored_w, WATCH_H * 60.0)
