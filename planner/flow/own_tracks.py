"""The plan's ladders followed on every member's own track, set beside the control's track that they were made for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from planner.decision.bill.shortfall import reserve_warnings
from planner.decision.bill.summary import PERCENTILES
from planner.decision.policy.by_clock import by_clock
from planner.decision.policy.calibrate import reserve_kept
from planner.decision.policy.decide import Scorer, tried
from planner.domain.arrays import Bools, Floats
from planner.domain.glossary import LEDGER, OWN_TRACKS, TRACK
from planner.domain.policy import Policy
from planner.domain.results.note import Note
from planner.domain.results.own_tracks import Arrivals, OwnTracks, Percentiles
from planner.domain.results.plan import Plan
from planner.domain.schema import to_dataset
from planner.domain.utc import to_numpy
from planner.domain.voyage import soc_course
from planner.simulation.ledger.simulate import fuel_l, simulate

if TYPE_CHECKING:
    import xarray as xr


HOUR: Final = timedelta(hours=1)
NOT_THERE: Final = np.inf  # h, from departure to an arrival that is not seen


@dataclass(frozen=True, eq=False)
class OwnVoyage:
    """One member on its own track.

    Attributes
    ----------
    track, ledger : xarray.Dataset
        As the glossary has them; the ledger of that one member, by the plan's policy.
    kept : bool array (trial,)
        Whether it kept the reserve, by each policy made without it and each draw of its meter.
    """

    track: xr.Dataset
    ledger: xr.Dataset
    kept: Bools


def follow(plan: Plan, track: xr.Dataset, harvest: xr.Dataset, demand: xr.Dataset, *, member: int) -> OwnVoyage:
    """Follow the plan's ladders by the clock along a member's own track.

    Parameters
    ----------
    plan : Plan
        Whose policy and trials are followed.
    track, harvest, demand : xarray.Dataset
        Of that one member, as the stages hand them on.
    member : int
        By position in the plan.
    """
    boat, passage = plan.boat, plan.passage
    start_soc = passage.start.state_of_charge

    def carried(policy: Policy) -> Policy:
        return by_clock(
            policy,
            track,
            engine=boat.engine,
            watches=passage.watches,
            wishes=passage.wishes,
            ship_offset=plan.ship_offset,
        )

    ledger = simulate(
        harvest,
        demand,
        track,
        bank=boat.bank,
        engine=boat.engine,
        policy=carried(plan.policy),
        start_soc=start_soc,
    )
    scorer = Scorer(
        harvest=harvest, demand=demand, track=track, bank=boat.bank, engine=boat.engine, start_soc=start_soc
    )
    return OwnVoyage(track=track, ledger=ledger, kept=_kept(plan, scorer, carried, member))


def own_tracks(plan: Plan, voyages: Sequence[OwnVoyage]) -> OwnTracks:
    """Set every member on its own track beside itself on the control's.

    Parameters
    ----------
    plan : Plan
        On the control's track.
    voyages : sequence of OwnVoyage
        One for each member, in the plan's order.
    """
    lowest = np.array([soc_course(voyage.ledger).min() for voyage in voyages])
    running = [voyage.ledger["engine_on"].values[0].astype(np.bool_) for voyage in voyages]
    driving = [voyage.track["under_engine"].values > 0 for voyage in voyages]
    step_h = plan.voyage.step_h
    kept, as_control = np.stack([voyage.kept for voyage in voyages]), _kept_on_control(plan)
    began = plan.passage.departure
    hours = np.array([(_arrives(voyage) - began) / HOUR if there(voyage) else NOT_THERE for voyage in voyages])
    return OwnTracks(
        members=len(voyages),
        arrived=int(np.isfinite(hours).sum()),
        arrival=_arrivals(plan.passage.departure.astimezone(UTC), hours),
        min_soc=_percentiles(lowest),
        min_soc_change=_percentiles(lowest - soc_course(plan.ledger).min(axis=1)),
        charging_hours=_percentiles(
            [(on & ~drives).sum() * step_h for on, drives in zip(running, driving, strict=True)]
        ),
        engine_hours=_percentiles([on.sum() * step_h for on in running]),
        fuel_l=_percentiles([fuel_l(voyage.ledger, voyage.track, plan.boat.engine).sum() for voyage in voyages]),
        reserve_kept=reserve_kept(int(kept.sum()), kept.size, confidence=plan.passage.wishes.confidence, wind="own"),
        lost=int((as_control & ~kept).sum()),
        won=int((kept & ~as_control).sum()),
        tracks=_one_after_another(plan, voyages),
    )


def scored(plan: Plan, own: OwnTracks) -> Plan:
    """Return a plan whose share that keeps the reserve, and whose warnings, are those of the members' own tracks.

    Parameters
    ----------
    plan : Plan
        Scored on the control's track.
    own : OwnTracks
        Beside it.
    """
    by_control = reserve_warnings(plan.voyage, plan.reserve_kept)
    others = tuple(note for note in plan.warnings if note not in by_control)
    on_reserve = reserve_warnings(plan.voyage, own.reserve_kept)
    if not on_reserve:
        on_reserve = _lost_by_wind(plan, own)
    return replace(
        plan,
        reserve_kept=own.reserve_kept,
        control_kept=plan.reserve_kept,
        own_tracks=own,
        warnings=(*others, *on_reserve, *_on_the_way(plan, own)),
    )


def _lost_by_wind(plan: Plan, own: OwnTracks) -> tuple[Note, ...]:
    """Return that the wind costs the plan more trials than it wins, where fewer keep the reserve than asked."""
    kept = own.reserve_kept
    if kept.kept >= kept.confidence * kept.members or own.lost <= own.won:
        return ()
    figures = {"kept": kept.kept, "members": kept.members, "confidence": kept.confidence}
    return (Note("own_tracks_lost", {**figures, "on_control": plan.reserve_kept.kept}),)


def _on_the_way(plan: Plan, own: OwnTracks) -> tuple[Note, ...]:
    """Return which members do not arrive, and whether the fuel lasts on the members' own tracks."""
    engine, late = plan.boat.engine, own.members - own.arrived
    notes = [Note("own_tracks_late", {"late": late, "members": own.members})] if late else []
    spare = engine.tank_l - engine.landfall_l
    if own.fuel_l.p90 > spare >= plan.fuel_l.p90:
        notes.append(Note("own_tracks_fuel", {"burnt_p90_l": own.fuel_l.p90, "spare_l": spare}))
    return tuple(notes)


