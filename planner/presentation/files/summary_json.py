"""plan.json: the plan's figures for other programs."""

from __future__ import annotations

from dataclasses import asdict, fields
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from planner.domain.policy import METER_READINGS
from planner.domain.results.own_tracks import OwnTracks
from planner.domain.results.plan import EngineWindow, Plan, Stress, WatchRow
from planner.domain.ship_clock import ShipClock, ShipOffset, offset_at
from planner.domain.utc import iso_8601
from planner.presentation.words.bill_words import TROUBLES
from planner.presentation.words.cautions import cautions_of
from planner.presentation.words.notes import all_said, said

if TYPE_CHECKING:
    import xarray as xr


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
    return {
        "departure": iso_8601(plan.passage.departure),
        "first_departure": iso_8601(plan.passage.days_from),
        "arrival": iso_8601(plan.arrival),
        "ship_offset_hours": offset_at(plan.ship_offset, plan.passage.departure).total_seconds() / 3600,
        "clock_changes": _clock_changes(plan.ship_offset),
        "fuel_aboard_l": plan.boat.engine.tank_l,
        "engine_so_far": asdict(plan.engine_so_far) if plan.engine_so_far is not None else None,
        "distance_nm": float(plan.track["distance_to_go_nm"][0]),
        "members": int(plan.ledger.sizes["member"]),
        "engine_windows": [_window(window) for window in plan.windows],
        "engine_hours": asdict(plan.engine_hours),
        "charging_hours": asdict(plan.charging_hours),
        "fuel_l": asdict(plan.fuel_l),
        "min_soc": asdict(plan.min_soc),
        "reserve_kept": asdict(plan.reserve_kept),
        "reserve_kept_on_control_track": asdict(plan.control_kept or plan.reserve_kept),
        "policy": [_watch(row) for row in plan.watches],
        "solar_wh": sum(day.solar_wh.planned for day in plan.days),
        "load_wh": sum(day.load_wh.planned for day in plan.days),
        "days": [{**asdict(day), "start": iso_8601(day.start)} for day in plan.days],
        "losses": losses(plan),
        "own_tracks": _own_tracks(plan.own_tracks) if plan.own_tracks is not None else None,
        "stresses": [_stress(stress) for stress in plan.stresses],
        "loads": [asdict(price) for price in plan.prices],
        "warnings": all_said(plan.warnings),
        "cautions": cautions_of(plan),
        "boat_file": PurePath(plan.passage.boat).name,
        "inputs": plan.input_files,
    }


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


def _clock_changes(offset: ShipOffset) -> list[dict[str, Any]]:
    """Return from which moments on ship's time is another, and what it then is less UTC; empty for a fixed clock."""
    changes = offset.changes if isinstance(offset, ShipClock) else ()
    return [{"at": iso_8601(at), "ship_offset_hours": later.total_seconds() / 3600} for at, later in changes]


def _window(window: EngineWindow) -> dict[str, Any]:
    moments = {"start": iso_8601(window.start), "stop": iso_8601(window.stop)}
    return {**asdict(window), **moments, "reason": said(window.reason)}


def _own_tracks(own: OwnTracks) -> dict[str, Any]:
    """Return the plan with every member on its own track; ``own-tracks.nc`` holds the tracks.

    ``members`` and ``arrived`` count forecasts; ``arrival`` has p10, p50 and p90, null where too few arrive, and so
    have ``min_soc``, ``min_soc_change`` (own less control's track), ``charging_hours``, ``engine_hours`` and
    ``fuel_l``; ``reserve_kept`` is the plan's; ``lost`` and ``won`` are the trials that keep the reserve on
    the control's track alone, and on the own one alone.
    """
    figures = {
        field.name: getattr(own, field.name) for field in fields(own) if field.name not in {"tracks", "arrival"}
    }
    words = {name: figure if isinstance(figure, int) else asdict(figure) for name, figure in figures.items()}
    arrival = {name: iso_8601(moment) if moment else None for name, moment in asdict(own.arrival).items()}
    return {**words, "arrival": arrival}


def _stress(stress: Stress) -> dict[str, Any]:
    begun = iso_8601(stress.begun) if stress.begun else None
    moments = {"begun": begun, "lowest_at": iso_8601(stress.lowest_at)}
    return {**asdict(stress), **moments, "trouble": TROUBLES[stress.trouble]}


def _watch(row: WatchRow) -> dict[str, Any]:
    """Give the ladder as closed bands of whole percent, so that no reading is undefined."""
    top = METER_READINGS - 1
    bands = []
    for rung in sorted(row.ladder, key=lambda rung: -rung.from_percent):
        bands.append({"from_percent": rung.from_percent, "to_percent": top, "minutes": rung.minutes})
        top = rung.from_percent - 1
    moments = {
        "start": iso_8601(row.start),
        "end": iso_8601(row.end),
        "earliest": iso_8601(row.earliest) if row.earliest else None,
        "dead": {
            "hours_left": row.dead.hours_left,
            "find_out_by": iso_8601(row.dead.find_out_by) if row.dead.find_out_by else None,
        },
    }
    return {**asdict(row), **moments, "ladder": bands, "reason": said(row.reason)}
