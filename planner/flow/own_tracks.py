"""Every member on its own track under the plan's ladders, beside the control's track that the bill is drawn for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.decision.bill.shortfall import wants_warnings
from planner.decision.bill.summary import PERCENTILES
from planner.domain.arrays import Bools, Floats
from planner.domain.glossary import LEDGER, OWN_TRACKS, TRACK
from planner.domain.policy import Policy
from planner.domain.results.bill import WatchRow
from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note
from planner.domain.results.own_tracks import Arrivals, OwnTracks, Percentiles
from planner.domain.results.plan import Plan
from planner.domain.schema import to_dataset
from planner.domain.units import M_PER_NM
from planner.domain.utc import to_numpy
from planner.domain.voyage import Course, soc_course
from planner.physics.sailing.sailings import great_circle
from planner.simulation.clock import in_spans
from planner.simulation.ledger.simulate import fuel_l, simulate

if TYPE_CHECKING:
    import xarray as xr


HOUR: Final = timedelta(hours=1)
NEARLY_ALL: Final = 0.9  # 1, of the members, that lie within what a crew is told
NOT_THERE: Final = np.inf  # h, from departure to an arrival that is not seen


@dataclass(frozen=True, eq=False)
class OwnVoyage:
    """One member on its own track.

    Attributes
    ----------
    track, ledger : xarray.Dataset
        As the glossary has them; the ledger of that one member, by the plan's policy and a meter without error.
    """

    track: xr.Dataset
    ledger: xr.Dataset

    @property
    def arrival(self) -> datetime | None:
        """When the voyage arrives, UTC; None where it does not."""
        said = self.track.attrs["arrival"]
        return datetime.fromisoformat(said) if said else None

    @property
    def drives(self) -> Bools:
        """Steps in which the engine drives the boat, (time,)."""
        return np.asarray(self.track["under_engine"].values > 0)

    @property
    def charges(self) -> Bools:
        """Steps in which the engine runs only to charge, (time,)."""
        return np.asarray((self.ledger["engine_on"].values[0] > 0) & ~self.drives)

    @property
    def soc(self) -> Floats:
        """SOC at the start of each step and at arrival, (time + 1,) [0..1]."""
        course: Floats = soc_course(self.ledger)[0]
        return course


def own_voyage(plan: Plan, course: Course, policy: Policy) -> OwnVoyage:
    """Follow the plan's ladders along a member's own track.

    Parameters
    ----------
    plan : Plan
        Whose boat and start count.
    course : Course
        Of that one member.
    policy : Policy
        The plan's, on the steps of that track.
    """
    ledger = simulate(
        course.harvest,
        course.demand,
        course.track,
        bank=plan.boat.bank,
        engine=plan.boat.engine,
        policy=policy,
        start_soc=plan.passage.start.state_of_charge,
    )
    return OwnVoyage(track=course.track, ledger=ledger)


def beside_the_control(plan: Plan, voyages: Sequence[OwnVoyage]) -> Plan:
    """Return a plan whose spreads are those of the members on their own tracks.

    Parameters
    ----------
    plan : Plan
        Decided for these tracks, drawn for the control's.
    voyages : sequence of OwnVoyage
        One for each member, in the plan's order.
    """
    own = _own_tracks(plan, voyages)
    return replace(
        plan,
        own_tracks=own,
        engine_hours=_spread(plan.engine_hours, own.engine_hours),
        charging_hours=_spread(plan.charging_hours, own.charging_hours),
        fuel_l=_spread(plan.fuel_l, own.fuel_l),
        min_soc=_spread(plan.min_soc, own.min_soc),
        watches=tuple(
            _beside(row, plan.track, plan.voyage.epoch_steps(epoch), voyages)
            for epoch, row in enumerate(plan.watches)
        ),
        warnings=(*plan.warnings, *_on_the_way(plan, own)),
    )


def _own_tracks(plan: Plan, voyages: Sequence[OwnVoyage]) -> OwnTracks:
    step_h = plan.voyage.step_h
    lowest = [voyage.soc.min() for voyage in voyages]
    last = np.array([voyage.soc[-1] for voyage in voyages])
    began, ends = plan.passage.departure, [voyage.arrival for voyage in voyages]
    hours = np.array([NOT_THERE if end is None else (end - began) / HOUR for end in ends])
    wishes, offset = plan.passage.wishes, plan.ship_offset
    in_quiet = [
        bool((voyage.charges & in_spans(voyage.track["time"].values, wishes.quiet_hours, offset)).any())
        for voyage in voyages
    ]
    return OwnTracks(
        members=len(voyages),
        arrived=int(np.isfinite(hours).sum()),
        arrival=_arrivals(plan.passage.departure.astimezone(UTC), hours),
        arrival_soc=_percentiles(last),
        as_wanted=Count(int((last >= wishes.arrival_soc).sum()), len(voyages)),
        min_soc=_percentiles(lowest),
        charging_hours=_percentiles([voyage.charges.sum() * step_h for voyage in voyages]),
        starts=_percentiles([_starts(voyage) for voyage in voyages]),
        engine_hours=_percentiles([voyage.ledger["engine_on"].values.sum() * step_h for voyage in voyages]),
        fuel_l=_percentiles([fuel_l(voyage.ledger, voyage.track, plan.boat.engine).sum() for voyage in voyages]),
        quiet_broken=Count(sum(in_quiet), len(voyages)),
        tracks=_one_after_another(plan, voyages),
    )


def _starts(voyage: OwnVoyage) -> int:
    """Return how often the engine is started to charge alone."""
    running = voyage.drives | voyage.charges
    return int((voyage.charges & ~np.concatenate([[False], running[:-1]])).sum())


def _spread(drawn: Spread, own: Spread | Percentiles) -> Spread:
    return Spread(planned=drawn.planned, p10=own.p10, p50=own.p50, p90=own.p90)


def _beside(row: WatchRow, drawn: xr.Dataset, steps: slice, voyages: Sequence[OwnVoyage]) -> WatchRow:
    """Return a watch with what the members still at sea have as it begins: bank, engine driving, place."""
    at = steps.start
    sailing = [voyage for voyage in voyages if voyage.drives.size > at]
    if not sailing:
        return replace(row, drives_in=Count(0, 0))
    soc = _percentiles([voyage.soc[at] for voyage in sailing])
    return replace(
        row,
        soc=_spread(row.soc, soc),
        drives_in=_driving_in(steps, sailing),
        parted_nm=parted_nm(drawn, [voyage.track for voyage in sailing], at),
    )


def parted_nm(drawn: xr.Dataset, tracks: Sequence[xr.Dataset], at: int) -> float:
    """Return within how far of the track that is drawn nine in ten others lie at a step [nm].

    Parameters
    ----------
    drawn : xarray.Dataset
        With ``lat`` and ``lon``.
    tracks : sequence of xarray.Dataset
        The others, all still at sea.
    at : int
        The step.
    """
    lat, lon = ([float(track[name].values[at]) for track in tracks] for name in ("lat", "lon"))
    apart_m, _ = great_circle(drawn["lat"].values[at], drawn["lon"].values[at], lat, lon)
    return float(np.quantile(apart_m, NEARLY_ALL)) / M_PER_NM


def _driving_in(steps: slice, voyages: Sequence[OwnVoyage]) -> Count:
    """Return in how many members the engine drives the boat at some time of a watch."""
    return Count(sum(bool(voyage.drives[steps].any()) for voyage in voyages), len(voyages))


def _on_the_way(plan: Plan, own: OwnTracks) -> tuple[Note, ...]:
    """Return which members do not arrive, with less than wanted, or with less fuel than is to be left."""
    engine, late = plan.boat.engine, own.members - own.arrived
    notes = [Note("own_tracks_late", {"late": late, "members": own.members})] if late else []
    spare = engine.tank_l - engine.landfall_l
    if own.fuel_l.p90 > spare >= plan.fuel_l.p90:
        notes.append(Note("own_tracks_fuel", {"burnt_p90_l": own.fuel_l.p90, "spare_l": spare}))
    return (*notes, *wants_warnings(plan.voyage, own.as_wanted))


def _percentiles(values: npt.ArrayLike) -> Percentiles:
    return Percentiles(*(float(value) for value in np.percentile(np.asarray(values, dtype=float), PERCENTILES)))


def _arrivals(departure: datetime, hours: Floats) -> Arrivals:
    """Return when the members are there, from hours since departure, (member,); infinite for those that are not."""
    ranked = np.sort(hours)
    moments: list[datetime | None] = []
    for percent in PERCENTILES:
        place = percent / 100.0 * (ranked.size - 1)
        sooner = ranked[: int(np.ceil(place)) + 1]
        at_h = float(np.interp(place, np.arange(sooner.size), sooner)) if np.isfinite(sooner[-1]) else NOT_THERE
        moments.append(departure + timedelta(hours=at_h) if at_h < NOT_THERE else None)
    return Arrivals(*moments)


def _one_after_another(plan: Plan, voyages: Sequence[OwnVoyage]) -> xr.Dataset:
    """Return all tracks and ledgers along one dimension."""
    arrays: dict[str, Any] = {
        name: np.concatenate([voyage.track[name].values for voyage in voyages]) for name in TRACK
    }
    for name, quantity in LEDGER.items():
        rows = [voyage.ledger[name].values[0] for voyage in voyages]
        arrays[name] = np.concatenate(rows) if "time" in quantity.dims else np.array(rows)
    ends = [np.datetime64("NaT", "ns") if (end := voyage.arrival) is None else to_numpy(end) for voyage in voyages]
    tracks = to_dataset(
        arrays,
        OWN_TRACKS,
        coords={
            "trajectory": plan.ledger["member"].values,
            "time": ("obs", np.concatenate([voyage.track["time"].values for voyage in voyages])),
        },
        door="own tracks",
    )
    return tracks.assign(
        row_size=("trajectory", np.array([voyage.track.sizes["time"] for voyage in voyages], dtype=np.int64)),
        arrival=("trajectory", np.array(ends, dtype="datetime64[ns]")),
    ).assign_attrs(step_s=plan.voyage.step_s)
