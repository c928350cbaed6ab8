"""A plan written earlier, read back from its folder."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from planner.domain.errors import Fault, InputError
from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.replan import LastLadder, LastPlan
from planner.domain.ship_clock import clock_from
from planner.readers.plan_folder import HINT, read_with_plan

HOURLY = "hourly.csv"


def read_last_plan(folder: Path) -> LastPlan:
    """Read the parts of a written plan that a later one is compared with.

    Parameters
    ----------
    folder : Path
        As ``plan --out`` wrote it.

    Returns
    -------
    LastPlan

    Raises
    ------
    InputError
        When there is no whole set of files, its format is another, or the hourly rows are not those of the plan.
    """
    plan, content = read_with_plan(folder, HOURLY)
    try:
        return _last_plan(plan, list(csv.DictReader(content.decode("utf-8").splitlines())))
    except (KeyError, ValueError, TypeError, AttributeError, OverflowError, csv.Error) as error:
        raise InputError([Fault(str(folder), "", f"it is no plan of this program: {error}.", HINT)]) from error


def _last_plan(plan: dict[str, Any], rows: list[dict[str, str]]) -> LastPlan:
    def column(name: str) -> tuple[float, ...]:
        return tuple(float(row[name]) for row in rows)

    windows, before, standing = plan["engine_windows"], plan.get("engine_so_far"), plan["standing_order"]
    return LastPlan(
        time=tuple(_moment(row["time"]) for row in rows),
        lat=column("lat"),
        lon=column("lon"),
        soc=column("planned_bank_soc"),
        soc_p10=column("bank_soc_p10"),
        soc_p90=column("bank_soc_p90"),
        solar_w=column("planned_solar_power_w"),
        load_w=column("planned_load_power_w"),
        engine_on=column("planned_engine_on"),
        arrival=_moment(plan["arrival"]),
        windows=tuple((_moment(run["start"]), _moment(run["stop"]), float(run["fuel_l"])) for run in windows),
        charging=tuple((_moment(run["start"]), _moment(run["stop"])) for run in windows if not run["propels"]),
        ladders=(
            *(_ladder(watch, watch["stop"]["soc_percent"]) for watch in plan["policy"]),
            *(_ladder(watch, watch["stop_percent"]) for watch in plan["later_watches"]),
        ),
        standing=(int(standing["start_percent"]), int(standing["stop_percent"])) if standing else None,
        ship_offset=clock_from(
            plan["ship_offset_hours"],
            (
                (_moment(change["at"]), float(change["ship_offset_hours"]))
                for change in plan.get("clock_changes", ())  # an older plan has none
            ),
        ),
        fuel_aboard_l=plan.get("fuel_aboard_l"),
        engine_so_far=EngineSoFar(**before) if before else None,
    )


def _ladder(watch: dict[str, Any], stop_percent: int) -> LastLadder:
    rungs = tuple((int(band["from_percent"]), int(band["minutes"])) for band in watch["ladder"])
    return LastLadder(_moment(watch["start"]), _moment(watch["end"]), rungs, int(stop_percent))


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)
