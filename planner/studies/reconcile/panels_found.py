"""What the readings show of each controller's panels: a verdict, the ratio with its interval, and the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.domain.arrays import Floats, Times
from planner.domain.inputs.boat import Boat
from planner.domain.results.note import Note, together
from planner.domain.results.reconcile.findings import (
    CauseShare,
    ControllerFinding,
    DayRatio,
    Interval,
    SunBin,
    Verdict,
)
from planner.domain.utc import from_numpy
from planner.studies.reconcile.causes import WIDE, Found, search
from planner.studies.reconcile.evidence import Figures, times
from planner.studies.reconcile.hours import A_DAY, LEVEL, OWN_DAY, Hours, forecast_log_index, hours_of
from planner.studies.reconcile.judged_steps import Judged, judged_steps
from planner.studies.reconcile.shared_sky import SharedSky, shared_sky
from planner.studies.reconcile.sky.sky_states import Dark, states_of

if TYPE_CHECKING:
    import xarray as xr

DAY: Final = np.timedelta64(24, "h")
LEAST_JUDGED_H: Final = 3.0  # h; fewer carry no verdict
MOSTLY: Final = 0.5  # 1, of the sun's hours set aside for one reason
FEW: Final = 2  # controllers; with more, the others together say which of them changed
BEARING_DEG, ELEVATION_DEG = 30.0, 15.0  # degree, of a part of the sky
MODEL: Final = 0.012  # 1, of the model of one controller, however long the log
VARIES: Final = 0.05  # 1, of a fault's size, by sun and sky
ONE_LOOK: Final = 0.05  # 1, standard deviation of one hour's look at it
LEAST_ASIDE_H: Final = 0.5  # h, set aside, that is worth naming
LEAST_LEFT: Final = 0.05  # 1, of a panel; with less left more than one is at fault
MAY_BE: Final = 1.0  # 1, log odds of a fault from which it is not called sound
DEAD: Final = 0.1  # 1, under which nothing to speak of comes


@dataclass(frozen=True, eq=False)
class Held:
    """Readings compared with the model.

    Attributes
    ----------
    time : array of datetime64 (time,)
        Starts of the steps, UTC.
    judged : Judged
    hours : Hours
    figures : Figures
        Of the hours, with what was found taken in.
    found : tuple of Found
        Causes that the log calls for.
    rest : tuple of Found
        The likeliest at each of the other controllers.
    sky : SharedSky
        With every controller's own part taken off: what a sound one gives is expected under it.
    common_sd : float
        Doubt of what all controllers have in common [1].
    """

    time: Times
    judged: Judged
    hours: Hours
    figures: Figures
    found: tuple[Found, ...]
    rest: tuple[Found, ...]
    sky: SharedSky
    common_sd: float

    def level(self, c: int) -> Floats:
        """Return the covariance of a controller's level with the figures."""
        return np.asarray(LEVEL**2 * (self.hours.controller == c), dtype=np.float64)

    def suspect(self, c: int) -> Found | None:
        """Return the likeliest cause at a controller where none was found."""
        return next((one for one in self.rest if one.controller == c), None)

    def at(self, c: int) -> Found | None:
        """Return what was found at a controller."""
        return next((one for one in self.found if one.controller == c), None)


def hold(
    steps: xr.Dataset,
    track: xr.Dataset,
    states: xr.Dataset,
    harvest: xr.Dataset,
    darks: dict[str, tuple[Dark, ...]],
    *,
    boat: Boat,
) -> Held:
    """Return readings compared with the model, and the causes that they call for.

    Parameters
    ----------
    steps : xarray.Dataset
        READINGS on the track's steps, the clock put right.
    track : xarray.Dataset
        As the glossary has it.
    states : xarray.Dataset
        Of ``sky_states``.
    harvest : xarray.Dataset
        The forecast's own, for what it says of the sky.
    darks : dict
        Of ``dark_ratios``.
    boat : Boat
    """
    judged = judged_steps(steps, track, states, controllers=boat.controller, bank=boat.bank)
    time = track["time"].to_numpy().astype("datetime64[ns]")
    prior = forecast_log_index(states, harvest)
    hours = hours_of(states, judged, time, prior)
    figures, found, rest = search(hours, judged, [darks[controller.name] for controller in boat.controller])
    many = len(boat.controller)
    own = np.zeros_like(judged.log_w)
    for c in range(many):
        own[:, c] = figures.told(LEVEL**2 * (hours.controller == c), LEVEL)[0]
    for one in found:
        own[:, one.controller] += figures.told(WIDE**2 * one.column, WIDE)[0] * one.by_step
    _, common_sd = figures.told(np.full(figures.value.size, LEVEL**2 / many), LEVEL / np.sqrt(many))
    sky = shared_sky(states_of(states), judged, own=own, prior=prior)
    return Held(time, judged, hours, figures, tuple(found), tuple(rest), sky, common_sd)


