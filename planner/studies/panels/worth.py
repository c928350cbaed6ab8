"""What each panel brings, what is lost on the way, and what the next one would bring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.place import Place
from planner.domain.inputs.power import Controller, Panel
from planner.domain.results.note import Note
from planner.domain.results.panels import LossAccount, PanelWorth
from planner.domain.results.plan import Plan
from planner.studies.boats import controller_of
from planner.studies.figures import Outcome, difference_of, spread_of
from planner.studies.wiring import reasons

SAME_H: Final = 0.25  # h of engine that are no difference worth a reason
SIZE_SLACK_M: Final = 0.005  # m, rounding of a data sheet's size
NEW_CONTROLLER: Final = "for the next panel"


def loss_accounts(plan: Plan) -> tuple[LossAccount, ...]:
    """Return where each panel's rating goes on its way to the bank over the whole passage, from the plan's account.

    Parameters
    ----------
    plan : Plan
        Of the boat as she is.

    Returns
    -------
    tuple of LossAccount
        In boat order.
    """
    whole = plan.losses.sum("day")
    items = [str(item) for item in whole["item"].values]
    return tuple(
        LossAccount(
            rating_wh=float(whole["rating_wh"].values[index]),
            items=tuple(zip(items, (float(loss) for loss in whole["loss_wh"].values[index]), strict=True)),
            bank_wh=float(whole["bank_wh"].values[index]),
        )
        for index in range(whole.sizes["panel"])
    )


def at_bus_wh(plan: Plan) -> tuple[Floats, Floats]:
    """Return what of each panel could reach the bus, and what the bus took, (member + 1, panel) [Wh].

    A controller's output is shared among its panels by what they make in each step, none to one that takes from its
    string; the last row is that of the members' mean weather.
    """
    harvest = plan.harvest
    step_h = plan.voyage.step_h
    panel_w, controller_w = harvest["panel_power_w"].values, harvest["controller_power_w"].values
    offered = np.zeros_like(panel_w)
    names = [panel.name for panel in plan.boat.panel]
    for place, controller in enumerate(plan.boat.controller):
        wired = [names.index(name) for string in controller.strings for name in string]
        made = np.maximum(panel_w[:, :, wired], 0.0)
        total = made.sum(axis=2, keepdims=True)
        part = np.divide(made, total, out=np.zeros_like(made), where=total > 0.0)
        offered[:, :, wired] = part * controller_w[:, :, place, None]
    all_w = controller_w.sum(axis=2)
    taken_w = plan.ledger["solar_power_w"].values
    share = np.divide(taken_w, all_w, out=np.ones_like(all_w), where=all_w > 0.0)
    mean_w = all_w.mean(axis=0)
    planned_w = plan.planned["solar_power_w"].values[0]
    planned_share = np.divide(planned_w, mean_w, out=np.ones_like(mean_w), where=mean_w > 0.0)
    return (
        np.concatenate([offered.sum(axis=1), offered.mean(axis=0).sum(axis=0)[None]]) * step_h,
        np.concatenate(
            [
                (offered * share[:, :, None]).sum(axis=1),
                (offered.mean(axis=0) * planned_share[:, None]).sum(axis=0)[None],
            ]
        )
        * step_h,
    )


def worth_aboard(plan: Plan, base: Outcome, without: Sequence[Outcome]) -> tuple[PanelWorth, ...]:
    """Return the worth of each panel aboard.

    Parameters
    ----------
    plan : Plan
        Of the boat as she is.
    base : Outcome
        Of the same plan.
    without : sequence of Outcome
        Of the boat without each panel, in boat order, planned anew; empty when there is one panel.
    """
    offered, _ = at_bus_wh(plan)
    days = float(base.passage_h[-1]) / 24.0
    accounts = loss_accounts(plan)
    rows = []
    for index, panel in enumerate(plan.boat.panel):
        yield_wh = spread_of(offered[:, index])
        rows.append(
            PanelWorth(
                name=panel.name,
                account=accounts[index],
                yield_wh=yield_wh,
                saves_charging_h=difference_of(without[index], base, "charging_h") if without else None,
                difference_wh=difference_of(base, without[index], "offered_wh") if without else None,
                wiring=without[index].wiring if without else (),
                wh_per_day_m2=yield_wh.planned / days / (panel.length_m * panel.width_m),
                wh_per_day_kg=yield_wh.planned / days / panel.mass_kg if panel.mass_kg else None,
            )
        )
    return tuple(rows)


def worth_of_place(place: Place, plan: Plan, outcome: Outcome, base: Outcome) -> PanelWorth:
    """Return the worth of one panel more on a place.

    Parameters
    ----------
    place : Place
        Where it lies.
    plan : Plan
        Of the boat with it, the last panel.
    outcome, base : Outcome
        Of that plan and of the boat as she is.
    """
    panel = plan.boat.panel[-1]
    offered, _ = at_bus_wh(plan)
    days = float(outcome.passage_h[-1]) / 24.0
    yield_wh = spread_of(offered[:, -1])
    return PanelWorth(
        name=place.name,
        account=None,
        yield_wh=yield_wh,
        saves_charging_h=difference_of(base, outcome, "charging_h"),
        difference_wh=difference_of(outcome, base, "offered_wh"),
        wiring=outcome.wiring,
        wh_per_day_m2=yield_wh.planned / days / (panel.length_m * panel.width_m),
        wh_per_day_kg=yield_wh.planned / days / panel.mass_kg if panel.mass_kg else None,
    )


def why_sums_differ(base: Outcome, without: Sequence[Outcome], unlit: Outcome) -> Note:
    """Return hours of charging that each panel saves, summed, beside what all save together, and why they differ.

    Their quotient is that of the energy taken, times that of the hours that a kWh of it saves; the reason is the one
    that is farther off. All of the middle member.

    Parameters
    ----------
    base, unlit : Outcome
        Of the boat as she is, and with no panel lit.
    without : sequence of Outcome
        Of the boat without each panel.
    """
    rows_h = sum(difference_of(each, base, "charging_h").p50 for each in without)
    all_h = difference_of(unlit, base, "charging_h").p50
    rows_kwh = sum(difference_of(base, each, "solar_wh").p50 for each in without) / 1000.0
    all_kwh = difference_of(base, unlit, "solar_wh").p50 / 1000.0
    sums = Note("sums", {"rows_h": rows_h, "all_h": all_h})
    if abs(rows_h - all_h) < SAME_H or min(rows_kwh, all_kwh) <= 0.0:
        return sums
    rows_min, all_min = 60.0 * rows_h / rows_kwh, 60.0 * all_h / all_kwh
    by_energy = abs(rows_kwh - all_kwh) / all_kwh >= abs(rows_min - all_min) / max(rows_min, all_min)
    if by_energy and (rows_kwh > all_kwh) == (rows_h > all_h):
        energies = {"rows_kwh": rows_kwh, "all_kwh": all_kwh}
        why = Note("sums_counted_twice" if rows_kwh > all_kwh else "sums_turned_away", energies)
    else:
        rates = {"rows_min": rows_min, "all_min": all_min}
        why = Note("sums_bank_bridges" if rows_min < all_min else "sums_first_dear", rates)
    return replace(sums, then=(why,))


def not_worth(name: str, faults: Sequence[Fault]) -> PanelWorth:
    """Return the row of a place that cannot take the panel."""
    return PanelWorth(
        name=name,
        account=None,
        yield_wh=None,
        saves_charging_h=None,
        wh_per_day_m2=None,
        wh_per_day_kg=None,
        failure=reasons(faults),
    )


def fitted(place: Place, boat: Boat, rating_w: float) -> tuple[Panel, Controller] | Fault:
    """Return a panel of a rating for a place with a controller of its own, or why it does not fit.

    Its data sheet is that of the panel aboard whose rating is nearest: volts and build as they are; amperes, area and
    mass in proportion to the rating. It is laid whichever way fits, along the boat first.

    Parameters
    ----------
    place : Place
        Where it is to lie.
    boat : Boat
        Whose panels and controllers it resembles.
    rating_w : float
        Maximum power [W].
    """
    like = min(boat.panel, key=lambda panel: abs(panel.max_power_w - rating_w))
    scale = rating_w / like.max_power_w
    sides = like.length_m * scale**0.5, like.width_m * scale**0.5
    long, short = max(sides), min(sides)
    room = place.max_length_m + SIZE_SLACK_M, place.max_width_m + SIZE_SLACK_M
    laid = [(x, y) for x, y in ((long, short), (short, long)) if x <= room[0] and y <= room[1]]
    if not laid:
        return Fault(
            place.name,
            "",
            f"{long:.2f} by {short:.2f} m does not fit {place.max_length_m:g} by {place.max_width_m:g} m "
            f"({rating_w:g} W of the kind of '{like.name}').",
        )
    mass = like.mass_kg * scale if like.mass_kg else None
    if mass is not None and place.max_mass_kg is not None and mass > place.max_mass_kg:
        return Fault(place.name, "", f"{mass:.1f} kg is more than the {place.max_mass_kg:g} kg that it carries.")
    length, width = laid[0]
    turned = (length >= width) != (like.length_m >= like.width_m)
    panel = like.model_copy(
        update={
            "name": place.name,
            "centre_m": place.centre_m,
            "length_m": length,
            "width_m": width,
            "substrings_across": _other_side(like) if turned else like.substrings_across,
            "cells_along": like.cells_across if turned else like.cells_along,
            "cells_across": like.cells_along if turned else like.cells_across,
            "tilt_deg": place.tilt_deg,
            "tilt_toward_deg": place.tilt_toward_deg,
            "mounting": place.mounting,
            "max_power_w": rating_w,
            "max_power_a": like.max_power_a * scale,
            "short_circuit_a": like.short_circuit_a * scale,
            "age_years": 0.0,
            "measured_fraction": 1.0,
            "mass_kg": mass,
        }
    )
    pattern = controller_of(boat.controller, like.name)
    return panel, pattern.model_copy(update={"name": NEW_CONTROLLER, "strings": ((place.name,),)})


def _other_side(panel: Panel) -> str:
    """Return the side that substrings divide once the panel is turned by a quarter."""
    return "width" if panel.substrings_across == "length" else "length"
