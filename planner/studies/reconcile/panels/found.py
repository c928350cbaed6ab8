"""What the readings show of each controller's panels: a verdict, the ratio with its interval, and the evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from planner.domain.arrays import Floats, Ints
from planner.domain.inputs.boat import Boat
from planner.domain.results.note import NOTHING
from planner.domain.results.reconcile.findings import ControllerFinding, DayRatio, Interval, SunBin, Verdict
from planner.domain.utc import from_numpy
from planner.studies.reconcile.judged_steps import Judged, judged_steps
from planner.studies.reconcile.panels.evidence import Facts, SunHours, evidence_of
from planner.studies.reconcile.panels.levels import MODEL_LEVEL, OWN_LEVEL, SOUND_LEVEL, Level, Levels, panel_levels
from planner.studies.reconcile.panels.sun_bins import Bins, shadow_of, sun_bins, where_of
from planner.studies.reconcile.sky_states import states_of

if TYPE_CHECKING:
    import xarray as xr

Ratios = dict[str, tuple[tuple[str, Floats], ...]]

DAY: Final = np.timedelta64(24, "h")
SIGMAS: Final = 1.645  # 1, half-width of an interval at LEVEL in standard deviations
LEAST_JUDGED_H: Final = 3.0  # h; fewer carry no verdict
MOSTLY: Final = 0.5  # 1, of the sun's hours set aside for one reason
STANDING_Z: Final = 2.5  # 1, standard deviations by which a level without a change must fall short
BY_NIGHT: Final = 0.7  # 1, clear-sky index where there is no light
INDEX_SPAN: Final = (0.05, 1.1)  # 1, that a forecast's is taken for
OWN_DAY: Final = 0.012  # 1, standard deviation of one day's own error
DEAD: Final = 0.1  # 1, under which nothing to speak of comes
SUBSTRING_SD: Final = 0.03  # 1, doubt of what a dark substring leaves
SUBSTRING_ODDS: Final = 3.0  # 1, by which it must be likelier than any other loss
LOSSES_SPAN: Final = 0.7  # 1, of the logarithm over which other losses are spread


@dataclass(frozen=True, eq=False)
class Held:
    """Readings compared with the model.

    Attributes
    ----------
    time : array of datetime64 (time,)
        Starts of the steps, UTC.
    day : int array (time,)
        Passage day, from 1.
    judged : Judged
    levels : Levels
    read_w, expected_w : array (time, controller)
        Delivered, and by the model under the sky that the other controllers show; NaN where that is not known [W].
    """

    time: npt.NDArray[np.datetime64]
    day: Ints
    judged: Judged
    levels: Levels
    read_w: Floats
    expected_w: Floats


def hold(steps: xr.Dataset, track: xr.Dataset, states: xr.Dataset, harvest: xr.Dataset, *, boat: Boat) -> Held:
    """Return readings compared with the model under the sky that the controllers share.

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
    boat : Boat
    """
    judged = judged_steps(steps, track, states, controllers=boat.controller, bank=boat.bank)
    time = track["time"].to_numpy().astype("datetime64[ns]")
    day = (time - time[0]) // DAY + 1
    levels = panel_levels(states_of(states), judged, time, day, forecast_log_index(states, harvest))
    read = np.exp(judged.log_w)
    return Held(time, day, judged, levels, read, read / np.exp(levels.sky.apart))


def forecast_log_index(states: xr.Dataset, harvest: xr.Dataset) -> Floats:
    """Return the logarithm of the clear-sky index of the forecast's mean light, (time,) [1]."""
    clear = clear_light(states)
    ghi = harvest["ghi_w_m2"].mean("member").to_numpy()
    index = np.divide(ghi, clear, out=np.full(ghi.shape, BY_NIGHT), where=clear > 1.0)
    return np.asarray(np.log(np.clip(index, *INDEX_SPAN)), dtype=np.float64)


