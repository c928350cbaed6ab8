"""How much of the clear sky's light each outcome of a forecast lets through along a track, and with what doubt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Times
from planner.physics.sky.cloud import MODEL_TOTAL, index_of_layers, index_of_observer, index_of_total
from planner.physics.sky.doubt import moved_by, on_scale, spread_out, usual_at
from planner.physics.sky.sampling import Cells, Nodes, along, cells
from planner.simulation.sky.climate import clearness_at
from planner.simulation.sky.forecast_calendar import DAY, SECOND, calendar_of, on_calendar, tells_of_sky
from planner.simulation.sky.radiation import light_index

if TYPE_CHECKING:
    import xarray as xr


LAYERS = ("cloud_low", "cloud_middle", "cloud_high")
# d: a forecast's own days tell of the place what the latitude's usual does not, and are as good as that when so many
# (MERRA-2's places lie 0.1 apart, its days 0.25, and a day and the next are half one)
USUAL_DAYS = 6.0
BEAM_FALLS_AS = 2.0  # 1, exponent: a sky darker than forecast loses more of its beam; the project's own


@dataclass(frozen=True, eq=False)
class Sampler:
    """A forecast read at times and places.

    Attributes
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    time : array of datetime64 (n,)
        UTC.
    lat : array (n,)
        North [degree].
    nodes : Nodes
        What stands on the calendar.
    in_time, in_lat, in_lon : Cells
        Where times and places lie on the calendar and the grid.
    """

    forecast: xr.Dataset
    time: Times
    lat: Floats
    nodes: Nodes
    in_time: Cells
    in_lat: Cells
    in_lon: Cells

    def __call__(self, name: str) -> Floats:
        """Return a quantity of every outcome, (outcome, n)."""
        return along(self.forecast[name].to_numpy(), self.nodes, self.in_time, self.in_lat, self.in_lon)

    def over_calendar(self, name: str) -> Floats:
        """Return what the calendar itself carries for every outcome, (outcome, n)."""
        return self._between(self.forecast[name].to_numpy())

    def over_time(self, name: str) -> Floats:
        """Return a quantity that is the same everywhere for every outcome, (outcome, n)."""
        return self._between(on_calendar(self.forecast, name, self.nodes))

    def _between(self, carried: npt.NDArray[Any]) -> Floats:
        index, part = self.in_time
        upper = np.minimum(index + 1, carried.shape[1] - 1)
        return np.asarray((1.0 - part) * carried[:, index] + part * carried[:, upper], dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Light:
    """What of the clear sky's light comes through.

    Attributes
    ----------
    index : array (outcome, n)
        Of its global irradiance [1].
    direct_index : array (outcome, n) or None
        The part that comes straight from the sun, over the same clear global irradiance; None where the forecast
        does not tell [1].
    cover : array (outcome, n)
        Total cloud cover as forecast or typed; where only light is, the cover that would let it through [0..1].
    """

    index: Floats
    direct_index: Floats | None
    cover: Floats


def sampler(forecast: xr.Dataset, time: Times, lat: Floats, lon: Floats) -> Sampler:
    """Return what reads a forecast at times and places.

    Parameters
    ----------
    forecast : xarray.Dataset
        As the glossary has it.
    time : array of datetime64 (n,)
        UTC.
    lat, lon : array (n,)
        North and east, lon in the circle of the forecast's own axis [degree].
    """
    known, nodes = calendar_of(forecast)
    return Sampler(
        forecast,
        time,
        lat,
        nodes,
        cells((known - known[0]) / SECOND, (time - known[0]) / SECOND),
        cells(forecast["lat"].to_numpy(), lat),
        cells(forecast["lon"].to_numpy(), lon),
    )


def light_along(sample: Sampler) -> Light:
    """Return the light of every outcome: from radiation, else cloud layers, else total cover; or by hand-typed cloud.

    An ensemble's outcomes are set further apart where they lie too close; a single run's, a stale forecast's and
    those under cloud typed by hand err by what their calendar carries, and come back towards what is usual.

    Parameters
    ----------
    sample : Sampler
        Of the forecast along the track.
    """
    stated, direct, cover = _stated(sample)
    index = spread_out(stated) if sample.forecast.sizes["member"] > 1 else stated
    if "light_error" in sample.forecast:
        trust, error = (sample.over_calendar(f"light_{part}") for part in ("trust", "error"))
        index = moved_by(index, trust, _usual(index, sample), error)
    if direct is not None:
        darker = index / np.maximum(stated, 1e-6)
        direct = np.minimum(direct * darker**BEAM_FALLS_AS, index)
    return Light(index, direct, cover)


def _usual(index: Floats, sample: Sampler) -> Floats:
    """Return what is usual along the track on the scale of doubt, (n,): for its latitude, and by its own days."""
    told = tells_of_sky(sample.forecast) or "seen_cover" in sample.forecast
    own_days = float((sample.time[-1] - sample.time[0]) / DAY) if told else 0.0
    latitude = usual_at(clearness_at(sample.time, sample.lat))
    return (USUAL_DAYS * latitude + own_days * float(on_scale(index).mean())) / (USUAL_DAYS + own_days)


def _stated(sample: Sampler) -> tuple[Floats, Floats | None, Floats]:
    """Return index, direct index and cover as file and hand state them, without doubt."""
    forecast = sample.forecast
    if "seen_cover" not in forecast:
        return _by_file(sample)
    seen = sample.over_time("seen_cover")
    if "cloud_cover" not in forecast and "ghi_w_m2" not in forecast:
        return index_of_observer(seen), None, seen
    index, direct, cover = _by_file(sample)
    hand = sample.over_time("cloud_by_hand")
    mixed = (1.0 - hand) * index + hand * index_of_observer(seen)
    # the hand does not distinguish the beam: all of a passage is then split by one rule
    return mixed, None if hand.any() else direct, (1.0 - hand) * cover + hand * seen


def _by_file(sample: Sampler) -> tuple[Floats, Floats | None, Floats]:
    """Return index, direct index and cover as the forecast's own fields state them."""
    forecast = sample.forecast
    by_cloud = _by_cloud(sample) if "cloud_cover" in forecast else None
    if "ghi_w_m2" not in forecast:
        index, cover = by_cloud or _by_season(sample)
        return index, None, cover
    place = (sample.in_lat, sample.in_lon)
    index, covered = light_index("ghi_w_m2", forecast, sample.time, place)
    direct = None
    if "direct_w_m2" in forecast and covered.all():
        direct = np.minimum(light_index("direct_w_m2", forecast, sample.time, place)[0], index)
    if by_cloud is None:
        return index, direct, MODEL_TOTAL.cover_of(index)
    return np.where(covered, index, by_cloud[0]), direct, by_cloud[1]


def _by_season(sample: Sampler) -> tuple[Floats, Floats]:
    """Return the usual index of the season at the latitude, for want of anything better, and the cover to it."""
    usual = clearness_at(sample.time, sample.lat)
    index = np.broadcast_to(usual, (sample.nodes.member.shape[0], usual.size))
    return index, MODEL_TOTAL.cover_of(index)


def _by_cloud(sample: Sampler) -> tuple[Floats, Floats]:
    """Return the index under cloud, by the relation of its kind, and the total cover."""
    cover = np.clip(sample("cloud_cover"), 0.0, 1.0)
    if all(name in sample.forecast for name in LAYERS):
        return index_of_layers(*(sample(name) for name in LAYERS)), cover
    return index_of_total(cover), cover