def judge_controllers(held: Held, *, boat: Boat) -> tuple[ControllerFinding, ...]:
    """Return what the readings show of each controller's panels, in boat order."""
    return tuple(_judge(held, boat, c) for c in range(len(boat.controller)))


def _judge(held: Held, boat: Boat, c: int) -> ControllerFinding:
    judged, found, controller = held.judged, held.at(c), boat.controller[c]
    read = bool((held.hours.controller == c).any())
    panels = tuple(name for string in controller.strings for name in string)
    listed = np.array([(p.max_power_w * p.measured_fraction, p.max_power_w) for p in boat.panel if p.name in panels])
    judged_h, clipped_h, full_h, shaded_h = (
        float(flags[:, c].sum() * judged.step_h)
        for flags in (judged.fair, judged.clipped, judged.full, judged.shaded)
    )
    shared, prior_sd = held.level(c), LEVEL
    change = None
    if found is not None and found.name != "shaded":
        size = WIDE**2 * found.column
        value, sd = held.figures.told(size, WIDE)
        change = times(value, float(np.hypot(sd, VARIES * value)))
        shared, prior_sd = shared + size, float(np.hypot(LEVEL, WIDE))
    value, sd = held.figures.told(shared, prior_sd)
    ratio = times(value, float(np.hypot(sd, MODEL))) if read else None
    verdict = _verdict(found, held.suspect(c), ratio, (judged_h, clipped_h, full_h, shaded_h))
    since = None
    if found is not None and found.begins_hour is not None:
        since = from_numpy(held.time[0]) + timedelta(hours=found.begins_hour)
    if ratio is None or judged_h < LEAST_JUDGED_H:
        aside = ((Note("aside_full"), full_h), (Note("aside_clipped"), clipped_h), (Note("aside_shaded"), shaded_h))
        told = [Note("aside", {"why": why, "hours": hours}) for why, hours in aside if hours >= LEAST_ASIDE_H]
        notes = [Note("little_judged", {"judged_h": judged_h, "aside": told or [Note("nothing_aside")]})]
    else:
        level = _level(held, ratio, change if since else None, judged_h)
        notes = [level, *_cause(held, c, panels, (change or ratio).value, verdict)]
    return ControllerFinding(
        controller=controller.name,
        panels=panels,
        listed_fraction=float(np.divide(*listed.sum(axis=0))),
        verdict=verdict,
        since=since,
        ratio=ratio,
        change=change if since else None,
        judged_h=judged_h,
        clipped_h=clipped_h,
        full_h=full_h,
        shaded_h=shaded_h,
        days=_days(held, c),
        by_sun=_by_sun(held, c),
        causes=_shares(one) if (one := found or held.suspect(c)) else (),
        evidence=together([*notes, *([] if judged.bank_read else [Note("bank_not_read")])]),
    )


def _verdict(found: Found | None, suspect: Found | None, ratio: Interval | None, hours: tuple[float, ...]) -> Verdict:
    """Return the first verdict that the evidence supports."""
    judged, clipped, full, _ = hours
    if ratio is None or judged < LEAST_JUDGED_H:
        if full > MOSTLY * sum(hours):
            return "full bank"
        return "clipped" if clipped > MOSTLY * sum(hours) else "cannot tell"
    if found is not None and found.name != "gained":
        return found.name
    if suspect is not None and suspect.name != "gained" and suspect.odds > MAY_BE:
        return "cannot tell"
    if ratio.low <= 1.0 <= ratio.high:
        return "as expected"
    return "less than expected" if ratio.high < 1.0 else "more than expected"


