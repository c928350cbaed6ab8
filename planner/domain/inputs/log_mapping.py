"""How a crew's log is to be read: which heading is what, whose clock it keeps, which way its amps count."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Final, Literal

from pydantic import Field, field_validator

from planner.domain.inputs.fields import InputFile, Name, refuse

Covers = Literal["instant", "since the last"]
DateOrder = Literal["year first", "day first", "month first"]
Headings = str | tuple[str, ...]
"""One heading; or several, where logs of different headings are read together."""

COLUMNS: Final = {
    "time": "date and time, or the time of day beside a column 'date'",
    "date": "the date, where it has a column of its own",
    "bank_voltage_v": "bank's volts",
    "bank_current_a": "bank's amps at the shunt",
    "meter_soc": "state of charge that the battery monitor shows",
    "meter_ah": "amp-hours that it shows, counted from full",
    "engine_on": "whether the engine runs",
}
"""What ``[columns]`` may name."""
_OFFSET = re.compile(r"([+-])(\d{1,2}):([0-5]\d)")


class LogMapping(InputFile):
    """What the headings of a log mean; what is left out is understood from the log itself.

    Attributes
    ----------
    columns : dict of str to str or tuple of str
        What it is -> heading in the log; as ``COLUMNS`` has them.
    controllers : dict of str to str or tuple of str
        Name of a controller in the boat file -> heading of its watts.
    ignore : tuple of str
        Headings to pass over.
    time_zone : str or None
        Whose time the log keeps where its times do not say: 'ship', 'utc' or an offset such as '+12:00'.
    date_order : str or None
        'year first', 'day first' or 'month first'.
    decimal : str or None
        What parts whole and decimals: '.' or ','.
    soc_as : str or None
        'percent' or 'fraction'.
    amps_positive : str or None
        Which way the bank's amps count: 'charging' or 'discharging'.
    covers : str
        What a reading stands for: the 'instant', or the mean 'since the last'.
    """

    columns: dict[str, Headings] = Field(default_factory=dict)
    controllers: dict[Name, Headings] = Field(default_factory=dict)
    ignore: tuple[str, ...] = ()
    time_zone: str | None = None
    date_order: DateOrder | None = None
    decimal: Literal[".", ","] | None = None
    soc_as: Literal["percent", "fraction"] | None = None
    amps_positive: Literal["charging", "discharging"] | None = None
    covers: Covers = "instant"

    @field_validator("columns")
    @classmethod
    def _known(cls, columns: dict[str, Headings]) -> dict[str, Headings]:
        for name in columns:
            if name not in COLUMNS:
                raise refuse(
                    f"'{name}' is nothing that is read.",
                    f"Allowed: {', '.join(COLUMNS)}; controllers' watts stand under [controllers].",
                )
        return columns

    @field_validator("time_zone")
    @classmethod
    def _zone(cls, zone: str | None) -> str | None:
        if zone not in (None, "ship", "utc") and fixed_offset(zone) is None:
            raise refuse(f"'{zone}' is no clock.", "Write 'ship', 'utc' or an offset such as '+12:00'.")
        return zone

    def headings(self) -> tuple[str, ...]:
        """Return every heading that it names, to be passed over or not."""
        named = [*self.columns.values(), *self.controllers.values()]
        return (*(each for one in named for each in as_headings(one)), *self.ignore)


def as_headings(named: Headings) -> tuple[str, ...]:
    """Return one heading or several as a tuple."""
    return (named,) if isinstance(named, str) else named


def fixed_offset(zone: str | None) -> timedelta | None:
    """Return a clock's time less UTC where the words say one that is fixed: 'utc' or '+12:00'; else None."""
    if zone == "utc":
        return timedelta()
    found = _OFFSET.fullmatch(zone or "")
    if found is None or int(found[2]) > 14:
        return None
    size = timedelta(hours=int(found[2]), minutes=int(found[3]))
    return -size if found[1] == "-" else size
