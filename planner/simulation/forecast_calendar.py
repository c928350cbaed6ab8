"""The calendar of a forecast: for each outcome and time, which member's field stands there, and of when.

Within the forecast's own times each member stands for itself. Past either end each outcome takes whole days, drawn
from the days that all members cover at the same place. The fields stay as they are: only what stands where is added.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import xarray as xr

    from planner.physics.frames import Floats
    from planner.physics.sampling import Nodes

Times = npt.NDArray[np.datetime64]
Indices = npt.NDArray[np.int64]

DAY = np.timedelta64(24, "h")
SECOND = np.timedelta64(1, "s")
SAILED = ("wind_east_m_s", "wind_north_m_s", "current_east_m_s", "current_north_m_s")


@dataclass(frozen=True, eq=False)
class _Day:
    """One drawn day: when it is, and for each outcome whose state it takes and of when."""

    labels: Times
    donors: Indices
    sources: Times


def extend(
    forecast: xr.Dataset,
    start: datetime | np.datetime64,
    end: datetime | np.datetime64 | None = None,
    *,
    seed: int,
) -> xr.Dataset:
    """Return a forecast whose calendar covers [start, end], whole days being drawn for what lies outside its times.

    Each added day is, outcome by outcome, one of the whole days that the forecast covers, of a member drawn from all,
    at the same time of day and place: the spread of the members then holds that between days, too.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    start, end : datetime or datetime64
        UTC where naive; without an end, as far past the forecast's end as it covers from the start: a passage that
        needs more is refused by ``sky_along``.
    seed : int
        Of the draws.

    Returns
    -------
    xarray.Dataset
        The same fields, with ``drawn_member`` and ``drawn_from`` over (outcome, calendar).
    """
    own = own_times(forecast)
    first, last = own[0], own[-1]
    begin = _utc(start)
    stop = _utc(end) if end is not None else last + max(last - begin, np.timedelta64(0, "ns"))
    before, after = _days(first - begin), _days(stop - last)
    rng = np.random.default_rng(seed)
    members = forecast.sizes["member"]
    # a day's own times: those of the first day move back, those of the last day move on
    first_day = own[(own < first + DAY) & ((own < last) | (own == first))]
    last_day = own[(own > last - DAY) & ((own > first) | (own == last))]
    days = [_draw(own, first_day, -n, members, rng) for n in range(before, 0, -1)]
    days.append(_Day(own, np.arange(members), np.broadcast_to(own, (members, own.size))))
    days += [_draw(own, last_day, n, members, rng) for n in range(1, after + 1)]
    donors = [np.repeat(day.donors[:, None], day.labels.size, axis=1) for day in days]
    dims = ("outcome", "calendar")
    about = {"units": "1", "long_name": "member whose state stands here"}
    return forecast.assign(
        drawn_member=(dims, np.concatenate(donors, axis=1), about),
        drawn_from=(
            dims,
            np.concatenate([day.sources for day in days], axis=1),
            {"long_name": "time whose state stands here"},
        ),
    ).assign_coords(calendar=np.concatenate([day.labels for day in days]))


def own_times(forecast: xr.Dataset) -> Times:
    """Return the times of the forecast's own fields."""
    times: Times = forecast["time"].to_numpy().astype("datetime64[ns]")
    return times


def calendar_of(forecast: xr.Dataset) -> tuple[Times, Nodes]:
    """Return all times of a forecast, drawn ones among them, and what stands on each.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``; without its calendar each member stands for itself.

    Returns
    -------
    time : array of datetime64 (k,)
        Rising, UTC.
    nodes : Nodes
        Members and times of the forecast's fields, (outcome, k).
    """
    from planner.physics.sampling import Nodes, cells

    own, members = own_times(forecast), forecast.sizes["member"]
    if "calendar" not in forecast.dims:
        everyone, every = np.meshgrid(np.arange(members), np.arange(own.size), indexing="ij")
        return own, Nodes(everyone, every, np.zeros(everyone.shape))
    source = forecast["drawn_from"].to_numpy().astype("datetime64[ns]")
    index, part = cells((own - own[0]) / SECOND, ((source - own[0]) / SECOND).ravel())
    arrived = part == 1.0  # at the file's last time, the far end of its last cell
    lower, part = (index + arrived).reshape(source.shape), np.where(arrived, 0.0, part).reshape(source.shape)
    time: Times = forecast["calendar"].to_numpy().astype("datetime64[ns]")
    donors = np.ascontiguousarray(forecast["drawn_member"].to_numpy(), dtype=np.int64)
    return time, Nodes(donors, np.minimum(lower, own.size - 1), part)


def wind_of(forecast: xr.Dataset, *, member: int = 0) -> xr.Dataset:
    """Return one outcome's wind, and its current where given, laid out over the whole calendar.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``.
    member : int
        Which outcome, by position.

    Returns
    -------
    xarray.Dataset
        As the glossary has it, with that one member.
    """
    import xarray as xr

    time, nodes = calendar_of(forecast)
    donor, lower, part = nodes.member[member], nodes.lower[member], nodes.part[member][:, None, None]
    upper = np.minimum(lower + 1, forecast.sizes["time"] - 1)

    def laid_out(name: str) -> tuple[tuple[str, ...], Floats, dict[str, object]]:
        field = forecast[name].to_numpy()
        values = (1.0 - part) * field[donor, lower] + part * field[donor, upper]
        return tuple(map(str, forecast[name].dims)), values[None], forecast[name].attrs

    coords = {"member": [member], "time": time} | {axis: forecast[axis] for axis in ("lat", "lon")}
    return xr.Dataset({name: laid_out(name) for name in SAILED if name in forecast}, coords, forecast.attrs)


def _utc(moment: datetime | np.datetime64) -> np.datetime64:
    """Return a moment in UTC, without an offset; a naive one is taken for UTC."""
    if isinstance(moment, datetime):
        naive = moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)
        return np.datetime64(naive, "ns")
    exact: np.datetime64 = moment.astype("datetime64[ns]")
    return exact


def _days(gap: np.timedelta64) -> int:
    """Return how many whole days fill a gap; none when there is no gap."""
    return max(0, int(np.ceil(gap / DAY)))


def _draw(own: Times, like: Times, days_on: int, members: int, rng: np.random.Generator) -> _Day:
    """Draw a day that lies some days on from the first or last covered one (back, where negative)."""
    room = like[0] - own[0] if days_on > 0 else own[-1] - like[-1]
    donors = rng.integers(0, members, size=members)
    shifts = rng.integers(0, int(room / DAY) + 1, size=members) * -np.sign(days_on)
    return _Day(like + days_on * DAY, donors, like[None, :] + shifts[:, None] * DAY)