def _shares(one: Found) -> tuple[CauseShare, ...]:
    """Return the causes that may be at a controller with their shares, the likeliest first."""
    names, odds = list(one.named), np.array(list(one.named.values()))
    weight = np.exp(odds - odds.max())
    ranked = sorted(zip((weight / weight.sum()).tolist(), names, strict=True), reverse=True)
    return tuple(CauseShare(name, share) for share, name in ranked)


def _level(held: Held, ratio: Interval, change: Interval | None, judged_h: float) -> Note:
    """Return what the controller gives of what it should, and of what it gave, and against what."""
    others = int(held.judged.fair.any(axis=0).sum()) - 1
    against = Note("against_others" if others > 1 else "against_other", {"others": others})
    figures = {"ratio": ratio, "judged_h": judged_h, "against": against if others else Note("against_clear_sky")}
    return Note("panels_changed", {**figures, "change": change}) if change else Note("panels_level", figures)


def _cause(held: Held, c: int, panels: tuple[str, ...], left: float, verdict: Verdict) -> list[Note]:
    """Return what may be at fault, and where to look."""
    found, many = held.at(c) or held.suspect(c), len(panels)
    if found is None or verdict in {"as expected", "more than expected"}:
        return []
    notes = []
    if held.at(c) and found.begins_hour and 1 < held.judged.fair.any(axis=0).sum() <= FEW:
        notes.append(Note("one_of_two"))
    if verdict == "shaded":
        first, last, under = found.sector
        notes.append(Note("sun_in", {"from_deg": first, "to_deg": last, "under_deg": under}))
    elif left < DEAD:
        notes.append(Note("nothing_comes"))
    elif verdict in {"substring out", "panel dark"}:
        notes.append(Note("substring_out" if verdict == "substring out" else "panel_dark", {"panel": found.panel}))
    elif many == 1:
        notes.append(Note("wash_it"))
    if many > 1 and verdict != "shaded":
        alone = 1.0 - many * (1.0 - left)
        one = Note("several_at_fault" if alone <= LEAST_LEFT else "one_at_fault", {"left": alone})
        notes.append(Note("cover_each", {"panels": many, "alone": one}))
    return notes


def _days(held: Held, c: int) -> tuple[DayRatio, ...]:
    """Return a controller's ratio on each day that was judged, with the day's own error in it."""
    judged, hours, found = held.judged, held.hours, held.at(c)
    read, expected = np.exp(judged.log_w[:, c]), np.exp(held.sky.expected[:, c])
    rows = []
    for number in np.unique(hours.day[hours.controller == c]):
        today = (hours.controller == c) & (hours.day == number)
        shared, prior = held.level(c) + OWN_DAY**2 * today, LEVEL**2 + OWN_DAY**2
        if found is not None:
            size = float(found.column[today].mean())
            shared, prior = shared + size * WIDE**2 * found.column, prior + (size * WIDE) ** 2
        here = judged.fair[:, c] & (hours.of_step // A_DAY == number)
        rows.append(
            DayRatio(
                day=int(number) + 1,
                begins=from_numpy(held.time[0] + number * DAY),
                ratio=times(*held.figures.told(shared, float(np.sqrt(prior)))),
                hours=float(here.sum() * judged.step_h),
                read_wh=float(read[here].sum() * judged.step_h),
                expected_wh=float(expected[here].sum() * judged.step_h),
            )
        )
    return tuple(rows)


def _by_sun(held: Held, c: int) -> tuple[SunBin, ...]:
    """Return a controller's ratio by where the sun stood."""
    judged = held.judged
    fair, (ahead, starboard, up) = judged.fair[:, c], judged.toward.T
    column = (np.degrees(np.arctan2(starboard, ahead)) % 360.0 // BEARING_DEG).astype(np.int64)
    row = (np.degrees(np.arcsin(up)) // ELEVATION_DEG).astype(np.int64)
    bins = []
    for place in sorted(set(zip(row[fair].tolist(), column[fair].tolist(), strict=True))):
        here = fair & (row == place[0]) & (column == place[1])
        hours = float(here.sum() * judged.step_h)
        sd = float(np.hypot(ONE_LOOK / np.sqrt(max(hours, 1.0)), held.common_sd))
        ratio = times(float(np.median(held.sky.apart[here, c])), sd)
        bins.append(SunBin((place[1] + 0.5) * BEARING_DEG, (place[0] + 0.5) * ELEVATION_DEG, ratio, hours))
    return tuple(bins)
