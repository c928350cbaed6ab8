"""The calendar of a forecast: for each outcome and time, which member's field stands there, and of when.

Within the forecast's own times each member stands for itself. Past either end each outcome takes whole days, drawn
from the days that all members cover at the same place. The fields stay as they are: only what stands where is added.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Floats, Ints, Times
from planner.domain.inputs.given import SeenSky
from planner.physics.sky.doubt import (
    MEMORY_H,
    WIND_MEMORY_H,
    correlated_errors,
    deviation_at,
    hand_trust,
    run_trust,
    wind_error_m_s,
)
from planner.physics.sky.sampling import Nodes, cells

if TYPE_CHECKING:
    import xarray as xr


DAY = np.timedelta64(24, "h")
SECOND = np.timedelta64(1, "s")
HOUR = np.timedelta64(3600, "s")
NO_TIME = np.timedelta64(0, "ns")
FRESH = np.timedelta64(18, "h")  # h, age that a forecast may have: every 12 h, out 6 h later; common practice
WIND_ERRORS = {"wind_east_m_s": "wind_east_error_m_s", "wind_north_m_s": "wind_north_error_m_s"}
SAILED = (*WIND_ERRORS, "current_east_m_s", "current_north_m_s")


@dataclass(frozen=True, eq=False)
class _Day:
    """One drawn day: when it is, and for each outcome whose state it takes and of when."""

    labels: Times
    donors: Ints
    sources: Times


def extend(
    forecast: xr.Dataset,
    start: datetime | np.datetime64,
    end: datetime | np.datetime64 | None = None,
    *,
    seed: int,
    lone_outcomes: int = 1,
    seen: SeenSky | None = None,
) -> xr.Dataset:
    """Return a forecast whose calendar covers [start, end], whole days being drawn for what lies outside its times.

    Each added day is, outcome by outcome, one of the whole days that the forecast covers, of a member drawn from all,
    at the same time of day and place: the spread of the members then holds that between days, too. A forecast of one
    member is given several outcomes, whose light and wind err more and more; a stale one's err as its age lets
    expect, and under cloud and wind typed by hand every outcome has an error of its own, as wide as a bulletin's.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    start, end : datetime or datetime64
        UTC where naive; without an end, as far past the forecast's end as it covers from the start: a passage that
        needs more is refused by ``sky_along``.
    seed : int
        Of the draws.
    lone_outcomes : int
        How many outcomes a forecast of one member gets; 1 leaves it without an error.
    seen : SeenSky, optional
        About which the errors of the light lie, fading as they do, but where cloud is typed by hand.

    Returns
    -------
    xarray.Dataset
        The same fields, with ``drawn_member``, ``drawn_from`` and the outcomes' doubt over (outcome, calendar):
        ``light_trust``, ``light_error``, ``wind_east_error_m_s`` and ``wind_north_error_m_s``.
    """
    own = own_times(forecast)
    first, last = own[0], own[-1]
    begin = utc(start)
    stop = utc(end) if end is not None else last + max(last - begin, NO_TIME)
    before, after = _days(first - begin), _days(stop - last)
    rng = np.random.default_rng(seed)
    members = forecast.sizes["member"]
    outcomes = members if members > 1 else lone_outcomes
    # a day's own times: those of the first day move back, those of the last day move on
    first_day = own[(own < first + DAY) & ((own < last) | (own == first))]
    last_day = own[(own > last - DAY) & ((own > first) | (own == last))]
    days = [_draw(own, first_day, -n, (members, outcomes), rng) for n in range(before, 0, -1)]
    days.append(_Day(own, np.arange(outcomes) % members, np.broadcast_to(own, (outcomes, own.size))))
    days += [_draw(own, last_day, n, (members, outcomes), rng) for n in range(1, after + 1)]
    donors = [np.repeat(day.donors[:, None], day.labels.size, axis=1) for day in days]
    labels = np.concatenate([day.labels for day in days])
    dims = ("outcome", "calendar")
    about = {"units": "1", "long_name": "member whose state stands here"}
    extended = forecast.assign(
        drawn_member=(dims, np.concatenate(donors, axis=1), about),
        drawn_from=(
            dims,
            np.concatenate([day.sources for day in days], axis=1),
            {"long_name": "time whose state stands here"},
        ),
    ).assign_coords(calendar=labels)
    trust, error = _light_doubt(extended, begin, rng)
    if seen is not None:
        error = error + _expected_error(extended, seen)
    east, north = _wind_errors(extended, begin, rng)
    of_wind = {"units": "m s-1", "long_name": "error of the wind, the same everywhere"}
    return extended.assign(
        light_trust=(dims, trust, {"units": "1", "long_name": "how much of the light's distance from usual is kept"}),
        light_error=(dims, error, {"units": "1", "long_name": "error of the light, on the scale of doubt"}),
        wind_east_error_m_s=(dims, east, of_wind),
        wind_north_error_m_s=(dims, north, of_wind),
    )


def issue_of(forecast: xr.Dataset) -> np.datetime64:
    """Return when a forecast began; its first time, where it does not say."""
    stated = forecast.attrs.get("issued")
    first: np.datetime64 = own_times(forecast)[0]
    return np.datetime64(str(stated).removesuffix("Z"), "ns") if stated else first


def staleness(forecast: xr.Dataset, start: datetime | np.datetime64) -> np.timedelta64:
    """Return by how much a forecast is older at a moment than a fresh one would be; nothing where it is fresh.

    Parameters
    ----------
    forecast : xarray.Dataset
        With the attribute ``issued``; without it, it counts as fresh.
    start : datetime or datetime64
        Departure; UTC where naive.
    """
    if "issued" not in forecast.attrs:
        return NO_TIME
    return max(utc(start) - issue_of(forecast) - FRESH, NO_TIME)


def _light_doubt(forecast: xr.Dataset, start: np.datetime64, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return trust in the light and its error, (outcome, calendar): of a single run, of hand-typed cloud, of age."""
    labels, nodes = calendar_of(forecast)
    outcomes = forecast.sizes["outcome"]
    lead = (labels - issue_of(forecast)) / HOUR
    trust = run_trust(lead)
    if forecast.sizes["member"] > 1:  # what a fresh one's members say of its doubt stands
        trust = trust / run_trust(lead - staleness(forecast, start) / HOUR)
    trust = np.broadcast_to(trust if tells_of_sky(forecast) else 0.0, (outcomes, labels.size))
    if "cloud_by_hand" in forecast:
        by_hand = on_calendar(forecast, "cloud_by_hand", nodes) > 0.5
        trust = np.where(by_hand, hand_trust((labels - _heard(forecast, start, "cloud_by_hand")) / HOUR), trust)
    if outcomes == 1:
        trust = np.ones_like(trust)
    return trust, _drawn(labels, deviation_at(trust), rng)


