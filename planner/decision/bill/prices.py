"""What each load costs in engine time."""

from __future__ import annotations

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.results.plan import LoadPrice
from planner.domain.voyage import Voyage
from planner.physics.bank import bank_step
from planner.simulation.ledger.bank import alternator_limit_w, bank_params
from planner.simulation.ledger.demand import rated_draw_w
from planner.simulation.track.under_sail import under_sail

HALF_FULL = 0.5  # 1, SOC at which they are quoted
LEAST_CHARGING_W = 1e-9  # W, below which the alternator is said not to charge
HOUR_MIN = 60.0
DAY_H = 24.0


def load_prices(voyage: Voyage) -> tuple[LoadPrice, ...]:
    """Return the price of each load: what it takes over what a minute of engine stores in a half-full bank.

    The alternator carries the passage's mean load meanwhile, and the sun is left out. An hour costs an hour of engine
    at most, a day a day: there, or where the alternator cannot charge at all, the load cannot be paid for.

    Parameters
    ----------
    voyage : Voyage

    Returns
    -------
    tuple of LoadPrice
        The dearest first.
    """
    stored_w = charging_power_w(voyage)
    boat = voyage.boat
    loads = {load.name: load for load in boat.load}
    drawn_w = voyage.demand["load_item_power_w"].transpose("load", "time").values

    def price(name: str, drawn: Floats) -> LoadPrice:
        load = loads.get(name)
        rated_w = rated_draw_w(load, boat.bank.nominal_v, boat.inverter) if load else _while_on(drawn)
        mean_w = float(drawn.mean())
        return LoadPrice(
            name=name,
            wh_per_day=DAY_H * mean_w,
            engine_min_per_hour=_minutes(1.0, rated_w, stored_w),
            engine_min_per_day=_minutes(DAY_H, mean_w, stored_w),
            shed_order=load.shed_order if load else None,
        )

    prices = [price(str(name), drawn) for name, drawn in zip(voyage.demand["load"].values, drawn_w, strict=True)]
    return tuple(sorted(prices, key=lambda each: -each.wh_per_day))


def charging_power_w(voyage: Voyage) -> float:
    """Return what the engine stores in a half-full bank while it carries the mean load [W]."""
    running = voyage.boat.engine.model_copy(update={"available": True})  # a price, even while it is out of service
    alternator_w = float(np.median(alternator_limit_w(under_sail(voyage.track), running, voyage.boat.bank)))
    demand_w = float(voyage.planned_demand_w.mean())
    step = bank_step(
        HALF_FULL, 0.0, alternator_w, 0.0, demand_w, voyage.step_s, bank_params(voyage.boat.bank), np.inf, 0.0
    )
    return float(step.stored_w)


def _while_on(drawn_w: Floats) -> float:
    """Return the mean draw while there is one [W]."""
    return float(drawn_w[drawn_w > 0.0].mean()) if np.any(drawn_w > 0.0) else 0.0


def _minutes(hours: float, watts: float, stored_w: float) -> float:
    most = HOUR_MIN * hours
    if stored_w <= LEAST_CHARGING_W:
        return most if watts > 0.0 else 0.0
    return min(most * watts / stored_w, most)
