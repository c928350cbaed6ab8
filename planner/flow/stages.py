"""The stages of the flow, each run again only when what it reads has changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from planner.domain.arrays import Floats
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.passage import Passage
from planner.domain.ship_clock import ShipOffset
from planner.domain.voyage import Course
from planner.flow.recall import Recall
from planner.simulation.clock import step_seconds, steps_by_clock
from planner.simulation.harvest.collect import collect
from planner.simulation.harvest.in_service import all_sound, in_service
from planner.simulation.ledger.bank import bank_params
from planner.simulation.ledger.demand import demand, expected_surplus_w
from planner.simulation.ledger.sources import with_other_sources
from planner.simulation.sky.forecast_calendar import extend, wind_of
from planner.simulation.sky.weather import within_reach
from planner.simulation.track.sail import sail, sail_on

if TYPE_CHECKING:
    import xarray as xr


# parts of a passage that do not move the boat; of the model only the step does
NOT_SAILED = {
    "acknowledged",
    "first_departure",
    "boat",
    "route",
    "refuge",
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
        extend,
        inputs.forecast,
        inputs.passage.departure,
        seed=model.seed,
        lone_outcomes=model.lone_outcomes,
        seen=inputs.seen_sky,
    )


def sailed(inputs: Inputs, forecast: xr.Dataset, recall: Recall) -> xr.Dataset:
    """Return the track of a passage under an extended forecast."""
    passage, boat = inputs.passage, inputs.boat
    wind = recall(wind_of, forecast)
    orders = (sailing_orders(passage), boat.sailing, inputs.route, wind)
    return recall.of(orders, sail, passage, boat, inputs.route, wind)


def course_along(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    *,
    ship_offset: ShipOffset,
    recall: Recall,
) -> Course:
    """Return what comes in and goes out along a track, with its other sources.

    Parameters
    ----------
    track, forecast : xarray.Dataset
        Sailed; extended.
    inputs : Inputs
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    recall : Recall
    """
    harvest = collected(track, forecast, inputs, recall)
    return loaded(track, harvest, inputs, ship_offset=ship_offset, recall=recall)


def loaded(
    track: xr.Dataset,
    harvest: xr.Dataset,
    inputs: Inputs,
    *,
    ship_offset: ShipOffset,
    recall: Recall,
    surplus_w: Floats | None = None,
) -> Course:
    """Return the course along a track of what was collected there.

    Parameters
    ----------
    track, harvest : xarray.Dataset
    inputs, ship_offset, recall
        As for ``course_along``.
    surplus_w
        As ``demand`` has it: the members' own when None.
    """
    demand = demanded(track, harvest, ship_offset, inputs, recall, surplus_w=surplus_w)
    return Course(supplied(track, ship_offset, inputs, recall), harvest, demand)


def own_courses(
    control: Course, forecast: xr.Dataset, inputs: Inputs, *, ship_offset: ShipOffset, members: Sequence[int]
) -> tuple[Course, ...]:
    """Return members' courses on the tracks that they sail by their own wind and current.

    Loads that can wait go where the bill, drawn for the control's track, has them. A member is followed as far as
    the forecast serves it.

    Parameters
    ----------
    control : Course
        Of the members that are planned on, along the control's track.
    forecast, inputs, ship_offset
        As for ``course_along``.
    members : sequence of int
        Which, by position in the forecast.
    """
    lit = []
    for member in members:
        wind = wind_of(forecast, member=member)
        track = within_reach(sail_on(inputs.passage, inputs.boat, inputs.route, wind), forecast)
        lit.append((track, collected(track, forecast, inputs, Recall(), (member,))))
    return own_loads(control, lit, inputs, ship_offset=ship_offset)


def own_loads(
    control: Course, lit: Iterable[tuple[xr.Dataset, xr.Dataset]], inputs: Inputs, *, ship_offset: ShipOffset
) -> tuple[Course, ...]:
    """Return members' courses by their tracks and harvests, loads that can wait placed as the bill has them.

    Parameters
    ----------
    control, inputs, ship_offset
        As for ``own_courses``.
    lit : iterable of (xarray.Dataset, xarray.Dataset)
        Track and harvest of each member.
    """
    expected_w = expected_surplus_w(control.harvest, control.demand, inputs.boat.load)

    def course(track: xr.Dataset, harvest: xr.Dataset) -> Course:
        same_time = steps_by_clock(track.sizes["time"], expected_w.size, step_s=step_seconds(track))
        return loaded(
            track, harvest, inputs, ship_offset=ship_offset, recall=Recall(), surplus_w=expected_w[same_time]
        )

    return tuple(course(track, harvest) for track, harvest in lit)


def collected(
    track: xr.Dataset,
    forecast: xr.Dataset,
    inputs: Inputs,
    recall: Recall,
    outcomes: Sequence[int] | None = None,
) -> xr.Dataset:
    """Return what the boat's controllers could deliver along a track."""
    boat, model = inputs.boat, inputs.passage.model
    panels, controllers = all_sound(boat.panel, boat.controller)
    harvest = recall(
        collect,
        track,
        forecast,
        rig=boat.rig,
        panels=panels,
        controllers=controllers,
        soiling=boat.soiling,
        bus_v=bank_params(boat.bank).absorption_v,
        points=model.points,
        roll_nodes=model.roll_nodes,
        outcomes=outcomes,
    )
    return recall(in_service, harvest, panels=boat.panel, controllers=boat.controller)


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
