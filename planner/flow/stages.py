"""The stages of the flow, each run again only when what it reads has changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.domain.arrays import Floats
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage
from planner.domain.ship_clock import ShipOffset
from planner.flow.recall import Recall
from planner.simulation.harvest.collect import collect
from planner.simulation.ledger.demand import demand
from planner.simulation.ledger.simulate import bank_params
from planner.simulation.ledger.sources import with_other_sources
from planner.simulation.sky.forecast_calendar import extend, wind_of
from planner.simulation.track.sail import sail

if TYPE_CHECKING:
    import xarray as xr


# parts of a passage that do not move the boat; of the model only the step does
NOT_SAILED = {
    "first_departure",
    "boat",
    "route",
    "forecast",
    "sunlight_given",
    "weather",
    "start",
    "watches",
    "watchkeepers",
    "wishes",
    "ship_time",
    "model",
}


def extended(inputs: Inputs, recall: Recall) -> xr.Dataset:
    """Return the forecast with what lies beyond it and with its doubt."""
    model = inputs.passage.model
    return recall(
        extend, inputs.forecast, inputs.passage.departure, seed=model.seed, lone_outcomes=model.lone_outcomes
    )


def sailed(inputs: Inputs, forecast: xr.Dataset, recall: Recall) -> xr.Dataset:
    """Return the track of a passage under an extended forecast."""
    passage, boat = inputs.passage, inputs.boat
    wind = recall(wind_of, forecast)
    orders = (sailing_orders(passage), boat.sailing_now, inputs.route, wind)
    return recall.of(orders, sail, passage, boat, inputs.route, wind)


def flow_along(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    *,
    ship_offset: ShipOffset,
    recall: Recall,
    outcomes: Sequence[int] | None = None,
    surplus_w: Floats | None = None,
) -> tuple[xr.Dataset, xr.Dataset, xr.Dataset]:
    """Return what comes in and goes out along a track: the track with its other sources, harvest and demand.

    Parameters
    ----------
    track, forecast : xarray.Dataset
        Sailed; extended.
    inputs : Inputs
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    recall : Recall
    outcomes, surplus_w
        As ``collect`` and ``demand`` have them: all members, and their own surplus, when None.
    """
    harvest = collected(track, forecast, inputs, recall, outcomes)
    demand = demanded(track, harvest, ship_offset, inputs, recall, surplus_w=surplus_w)
    return supplied(track, ship_offset, inputs, recall), harvest, demand


def collected(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    recall: Recall,
    outcomes: Sequence[int] | None = None,
) -> xr.Dataset:
    """Return what the boat's controllers could deliver along a track."""
    boat, model = inputs.boat, inputs.passage.model
    return recall(
        collect,
        track,
        forecast,
        rig=boat.rig,
        panels=boat.panel,
        controllers=boat.controller,
        soiling=boat.soiling,
        bus_v=bank_params(boat.bank).absorption_v,
        points=model.points,
        roll_nodes=model.roll_nodes,
        outcomes=outcomes,
    )


def demanded(
    track: xr.Dataset,
    harvest: xr.Dataset,
    ship_offset: ShipOffset,
    inputs: Inputs,
    recall: Recall,
    *,
    surplus_w: Floats | None = None,
) -> xr.Dataset:
    """Return what the loads ask for along a track, placed by its own surplus where none is given."""
    passage, boat = inputs.passage, inputs.boat
    return recall(
        demand,
        track,
        harvest,
        loads=boat.load,
        autopilot=boat.autopilot,
        controllers=boat.controller,
        nominal_v=boat.bank.nominal_v,
        watches=passage.watches,
        watchkeepers=passage.watchkeepers,
        ship_offset=ship_offset,
        inverter=boat.inverter,
        secondary_banks=boat.secondary_bank,
        surplus_w=surplus_w,
    )


def supplied(track: xr.Dataset, ship_offset: ShipOffset, inputs: Inputs, recall: Recall) -> xr.Dataset:
    """Return a track with what generators and chargers offer along it."""
    boat = inputs.boat
    return recall(
        with_other_sources, track, generators=boat.generator, chargers=boat.charger, ship_offset=ship_offset
    )


def sailing_orders(passage: Passage) -> tuple[object, ...]:
    """Return the parts of a passage that may decide where the boat is when: all but those that never do."""
    parts = tuple((name, getattr(passage, name)) for name in type(passage).model_fields if name not in NOT_SAILED)
    return parts, passage.model.step_min
