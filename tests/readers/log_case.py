"""An invented log: a day and a half on a 12 V bank with two controllers, a line every ten minutes."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import xarray as xr

from planner.domain.inputs.log_mapping import LogMapping

CONTROLLERS = ("arch", "bimini")
SHIP = timedelta(hours=12)
START = datetime(2027, 5, 8, 22, 0, tzinfo=UTC)
HEADING = ("time", "SOC %", "bank V", "bank A", "arch W", "bimini W", "engine on")
Row = list[str]


def rows(count: int = 216, *, every_min: float = 10.0, clock: str = "%Y-%m-%dT%H:%M+12:00") -> list[Row]:
    """Lines of the log: sun by day, steady loads, the engine for an hour in the first evening."""
    made = []
    soc = 35.0
    for number in range(count):
        moment = START + SHIP + timedelta(minutes=every_min * number)  # what the ship's clock shows
        hour = moment.hour + moment.minute / 60.0
        sun = max(0.0, np.sin(np.pi * (hour - 6.0) / 12.0))
        arch, bimini = round(310.0 * sun), round(180.0 * sun)
        engine = moment.day == 9 and 18.0 <= hour < 19.0
        amps = (arch + bimini - 200.0) / 12.9 + (60.0 if engine else 0.0)
        soc += amps * every_min / 60.0 / 3.0
        volts = 12.8 + 0.002 * amps
        figures = [f"{soc:.0f}", f"{volts:.2f}", f"{amps:.1f}", f"{arch}", f"{bimini}", str(int(engine))]
        made.append([moment.strftime(clock), *figures])
    return made


def text(lines: Sequence[Row] | None = None, heading: Sequence[str] = HEADING, separator: str = ",") -> str:
    every = [list(heading), *(rows() if lines is None else lines)]
    return "".join(separator.join(cells) + "\n" for cells in every)


def column(lines: Sequence[Row], place: int, change: Callable[[str], str]) -> list[Row]:
    """The lines with one column changed."""
    return [[change(cell) if at == place else cell for at, cell in enumerate(row)] for row in lines]


def written(folder: Path, content: str | bytes, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def mapping_of(readings: xr.Dataset) -> LogMapping:
    """How the readings' logs were understood."""
    return LogMapping.model_validate(tomllib.loads(readings.attrs["mapping"]))
