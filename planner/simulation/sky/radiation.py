"""The clear-sky index along a track where a forecast carries the sunlight itself, as means over spans or at moments.

Each grid node's mean is divided by the clear sky of the same span there; the index is drawn through the spans by a
curve that keeps their energies, and held overnight. Times the clear sky of the boat's place it is the light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints, Times
from planner.physics.frames import wrap_180
from planner.physics.sky.mean_curve import Weights, curve_through
from planner.physics.sky.sampling import Cells
from planner.simulation.sky.clear_sky import clear_sky
from planner.simulation.sky.forecast_calendar import SECOND, sources_along

if TYPE_CHECKING:
    import xarray as xr


SUBSTEP: Final = np.timedelta64(600, "s")  # of the clear sky's mean over a span
AROUND: Final = np.timedelta64(30, "h")  # spans so far from a step are looked at: a night and the days around it
LIT_W_M2: Final = 5.0  # W/m2, clear-sky mean over a span below which its index is held from its neighbours
MOST_INDEX: Final = 1.5  # 1; more is packing or a sun that the grid box has and the node has not
UNKNOWN_INDEX: Final = 0.7  # 1, where no span around is lit; it is dark then


@dataclass(frozen=True, eq=False)
class _Spans:
    """The spans of a forecast's sunlight; moments stand for the spans between them.

    Attributes
    ----------
    start, end : array of datetime64 (span,)
        UTC, rising.
    moments : bool
        Whether the light is given at moments, one more than there are spans.
    """

    start: Times
    end: Times
    moments: bool


@dataclass(frozen=True, eq=False)
class _Nodes:
    """The grid nodes that a track touches.

    Attributes
    ----------
    row, column : array of int (node,)
        In the grid.
    of_step : array of int (step, 4)
        The nodes around each step.
    weight : array (step, 4)
        Of each [0..1].
    """

    row: Ints
    column: Ints
    of_step: Ints
    weight: Floats


def light_index(
    name: str, forecast: xr.Dataset, time: Times, cells: tuple[Cells, Cells]
) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Return a sunlight's part of the clear sky's along a track, for every outcome.

    Parameters
    ----------
    name : str
        ``ghi_w_m2`` or ``direct_w_m2``.
    forecast : xarray.Dataset
        As the glossary has it, with that quantity, from ``extend``.
    time : array of datetime64 (n,)
        Middles of the steps, UTC.
    cells : tuple of Cells
        Of the steps' latitudes and longitudes on the forecast's axes.

    Returns
    -------
    index : array (outcome, n)
        Of the clear sky's global irradiance [1].
    covered : array of bool (n,)
        Where the light is given for every outcome.
    """
    spans = _spans_of(forecast)
    nodes = _nodes_of(cells)
    member, source = sources_along(forecast, time)
    span = np.clip(np.searchsorted(spans.start, source.ravel(), side="right") - 1, 0, spans.start.size - 1)
    span = span.reshape(source.shape)
    covered = ((source >= spans.start[0]) & (source <= spans.end[-1])).all(axis=0)
    given = forecast[name].to_numpy()[:, :, nodes.row, nodes.column].astype(np.float64)
    start, end, bulge = _curve(given, spans, nodes, forecast, source)
    seconds = (spans.end - spans.start) / SECOND
    s = np.clip((source - spans.start[span]) / SECOND / seconds[span], 0.0, 1.0)
    index = np.zeros(source.shape)
    for corner in range(4):
        where = (member, span, nodes.of_step[None, :, corner])
        value = start[where] * (1.0 - s) + end[where] * s + bulge[where] * 4.0 * s * (1.0 - s)
        index += nodes.weight[None, :, corner] * value
    return index, covered


def _spans_of(forecast: xr.Dataset) -> _Spans:
    start, end = (forecast[name].to_numpy().astype("datetime64[ns]") for name in ("interval", "interval_end"))
    if np.any(start < end):
        return _Spans(start, end, moments=False)
    return _Spans(start[:-1], start[1:], moments=True)


def _nodes_of(cells: tuple[Cells, Cells]) -> _Nodes:
    """Return the distinct nodes around the steps, and their bilinear weights."""
    (y, fy), (x, fx) = cells
    rows = np.stack([y, y, y + 1, y + 1], axis=1)
    columns = np.stack([x, x + 1, x, x + 1], axis=1)
    weight = np.stack([(1 - fy) * (1 - fx), (1 - fy) * fx, fy * (1 - fx), fy * fx], axis=1)
    # a node without weight may lie outside a grid of one row or column
    rows, columns = np.where(weight > 0.0, rows, y[:, None]), np.where(weight > 0.0, columns, x[:, None])
    pairs, of_step = np.unique(np.stack([rows.ravel(), columns.ravel()]), axis=1, return_inverse=True)
    return _Nodes(pairs[0], pairs[1], of_step.reshape(rows.shape), weight)