def there(voyage: OwnVoyage) -> bool:
    """Return whether the voyage arrives."""
    return bool(voyage.track.attrs["arrival"])


def _arrives(voyage: OwnVoyage) -> datetime:
    return datetime.fromisoformat(voyage.track.attrs["arrival"])


def _kept(plan: Plan, scorer: Scorer, carried: Callable[[Policy], Policy], member: int) -> Bools:
    """Return whether a member keeps the reserve in each trial that left it out, (trial,)."""
    outcomes = []
    only = np.zeros(1, dtype=np.int64)
    for trial in plan.trials:
        place = np.flatnonzero(trial.members == member)
        if place.size:
            outcomes.append(scorer.score(carried(trial.policy), only, trial.meter_offset[:, place])[0][:, 0])
    return np.concatenate(outcomes)


def _kept_on_control(plan: Plan) -> Bools:
    """Return the same on the control's track for all members, (member, trial)."""
    scorer = Scorer(
        harvest=plan.harvest,
        demand=plan.demand,
        track=plan.track,
        bank=plan.boat.bank,
        engine=plan.boat.engine,
        start_soc=plan.passage.start.state_of_charge,
    )
    return tried(scorer, plan.trials)[0].T


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
    ends = [to_numpy(_arrives(voyage)) if there(voyage) else np.datetime64("NaT", "ns") for voyage in voyages]
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