def _expected_error(forecast: xr.Dataset, seen: SeenSky) -> Floats:
    """Return the error of the light that is expected by what was seen of it, (outcome, calendar)."""
    labels, nodes = calendar_of(forecast)
    error = seen.error * np.exp(-np.maximum((labels - utc(seen.at)) / HOUR, 0.0) / MEMORY_H)
    by_hand = on_calendar(forecast, "cloud_by_hand", nodes) > 0.5 if "cloud_by_hand" in forecast else False
    return np.where(by_hand, 0.0, np.broadcast_to(error, (forecast.sizes["outcome"], labels.size)))


def _wind_errors(forecast: xr.Dataset, start: np.datetime64, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return the wind's error toward east and north, (outcome, calendar): where members do not tell it, or age."""
    labels, nodes = calendar_of(forecast)
    outcomes = forecast.sizes["outcome"]
    lead = (labels - issue_of(forecast)) / HOUR
    deviation = wind_error_m_s(lead)
    if not _same_fields(forecast):
        deviation = np.sqrt(deviation**2 - wind_error_m_s(lead - staleness(forecast, start) / HOUR) ** 2)
    deviation = np.broadcast_to(deviation, (outcomes, labels.size))
    if "wind_by_hand" in forecast:
        by_hand = on_calendar(forecast, "wind_by_hand", nodes) > 0.5
        typed = wind_error_m_s((labels - _heard(forecast, start, "wind_by_hand")) / HOUR)
        deviation = np.where(by_hand, typed, deviation)
    if outcomes == 1:
        deviation = np.zeros_like(deviation)
    return _drawn(labels, deviation, rng, WIND_MEMORY_H), _drawn(labels, deviation, rng, WIND_MEMORY_H)


def _drawn(labels: Times, deviation: Floats, rng: np.random.Generator, memory_h: float = MEMORY_H) -> Floats:
    """Return errors of each outcome over the calendar; nothing is drawn where there is none."""
    if not deviation.any():
        return np.zeros(deviation.shape)
    return correlated_errors((labels - labels[0]) / HOUR, deviation, len(deviation), rng, memory_h=memory_h)


def _heard(forecast: xr.Dataset, start: np.datetime64, by_hand: str) -> np.datetime64:
    """Return when a bulletin that was typed was heard: as its first row begins, but not after the departure."""
    typed = own_times(forecast)[forecast[by_hand].to_numpy() > 0.5]
    return min([start, *typed[:1]])


def cloud_is_typed(forecast: xr.Dataset, at: datetime) -> bool:
    """Return whether the cloud of a moment is typed by hand."""
    if "cloud_by_hand" not in forecast:
        return False
    time = max(int(np.searchsorted(own_times(forecast), utc(at), side="right")) - 1, 0)
    return bool(forecast["cloud_by_hand"].to_numpy()[time] > 0.5)


def tells_of_sky(forecast: xr.Dataset) -> bool:
    """Return whether a forecast has cloud or sunlight of its own."""
    return "cloud_cover" in forecast or "ghi_w_m2" in forecast


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


def on_calendar(forecast: xr.Dataset, name: str, nodes: Nodes) -> Floats:
    """Return a quantity over time alone on the nodes of a calendar.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    name : str
        A quantity over the forecast's own times.
    nodes : Nodes
        From ``calendar_of``, (outcome, k).

    Returns
    -------
    array (outcome, k)
        In the quantity's units.
    """
    own = forecast[name].to_numpy().astype(np.float64)
    upper = np.minimum(nodes.lower + 1, own.size - 1)
    return np.asarray((1.0 - nodes.part) * own[nodes.lower] + nodes.part * own[upper], dtype=np.float64)


def sources_along(forecast: xr.Dataset, time: Times) -> tuple[Ints, Times]:
    """Return whose field stands at each time, and of when, for what holds over spans and is not drawn between nodes.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it, from ``extend`` or not.
    time : array of datetime64 (n,)
        UTC.

    Returns
    -------
    member : array of int (outcome, n)
        By position.
    source : array of datetime64 (outcome, n)
        UTC.
    """
    members = forecast.sizes["member"]
    if "calendar" not in forecast.dims:
        shape = (members, time.size)
        return np.broadcast_to(np.arange(members)[:, None], shape), np.broadcast_to(time, shape)
    known = forecast["calendar"].to_numpy().astype("datetime64[ns]")
    # a span belongs to the time at which it ends, but before the forecast to the time at which it begins
    after = np.searchsorted(known, time, side="left")
    before = np.searchsorted(known, time, side="right") - 1
    node = np.clip(np.where(time > own_times(forecast)[0], after, before), 0, known.size - 1)
    shift = forecast["drawn_from"].to_numpy().astype("datetime64[ns]")[:, node] - known[node]
    return forecast["drawn_member"].to_numpy()[:, node].astype(np.int64), time + shift


def wind_of(forecast: xr.Dataset, *, member: int | None = None) -> xr.Dataset:
    """Return one outcome's wind, and its current where given, laid out over the whole calendar.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it, from ``extend``.
    member : int, optional
        Which outcome, by position, with its error; without it the control's, as the forecast states it.

    Returns
    -------
    xarray.Dataset
        As the glossary has it, with that one member.
    """
    import xarray as xr

    time, nodes = calendar_of(forecast)
    place = member or 0
    donor, lower, part = nodes.member[place], nodes.lower[place], nodes.part[place][:, None, None]
    upper = np.minimum(lower + 1, forecast.sizes["time"] - 1)

    def laid_out(name: str) -> tuple[tuple[str, ...], Floats, dict[str, object]]:
        field = forecast[name].to_numpy()
        values = (1.0 - part) * field[donor, lower] + part * field[donor, upper]
        if member is not None and WIND_ERRORS.get(name) in forecast:
            values = values + forecast[WIND_ERRORS[name]].to_numpy()[place][:, None, None]
        return tuple(map(str, forecast[name].dims)), values[None], forecast[name].attrs

    coords = {"member": [place], "time": time} | {axis: forecast[axis] for axis in ("lat", "lon")}
    return xr.Dataset({name: laid_out(name) for name in SAILED if name in forecast}, coords, forecast.attrs)


def has_one_wind(forecast: xr.Dataset) -> bool:
    """Return whether all outcomes of a forecast have the same wind and current.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it, from ``extend`` or not.
    """
    errors = (forecast[name].to_numpy() for name in WIND_ERRORS.values() if name in forecast)
    return _same_fields(forecast) and not any(error.any() for error in errors)


def _same_fields(forecast: xr.Dataset) -> bool:
    """Return whether the fields that carry the boat are those of a single run, the same for all members."""
    fields = (forecast[name].to_numpy() for name in SAILED if name in forecast)
    return all(np.array_equal(field[0], other, equal_nan=True) for field in fields for other in field[1:])


def utc(moment: datetime | np.datetime64) -> np.datetime64:
    """Return a moment in UTC, without an offset; a naive one is taken for UTC."""
    if isinstance(moment, datetime):
        naive = moment if moment.tzinfo is None else moment.astimezone(UTC).replace(tzinfo=None)
        return np.datetime64(naive, "ns")
    exact: np.datetime64 = moment.astype("datetime64[ns]")
    return exact


def _days(gap: np.timedelta64) -> int:
    """Return how many whole days fill a gap; none when there is no gap."""
    return max(0, int(np.ceil(gap / DAY)))


def _draw(own: Times, like: Times, days_on: int, sizes: tuple[int, int], rng: np.random.Generator) -> _Day:
    """Draw a day that lies some days on from the first or last covered one (back, where negative)."""
    room = like[0] - own[0] if days_on > 0 else own[-1] - like[-1]
    members, outcomes = sizes
    donors = rng.integers(0, members, size=outcomes)
    shifts = rng.integers(0, int(room / DAY) + 1, size=outcomes) * -np.sign(days_on)
    return _Day(like + days_on * DAY, donors, like[None, :] + shifts[:, None] * DAY)