def _curve(
    given: Floats, spans: _Spans, nodes: _Nodes, forecast: xr.Dataset, source: Times
) -> tuple[Floats, Floats, Floats]:
    """Return the index's curve over each span, (member, span, node) each."""
    place = forecast["lat"].to_numpy()[nodes.row], forecast["lon"].to_numpy()[nodes.column]
    wanted = _wanted(spans, nodes, source)
    if spans.moments:
        wanted = np.concatenate([wanted, wanted[-1:]]) | np.concatenate([wanted[:1], wanted])
        moments = np.append(spans.start, spans.end[-1])
        clear = _clear_at(moments, wanted, place)
        index = _held(_index(given, clear), moments, clear)
        return index[:, :-1], index[:, 1:], np.zeros_like(index[:, 1:])
    clear, weights = _clear_means(spans, wanted, place)
    index = _held(_index(given, clear), spans.start + (spans.end - spans.start) // 2, clear)
    curve = curve_through(np.moveaxis(index, 1, 2), weights)
    start, end, bulge = (np.moveaxis(part, 2, 1) for part in curve)
    return start, end, bulge


def _index(given: Floats, clear: Floats) -> Floats:
    lit = clear >= LIT_W_M2
    return np.where(lit, np.clip(given / np.where(lit, clear, 1.0), 0.0, MOST_INDEX), np.nan)


def _wanted(spans: _Spans, nodes: _Nodes, source: Times) -> npt.NDArray[np.bool_]:
    """Return the spans whose clear sky is wanted at each node, (span, node): those around the steps that touch it."""
    count = spans.start.size
    edges = np.zeros((count + 1, nodes.row.size), dtype=np.int64)
    for shifted in np.unique(source, axis=0):
        first = np.searchsorted(spans.end, shifted - AROUND, side="left")
        last = np.searchsorted(spans.start, shifted + AROUND, side="right")
        low, high = np.minimum(first, count - 1), np.maximum(last, np.minimum(first, count - 1) + 1)
        for corner in range(4):
            np.add.at(edges, (low, nodes.of_step[:, corner]), 1)
            np.add.at(edges, (high, nodes.of_step[:, corner]), -1)
    return np.cumsum(edges, axis=0)[:-1] > 0


def _clear_at(moments: Times, wanted: npt.NDArray[np.bool_], place: tuple[Floats, Floats]) -> Floats:
    """Return the clear sky at moments and nodes, (moment, node); 0 where it is not wanted [W/m2]."""
    clear = np.zeros(wanted.shape)
    moment, node = np.nonzero(wanted)
    clear[moment, node] = clear_sky(moments[moment], place[0][node], _wrapped(place[1][node]))[2]
    return clear


def _clear_means(
    spans: _Spans, wanted: npt.NDArray[np.bool_], place: tuple[Floats, Floats]
) -> tuple[Floats, Weights]:
    """Return the clear sky's mean over spans at nodes, (span, node), and the weights of its curve, (node, span)."""
    lengths = spans.end - spans.start
    counts = np.maximum(np.round(lengths / SUBSTEP), 1.0).astype(np.int64)
    span, node = np.nonzero(wanted)
    pair = np.repeat(np.arange(span.size), counts[span])
    rank = np.arange(pair.size) - np.repeat(np.cumsum(counts[span]) - counts[span], counts[span])
    s = (rank + 0.5) / counts[span][pair]
    seconds = (s * (lengths[span][pair] / SECOND)).astype("timedelta64[s]")
    light = clear_sky(spans.start[span][pair] + seconds, place[0][node][pair], _wrapped(place[1][node][pair]))[2]

    def mean_of(part: Floats) -> Floats:
        result = np.zeros(wanted.shape)
        result[span, node] = np.bincount(pair, weights=part, minlength=span.size) / counts[span]
        return result

    clear = mean_of(light)
    safe = np.where(clear > 0.0, clear, 1.0)
    parts = (mean_of(light * part) / safe for part in (1.0 - s, s, 4.0 * s * (1.0 - s)))
    return clear, Weights(*(part.T for part in parts))


def _held(index: Floats, moments: Times, clear: Floats) -> Floats:
    """Return an index, (member, span, node), with what is dark held from the nearest lit span before or after it."""
    lit = clear >= LIT_W_M2
    seconds = (moments - moments[0]) / SECOND
    for node in range(index.shape[2]):
        known = np.flatnonzero(lit[:, node])
        if known.size == 0:
            index[:, :, node] = UNKNOWN_INDEX
            continue
        after = np.clip(np.searchsorted(known, np.arange(seconds.size)), 0, known.size - 1)
        before = np.clip(after - 1, 0, None)
        gap_after, gap_before = (np.abs(seconds[known[k]] - seconds) for k in (after, before))
        nearest = known[np.where(gap_before < gap_after, before, after)]
        index[:, :, node] = index[:, nearest, node]
    return index


def _wrapped(lon: Floats) -> Floats:
    return np.asarray(wrap_180(lon), dtype=np.float64)
