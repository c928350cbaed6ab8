"""plan.json: the plan's figures for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from planner.domain.policy import METER_READINGS, StandingOrder
from planner.domain.results.bill import Card, Rung, WatchRow
from planner.domain.results.failures import FailureCard
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import ShipClock, offset_at
from planner.presentation.files.json_text import fields_of, plain
from planner.presentation.words.bill.sentences import TROUBLES
from planner.presentation.words.cautions import cautions_of

if TYPE_CHECKING:
    import xarray as xr

HOUR = timedelta(hours=1)


def summarise(plan: Plan) -> dict[str, Any]:
    """Return the figures of plan.json, which also names its set and the files of it.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict
        JSON-ready; times in UTC as ISO 8601 with Z.
    """
    offset = plan.ship_offset
    changes = offset.changes if isinstance(offset, ShipClock) else ()
    content: dict[str, Any] = plain(
        {
            "forecast_issued": plan.voyage.inputs.forecast.attrs.get("issued"),
            "departure": plan.passage.departure,
            "first_departure": plan.passage.days_from,
            "arrival": plan.arrival,
            "ship_offset_hours": offset_at(offset, plan.passage.departure) / HOUR,
            "clock_changes": [{"at": at, "ship_offset_hours": later / HOUR} for at, later in changes],
            "fuel_aboard_l": plan.boat.engine.tank_l,
            "engine_so_far": plan.engine_so_far,
            "distance_nm": float(plan.track["distance_to_go_nm"][0]),
            "members": int(plan.ledger.sizes["member"]),
            "engine_windows": plan.windows,
            "engine_hours": plan.engine_hours,
            "charging_hours": plan.charging_hours,
            "fuel_l": plan.fuel_l,
            "min_soc": plan.min_soc,
            "reserve_kept": plan.reserve_kept,
            "policy": [_watch(row) for row in plan.watches],
            "later_watches": [fields_of(row) | {"ladder": _bands(row.ladder)} for row in plan.later_watches],
            "card": None if plan.card is None else _card(plan.card),
            "without_engine": plan.without_engine,
            "standing_order": _standing(plan.policy.standing),
            "solar_wh": sum(day.solar_wh.planned for day in plan.days),
            "load_wh": sum(day.load_wh.planned for day in plan.days),
            "days": plan.days,
            "losses": losses(plan),
            "own_tracks": _own_tracks(plan.own_tracks) if plan.own_tracks is not None else None,
            "failures": _failures(plan.failures) if plan.failures is not None else None,
            "stresses": [fields_of(each) | {"trouble": TROUBLES[each.trouble]} for each in plan.stresses],
            "loads": plan.prices,
            "warnings": plan.warnings,
            "cautions": cautions_of(plan),
            "boat_file": PurePath(plan.passage.boat).name,
            "inputs": plan.voyage.inputs.files,
        }
    )
    return content


def losses(plan: Plan) -> list[dict[str, Any]]:
    """Return each panel's way from rating to bank, over the passage and by day, items in their order [Wh].

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of dict
        ``rating_wh`` less the items of ``loss_wh`` is ``bank_wh``.
    """

    def figures(part: xr.Dataset) -> dict[str, Any]:
        items = [str(item) for item in part["item"].values]
        return {
            "rating_wh": float(part["rating_wh"]),
            "loss_wh": dict(zip(items, map(float, part["loss_wh"].values), strict=True)),
            "bank_wh": float(part["bank_wh"]),
        }

    rows = []
    for name in plan.losses["panel"].values:
        panel = plan.losses.sel(panel=name)
        by_day = [{"day": int(day), **figures(panel.sel(day=day))} for day in panel["day"].values]
        rows.append({"panel": str(name), **figures(panel.sum("day")), "days": by_day})
    return rows


def _own_tracks(own: OwnTracks) -> dict[str, Any]:
    """Return the plan with every member on its own track; ``own-tracks.nc`` holds the tracks.

    ``members`` and ``arrived`` count forecasts; ``arrival`` has p10, p50 and p90, null where too few arrive, and so
    have ``arrival_soc``, ``min_soc``, ``charging_hours``, ``starts``, ``engine_hours`` and ``fuel_l``; ``as_wanted``
    and ``quiet_broken`` count k of n members: those that arrive with what was wanted, and those that charge in quiet
    hours since the reserve is near.
    """
    return fields_of(own, without=["tracks"])


def _failures(card: FailureCard) -> dict[str, Any]:
    """Return the failure card: what the plan is made without, a line a failure, and the nearest refuge by day.

    ``steps`` shed one turn of loads after the other, the first none; ``lasts`` holds hours from the start on in poor
    weather, null where reserve or light last to arrival.
    """
    return {
        "planned_with": card.planned_with,
        "lines": [fields_of(line) | {"allowed_wh_per_day": line.allowed_wh_per_day} for line in card.lines],
        "diversions": [fields_of(each) | {"nearer": each.nearer} for each in card.diversions],
    }


def _watch(row: WatchRow) -> dict[str, Any]:
    return fields_of(row) | {"ladder": _bands(row.ladder)}


def _card(card: Card) -> dict[str, Any]:
    """Return the lines of the card, and which watches of ``policy``, from 0, stand apart from it."""
    return fields_of(card) | {"lines": [fields_of(line) | {"ladder": _bands(line.ladder)} for line in card.lines]}


def _standing(order: StandingOrder | None) -> dict[str, int] | None:
    """Return at which reading the engine is started whatever the ladder says, and to which it runs [%]."""
    return {"start_percent": order.start_percent, "stop_percent": order.stop_percent} if order else None


def _bands(ladder: Sequence[Rung]) -> list[dict[str, int]]:
    """Return a ladder as closed bands of whole percent, so that no reading is undefined."""
    top = METER_READINGS - 1
    bands = []
    for rung in sorted(ladder, key=lambda rung: -rung.from_percent):
        bands.append({"from_percent": rung.from_percent, "to_percent": top, "minutes": rung.minutes})
        top = rung.from_percent - 1
    return bands
