"""The watch bill as a table for spreadsheets, unrounded but for the ladder."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta

from planner.domain.results.bill import WatchRow
from planner.domain.results.plan import Plan
from planner.domain.ship_clock import offset_at
from planner.domain.utc import iso_8601
from planner.presentation.words.bill.sentences import deferred_words, ladder_words
from planner.presentation.words.notes import said
from planner.presentation.words.wording import plain

ISO_SHIP = "%Y-%m-%dT%H:%M:%S"


def to_csv(plan: Plan) -> str:
    """Return the bill as comma-separated values (RFC 4180), one row a watch.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        Header first. Times in UTC end in Z; those in ship's time stand beside their offset.
    """
    text = io.StringIO(newline="")
    rows = [_columns(plan, row) for row in plan.watches]
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def inert(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: an apostrophe goes before what begins like one.

    Parameters
    ----------
    text : str
        As the user's files have it; those programs read =, +, -, @, tabs and returns so (common practice).
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _columns(plan: Plan, row: WatchRow) -> dict[str, object]:
    return {
        "day": row.day,
        "start_utc": _utc(row.start),
        "end_utc": _utc(row.end),
        "start_ship": (row.start.astimezone(UTC) + plan.ship_offset).strftime(ISO_SHIP),
        "ship_offset_h": offset_at(plan.ship_offset, row.start) / timedelta(hours=1),
        "role": inert(row.role),
        "heading_magnetic_deg": f"{row.heading_magnetic_deg:.1f}",
        "true_wind_from_deg": f"{row.wind_from_deg:.1f}",
        "true_wind_speed_kn": f"{row.wind_kn:.1f}",
        "tack": row.tack,
        "under_engine_min": row.under_engine_min,
        "drives_in_forecasts": "" if row.drives_in is None else row.drives_in.k,
        "forecasts_within_nm": "" if row.parted_nm is None else f"{row.parted_nm:.1f}",
        "bank_soc_planned": f"{row.soc.planned:.4f}",
        "bank_soc_p10": f"{row.soc.p10:.4f}",
        "bank_soc_p90": f"{row.soc.p90:.4f}",
        "solar_wh": f"{row.solar_wh.planned:.1f}",
        "solar_wh_p10": f"{row.solar_wh.p10:.1f}",
        "solar_wh_p90": f"{row.solar_wh.p90:.1f}",
        "load_wh": f"{row.load_wh.planned:.1f}",
        "engine_min": row.engine_min,
        "earliest_utc": _utc(row.earliest),
        "ladder": ladder_words(row),
        "stop_soc_percent": row.stop.soc_percent,
        "stop_amp_hours": row.stop.amp_hours,
        "stop_tail_a": row.stop.tail_a,
        "charge_current_a": "" if row.charge_current_a is None else f"{row.charge_current_a:.1f}",
        "deferrable": inert(plain(deferred_words(row, plan.ship_offset))),
        "wake_soc_percent": row.wake_soc_percent,
        "wake_v": f"{row.wake_v:.2f}",
        "wake_a": f"{row.wake_a:.0f}",
        "wake_min": row.wake_min,
        "engine_dead_hours_left": "" if row.dead.hours_left is None else f"{row.dead.hours_left:.2f}",
        "engine_dead_find_out_by_utc": _utc(row.dead.find_out_by),
        "skip_cost_min": row.skip_cost_min,
        "reason": inert(said(row.reason)),
    }


def _utc(moment: datetime | None) -> str:
    return "" if moment is None else iso_8601(moment)
