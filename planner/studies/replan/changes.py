"""What changed against the last plan, and why."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.inputs.route import Waypoint
from planner.domain.results.engine_so_far import EngineSoFar
from planner.domain.results.figures import Spread
from planner.domain.results.note import NOTHING, Note, together
from planner.domain.results.plan import Plan
from planner.domain.results.replan import Change, LastPlan, ObservedBank
from planner.domain.units import M_PER_NM
from planner.physics.sailing.sailings import great_circle
from planner.studies.figures import Outcome, difference_of, spread_of

SAME_H: Final = 0.25  # h of engine or of passage that is no change worth a reason
SAME_L: Final = 0.5  # L of fuel, likewise
BY_PLAN: Final = "the last plan"
SAME_WH: Final = 0.03  # 1, likewise of energy


@dataclass(frozen=True)
class BySky:
    """What the sky that a log shows makes of a plan, member by member: hours of charging [h], light a day [Wh/d]."""

    charging_h: Spread
    wh_per_day: Spread

    @classmethod
    def of(cls, seen: Outcome, as_forecast: Outcome) -> BySky:
        """Return what two outcomes on the same members differ by."""
        a_day = (seen.offered_wh - as_forecast.offered_wh) * 24.0 / seen.passage_h
        return cls(difference_of(seen, as_forecast, "charging_h"), spread_of(a_day))


def changes_since(
    last: LastPlan, plan: Plan, by_bank_h: Spread | None, bank: ObservedBank, by_sky: BySky | None = None
) -> tuple[Change, ...]:
    """Compare a plan from a fix on with the last plan.

    Parameters
    ----------
    last : LastPlan
        As its files say.
    plan : Plan
        From the fix on.
    by_bank_h : Spread or None
        Hours of charging less those of the same plan with the charge that the last plan foresaw, member by member;
        None when the fix is outside the last plan.
    bank : ObservedBank
        At the fix.
    by_sky : BySky, optional
        Where a log shows the sky.

    Returns
    -------
    tuple of Change
        Position, bank, arrival, sun, load, engine, the first watch's action.
    """
    now = plan.passage.departure
    if not last.time[0] <= now <= last.arrival:
        return (
            Change(
                Note("time"),
                Note("span", {"begins": _ship_time(last.time[0], plan), "ends": _ship_time(last.arrival, plan)}),
                _moment(now, plan),
                Note("outside_last_plan"),
            ),
        )
    changes = [_position(last, plan), _bank(last, plan, bank), _arrival(last, plan)]
    changes += [
        _sun(_energy(last, plan, Note("sun_to_come"), last.solar_w, "solar_power_w"), plan, by_sky),
        _energy(last, plan, Note("load_to_come"), last.load_w, "load_power_w"),
        _engine(last, plan, by_bank_h, by_sky),
    ]
    action = _action(last, plan)
    return tuple(changes if action is None else [*changes, action])


def foreseen_soc(last: LastPlan, moment: datetime) -> float:
    """Return the charge that the last plan foresaw on its planned course, linear between rows [0..1]."""
    return float(np.interp(_seconds(moment), _times(last), last.soc))


def planned_place(last: LastPlan, moment: datetime) -> Waypoint:
    """Return where the last plan has the boat, linear between rows."""
    times, now = _times(last), _seconds(moment)
    lons = np.degrees(np.unwrap(np.radians(last.lon)))
    lat, lon = float(np.interp(now, times, last.lat)), float(np.interp(now, times, lons))
    return Waypoint(name="", lat=lat, lon=(lon + 180.0) % 360.0 - 180.0)


def engine_by_plan(last: LastPlan, until: datetime) -> EngineSoFar:
    """Return what the engine ran from the first departure to a moment, since the last fix by the last plan.

    Parameters
    ----------
    last : LastPlan
    until : datetime
        A run that is under way counts as far as it has come.
    """
    before = last.engine_so_far or EngineSoFar(hours=0.0, fuel_l=0.0, source=BY_PLAN)
    hours, fuel = before.hours, before.fuel_l
    for start, stop, litres in last.windows:
        part = max((min(stop, until) - start) / (stop - start), 0.0)
        hours += part * _hours(stop - start)
        fuel += part * litres
    source = before.source if before.source.endswith(BY_PLAN) else f"{before.source}, then {BY_PLAN}"
    return EngineSoFar(hours=hours, fuel_l=fuel, source=source)


def fuel_warnings(last: LastPlan, aboard_l: float) -> tuple[Note, ...]:
    """Return a note where more fuel is to be aboard [L] at a fix than as the last plan began."""
    known_l = last.fuel_aboard_l
    if known_l is None or aboard_l <= known_l + SAME_L:
        return ()
    return (Note("fuel_over_last", {"aboard_l": aboard_l, "more_l": aboard_l - known_l, "last_l": known_l}),)


def _position(last: LastPlan, plan: Plan) -> Change:
    there, fix = planned_place(last, plan.passage.departure), plan.route[0]
    distance, bearing = great_circle(*(np.array([value]) for value in (there.lat, there.lon, fix.lat, fix.lon)))
    off_nm = float(distance[0]) / M_PER_NM
    return Change(
        Note("position"),
        Note("place", {"lat": there.lat, "lon": there.lon}),
        Note("place_off" if off_nm >= 1.0 else "place_kept", {"off_nm": off_nm, "bearing_deg": float(bearing[0])}),
    )


def _bank(last: LastPlan, plan: Plan, bank: ObservedBank) -> Change:
    times, now = _times(last), _seconds(plan.passage.departure)
    low, high = (float(np.interp(now, times, values)) for values in (last.soc_p10, last.soc_p90))
    foreseen, soc = foreseen_soc(last, plan.passage.departure), bank.state_of_charge
    amp_hours = (soc - foreseen) * plan.boat.bank.capacity_ah * plan.boat.bank.health
    span = {"low": low, "high": high}
    if low - 0.005 <= soc <= high + 0.005:
        why = Note("bank_within", span)
    elif bank.low <= high and bank.high >= low:
        why = Note("bank_within_doubt", span)
    else:
        why = Note("bank_under" if soc < low else "bank_over", span)
    observed = Note("soc_observed", {"soc": soc, "low": bank.low, "high": bank.high, "amp_hours": amp_hours})
    return Change(Note("bank"), Note("soc", {"soc": foreseen}), observed, why)


def _arrival(last: LastPlan, plan: Plan) -> Change:
    later = _hours(plan.arrival - last.arrival)
    why = NOTHING if abs(later) < SAME_H else Note("later" if later > 0 else "earlier", {"hours": abs(later)})
    return Change(Note("arrival"), _moment(last.arrival, plan), _moment(plan.arrival, plan), why)


def _energy(last: LastPlan, plan: Plan, what: Note, foreseen_w: tuple[float, ...], quantity: str) -> Change:
    before = _to_come_wh(last, plan.passage.departure, foreseen_w)
    step_h = float(plan.track.attrs["step_s"]) / 3600.0
    after = float(plan.planned[quantity].values.sum()) * step_h
    hours = _hours(last.arrival - plan.passage.departure), _hours(plan.arrival - plan.passage.departure)
    why = NOTHING
    if abs(after - before) > SAME_WH * max(before, 1.0):
        rate = (after / hours[1] - before / hours[0]) * 24.0 if min(hours) > 0.0 else 0.0
        why = Note("energy_rate", {"wh_per_day": rate})
    return Change(what, Note("energy", {"wh": before}), Note("energy", {"wh": after}), why)


def _sun(change: Change, plan: Plan, by_sky: BySky | None) -> Change:
    """Return what became of the sun with what of it the log's sky makes."""
    days = _hours(plan.arrival - plan.passage.departure) / 24.0
    if by_sky is None or abs(by_sky.wh_per_day.p50) * days < SAME_WH * float(str(change.now.figures["wh"])):
        return change
    seen = Note("sun_by_sky", {"wh_per_day": by_sky.wh_per_day.p50})
    return replace(change, why=seen if change.why is NOTHING else together([change.why, seen]))