def clear_light(states: xr.Dataset) -> Floats:
    """Return the cloudless sky's global light, (time,) [W/m2]."""
    at = int(np.flatnonzero(np.isclose(states["clear_index"].to_numpy(), 1.0))[0])
    return np.asarray(states["ghi_w_m2"].to_numpy()[at], dtype=np.float64)


def judge_controllers(held: Held, ratios: Ratios, *, boat: Boat) -> tuple[ControllerFinding, ...]:
    """Return what the readings show of each controller's panels.

    Parameters
    ----------
    held : Held
    ratios : dict
        Of ``substring_ratios``.
    boat : Boat

    Returns
    -------
    tuple of ControllerFinding
        In boat order.
    """
    return tuple(_judge(held, ratios[controller.name], boat, c) for c, controller in enumerate(boat.controller))


def _judge(held: Held, substrings: tuple[tuple[str, Floats], ...], boat: Boat, c: int) -> ControllerFinding:
    judged, level = held.judged, held.levels.of[c]
    bins = sun_bins(held.levels, judged, held.day, c)
    began = None if level.began is None else int(np.searchsorted(held.time, level.began))
    shadow = shadow_of(held.levels, judged, held.day, c, began=began)
    counted = bins.of_step >= 0
    hours = SunHours(
        *(
            float(flags.sum() * judged.step_h)
            for flags in (counted, judged.clipped[:, c], judged.full[:, c], judged.shaded[:, c])
        )
    )
    ratio, ratio_sd = _ratio(level, held.levels.common_sd)
    dark = _dark_substring(level, substrings, counted, ratio, ratio_sd)
    lost = _lost(level, held.levels.common_sd, ratio, ratio_sd)
    verdict = _verdict(hours, shadow, dark, lost=lost)
    if verdict == "shaded":
        assert shadow is not None
        lit = _mean(shadow, ~shadow.deep)
        ratio, ratio_sd = lit, float(np.hypot(held.levels.common_sd, MODEL_LEVEL))
    has_level = level.series.value.size > 0
    since = None
    if verdict in {"weak", "substring out"} and level.granted and level.after < level.before:
        assert level.began is not None
        since = from_numpy(level.began)
    controller = boat.controller[c]
    found = _interval(ratio, ratio_sd) if has_level else None
    facts = Facts(
        verdict=verdict,
        panels=tuple(name for string in controller.strings for name in string),
        ratio=found,
        before=None if not level.granted else float(np.exp(level.before)),
        change_z=level.change.z if level.change is not None else 0.0,
        granted=level.granted,
        others=int(judged.usable.any(axis=0).sum()) - 1,
        hours=hours,
        where=where_of(shadow) if shadow is not None else NOTHING,
        in_deep=float(np.exp(_mean(shadow, shadow.deep))) if shadow is not None else 1.0,
        substring=dark,
        bank_read=judged.bank_read,
        dead=found is not None and found.value < DEAD,
    )
    return ControllerFinding(
        controller=controller.name,
        panels=facts.panels,
        listed_fraction=_listed_fraction(boat, facts.panels),
        verdict=verdict,
        since=since,
        ratio=found,
        judged_h=hours.judged,
        clipped_h=hours.clipped,
        full_h=hours.full,
        shaded_h=hours.shaded,
        days=_days(held, counted, c),
        by_sun=tuple(
            SunBin(float(b), float(e), _interval(float(v), float(s)), float(h))
            for b, e, v, s, h in zip(
                bins.bearing_deg, bins.elevation_deg, bins.value, bins.sd, bins.hours, strict=True
            )
        ),
        evidence=evidence_of(facts),
    )


def _listed_fraction(boat: Boat, names: Sequence[str]) -> float:
    """Return what the boat file has left of the ratings of these panels together [1]."""
    panels = [panel for panel in boat.panel if panel.name in names]
    left = sum(panel.max_power_w * panel.measured_fraction for panel in panels)
    return left / sum(panel.max_power_w for panel in panels)


def _mean(bins: Bins, here: npt.NDArray[np.bool_]) -> float:
    return float(np.average(bins.value[here], weights=bins.hours[here]))