def _engine(last: LastPlan, plan: Plan, by_bank_h: Spread | None, by_sky: BySky | None) -> Change:
    now = plan.passage.departure
    before = sum(_hours(stop - max(start, now)) for start, stop in last.charging if stop > now)
    after = plan.charging_hours.planned
    why = NOTHING
    if by_bank_h is not None:
        of_sky = by_sky.charging_h.middle if by_sky is not None else Spread(0.0, 0.0, 0.0, 0.0)
        by_rest = after - by_bank_h.planned - of_sky.planned - before
        parts = (
            Note("engine_by_bank", _hours_of(by_bank_h)),
            Note("engine_by_sky", _hours_of(of_sky)),
            Note("engine_by_rest", {"hours": by_rest}),
        )
        why = together([part for part in parts if abs(float(str(part.figures["hours"]))) >= SAME_H])
    return Change(Note("engine_to_charge"), Note("hours", {"hours": before}), Note("hours", {"hours": after}), why)


def _hours_of(spread: Spread) -> dict[str, float]:
    return {"hours": spread.planned, "low_h": spread.p10, "high_h": spread.p90}


def _action(last: LastPlan, plan: Plan) -> Change | None:
    """Return what the first watch that begins from now on asks for, by both ladders, at the reading now expected."""
    ahead = [ladder for ladder in last.ladders if ladder.start >= plan.passage.departure]
    row = next((row for row in plan.watches if ahead and row.start == ahead[0].start), None)
    if row is None:
        return None
    reading = round(100.0 * row.soc.planned)
    old = next(minutes for from_percent, minutes in ahead[0].rungs if reading >= from_percent)
    new = next(rung.minutes for rung in row.ladder if reading >= rung.from_percent)
    return Change(
        Note("watch_from", {"at": _ship_time(row.start, plan)}),
        Note("old_ladder", {"minutes": old, "reading": reading}),
        Note("new_ladder", {"minutes": new}),
        NOTHING if old == new else Note("ladders_anew"),
    )


def _to_come_wh(last: LastPlan, now: datetime, power_w: tuple[float, ...]) -> float:
    edges = np.append(_times(last), _seconds(last.arrival))
    begins = np.maximum(edges[:-1], _seconds(now))
    hours = np.maximum(edges[1:] - begins, 0.0) / 3600.0
    return float((hours * np.asarray(power_w)).sum())


def _times(last: LastPlan) -> Floats:
    return np.array([_seconds(moment) for moment in last.time])


def _seconds(moment: datetime) -> float:
    return moment.timestamp()


def _hours(span: timedelta) -> float:
    return span.total_seconds() / 3600.0


def _ship_time(moment: datetime, plan: Plan) -> datetime:
    return moment.astimezone(UTC) + plan.ship_offset


def _moment(moment: datetime, plan: Plan) -> Note:
    return Note("moment", {"at": _ship_time(moment, plan)})