def _ratio(level: Level, common_sd: float) -> tuple[float, float]:
    """Return the logarithm of what a controller delivers over what it should, and its standard deviation.

    After a change it is compared with itself as far as the time before tells: what a sound controller is off by, and
    what the model gets wrong of it, shows there.
    """
    doubt = float(np.hypot(OWN_LEVEL, common_sd))
    if not level.granted or abs(level.before) > STANDING_Z * float(np.hypot(doubt, level.before_sd)):
        return level.after, float(np.hypot(level.after_sd, np.hypot(MODEL_LEVEL, common_sd)))
    share = doubt**2 / (doubt**2 + level.before_sd**2)
    left = (1.0 - share) * doubt**2
    return level.after - share * level.before, float(np.sqrt(level.after_sd**2 + left))


def _lost(level: Level, common_sd: float, ratio: float, ratio_sd: float) -> bool:
    """Return whether a controller surely gives less: since a change, or all the while beyond what sound ones may."""
    if level.granted and level.after < level.before and ratio + SIGMAS * ratio_sd < 0.0:
        return True
    doubt = float(np.sqrt(level.after_sd**2 + common_sd**2 + OWN_LEVEL**2))
    return level.after < -STANDING_Z * doubt


def _verdict(hours: SunHours, shadow: Bins | None, dark: tuple[str, float] | None, *, lost: bool) -> Verdict:
    if hours.judged < LEAST_JUDGED_H:
        sunny = hours.judged + hours.clipped + hours.full + hours.shaded
        if hours.full > MOSTLY * sunny:
            return "full bank"
        return "clipped" if hours.clipped > MOSTLY * sunny else "cannot tell"
    if shadow is not None:
        return "shaded"
    if not lost:
        return "as expected"
    return "weak" if dark is None else "substring out"


def _dark_substring(
    level: Level, substrings: tuple[tuple[str, Floats], ...], counted: npt.NDArray[np.bool_], ratio: float, sd: float
) -> tuple[str, float] | None:
    """Return the panel one dark substring of which explains the loss better than a weak panel, and its ratio.

    A loss that came on steadily is none. One that stands from the first reading has a sound panel's stray in it.
    """
    if level.granted and level.change is not None and level.change.slope_better_by > 0.0:
        return None
    spread = float(np.hypot(np.hypot(sd, 0.0 if level.granted else SOUND_LEVEL), SUBSTRING_SD))
    best: tuple[float, str, float] | None = None
    for name, by_step in substrings:
        expected = float(np.nanmedian(by_step[counted])) if counted.any() else np.nan
        if not expected > DEAD:
            continue
        density = float(np.exp(-0.5 * ((ratio - np.log(expected)) / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi)))
        odds = density * LOSSES_SPAN
        if odds > SUBSTRING_ODDS and (best is None or odds > best[0]):
            best = (odds, name, expected)
    return None if best is None else best[1:]


def _days(held: Held, counted: npt.NDArray[np.bool_], c: int) -> tuple[DayRatio, ...]:
    series, judged = held.levels.of[c].series, held.judged
    found = []
    for number in np.unique(series.day):
        hours = series.day == number
        weight = series.sd[hours] ** -2.0
        mean = float(np.average(series.value[hours], weights=weight))
        chi = float(np.mean(((series.value[hours] - mean) / series.sd[hours]) ** 2))
        own = max(1.0, chi) / weight.sum()
        here = counted & (held.day == number)
        found.append(
            DayRatio(
                day=int(number),
                begins=from_numpy(held.time[0] + (number - 1) * DAY),
                ratio=_interval(mean, float(np.sqrt(own + OWN_DAY**2))),
                hours=float(here.sum() * judged.step_h),
                read_wh=float(np.nansum(held.read_w[here, c]) * judged.step_h),
                expected_wh=float(np.nansum(held.expected_w[here, c]) * judged.step_h),
            )
        )
    return tuple(found)


def _interval(log_value: float, sd: float) -> Interval:
    return Interval(*(float(np.exp(log_value + k * sd)) for k in (0.0, -SIGMAS, SIGMAS)))
