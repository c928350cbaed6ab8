"""The figures of a reconciliation: each controller through the days, by day and by sun; loads, bank and sky."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.results.reconcile.courses import SET_ASIDE, ControllerCourse, Courses
from planner.domain.results.reconcile.findings import ControllerFinding, Interval, Reconciliation
from planner.presentation.drawing.frame import Frame, even_ticks
from planner.presentation.drawing.time_chart import StripRun, corners_of, time_axis, time_chart
from planner.presentation.drawing.value_plots import Beside, SunCell, sun_grid, upright
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import PassageHours, spans
from planner.presentation.words.notes import said
from planner.presentation.words.reconcile.sentences import percents, with_interval
from planner.presentation.words.reconcile.tables import loads_table, sky_table
from planner.presentation.words.wording import percent, whole

PERCENT = 100.0
MOST_TICKS = 6
DEGREES = "\N{DEGREE SIGN}"
WEAK_BELOW = 0.9  # 1, a cell by the sun stands out where its whole interval lies under this
HATCH = {
    "shaded": "in-shade",
    "clipped": "at-limit",
    "full bank": "bank-full",
    "unsure": "unsure",
    "not read": "unread",
}


def figures(found: Reconciliation) -> tuple[Figure, ...]:
    """Return all figures in the order in which the page shows them."""
    hours = hours_of(found.courses, found)
    each: list[Figure] = []
    for number, (one, course) in enumerate(zip(found.controllers, found.courses.controllers, strict=True), start=1):
        key = f"controller-{number}"
        each.append(_course(key, one, course, found, hours))
        each += [_by_day(key, one)] if one.days else []
        each += [_by_sun(key, one)] if one.by_sun else []
    each += [_loads(found)] if any(hour.read_w for hour in found.loads.hours) else []
    each += [_bank(found, hours)] if np.isfinite(found.courses.read_soc).any() else []
    each += [_sky(found)] if found.sky.days else []
    return tuple(each)


def hours_of(courses: Courses, found: Reconciliation) -> PassageHours:
    """Return clock and steps of the courses."""
    count = courses.time.size
    start: datetime = courses.time[0].astype("datetime64[s]").item()
    per_hour = round(3600.0 / courses.step_s)
    return PassageHours(
        start=start,
        offset=found.ship_offset,
        step_h=courses.step_s / 3600.0,
        steps=count,
        first_steps=np.arange(0, count, per_hour, dtype=np.int64),
        last_day=1 + int((count - 1) * courses.step_s // 86400),
    )


def _course(
    key: str, one: ControllerFinding, course: ControllerCourse, found: Reconciliation, hours: PassageHours
) -> Figure:
    """Return a controller's watts read beside those to be expected, hour by hour."""
    read, low, expected, high = (
        _mean(values, hours) for values in (course.read_w, course.low_w, course.expected_w, course.high_w)
    )
    edges = hours.edges_h
    night = found.courses.sun_elevation_deg < 0.0
    words: dict[str, str] = dict(SET_ASIDE)
    shown = [why for why, _ in SET_ASIDE if (course.use == why).any()]

    def courses(frame: Frame) -> None:
        corners = corners_of(edges)
        frame.band("expected", corners, np.repeat(low, 2), np.repeat(high, 2))
        frame.line("read", corners, np.repeat(read, 2))

    drawings = time_chart(
        time_axis(hours, spans(night, hours.step_h)),
        even_ticks(0.0, float(np.nanmax(np.concatenate([read, high, [10.0]]))), MOST_TICKS),
        courses,
        label=f"{one.controller}: read beside expected, hourly means. {one.verdict}. Its table follows.",
        unit="W",
        runs=tuple(
            StripRun(HATCH[why], start, stop)
            for why in shown
            for start, stop in spans((course.use == why) & ~night, hours.step_h)
        ),
        cursor=((edges[:-1] + edges[1:]) / 2.0, read),
        strip="aside",
    )
    why = _why(course, night, hours, words)
    names = hours.names()
    readings = tuple(
        f"{name}: read {_w(r)}, expected {_w(e)} ({_w(lo)} to {_w(hi)})" + (f"; {w}" if w else "")
        for name, r, e, lo, hi, w in zip(names, read, expected, low, high, why, strict=True)
    )
    rows = tuple(
        (name, _w(r), _w(e), f"{_w(lo)} to {_w(hi)}", w or "judged")
        for name, r, e, lo, hi, w in zip(names, read, expected, low, high, why, strict=True)
        if np.isfinite(r) and (r > 0.5 or (np.isfinite(hi) and hi > 0.5))
    )
    columns = ("Read", "Expected", "Interval")
    return Figure(
        key=f"{key}-course",
        title=f"{one.controller}: {one.verdict}",
        caption=f"{said(one.evidence)} Shaded columns are nights; the strip says which hours are set aside, and why.",
        legend=(
            ("line read", "read"),
            ("area expected", "expected of a sound one under the sky that was found, nine cases in ten"),
            *((f"run {HATCH[reason]}", words[reason]) for reason in shown),
        ),
        drawings=drawings,
        readings=readings,
        table=Table(
            f"{one.controller}, mean watts over each hour with sun",
            (Column("Ship's time", "left"), *(Column(name) for name in columns), Column("Use", "left")),
            rows,
        ),
    )


def _by_day(key: str, one: ControllerFinding) -> Figure:
    """Return a controller's ratio by day."""
    high = max(1.2, *(min(day.ratio.high, 1.6) for day in one.days))
    beside = [
        Beside(str(day.day), _triple(day.ratio, PERCENT), css="amiss" if day.ratio.high < 1.0 else "found")
        for day in one.days
    ]
    rows = tuple(
        (f"day {day.day}", percents(day.ratio), f"{day.hours:.1f}", whole(day.read_wh), whole(day.expected_wh))
        for day in one.days
    )
    headings = ("Of expected", "Judged h", "Read Wh", "Expected Wh")
    return Figure(
        key=f"{key}-days",
        title=f"{one.controller}: yield by day",
        caption="Over the hours that may be judged: read over expected. Whiskers hold nine cases in ten.",
        legend=(("mark found", "as expected, or not shown to differ"), ("mark amiss", "less than expected")),
        drawings=upright(
            beside,
            even_ticks(0.0, PERCENT * high, MOST_TICKS),
            "%",
            label=f"{one.controller}: ratio of read to expected on {len(beside)} days. Its table follows.",
            level=(PERCENT, "as expected"),
        ),
        readings=tuple(f"Day {day.day}: {percents(day.ratio)}, {day.hours:.1f} h judged" for day in one.days),
        table=Table(
            f"{one.controller}, read over expected by day",
            (Column("Day", "left"), *(Column(name) for name in headings)),
            rows,
        ),
        steps="day by day",
    )


def _by_sun(key: str, one: ControllerFinding) -> Figure:
    """Return a controller's ratio by where the sun stood."""
    cells = [
        SunCell(
            each.relative_bearing_deg,
            each.elevation_deg,
            f"{PERCENT * each.ratio.value:.0f}",
            each.ratio.high < WEAK_BELOW,
        )
        for each in one.by_sun
    ]
    words = [
        f"sun {each.relative_bearing_deg:03.0f}{DEGREES} from the bow, {each.elevation_deg:.0f}{DEGREES} up"
        for each in one.by_sun
    ]
    figures_of = [percents(each.ratio) for each in one.by_sun]
    rows = tuple(
        (word, ratio, f"{each.hours:.1f}") for word, ratio, each in zip(words, figures_of, one.by_sun, strict=True)
    )
    return Figure(
        key=f"{key}-sun",
        title=f"{one.controller}: yield by where the sun stood",
        caption="Percent of expected, by the sun's bearing clockwise from the bow and its height. A shadow that the "
        "boat file does not know shows as cells that stand out on one side; a weak panel is weak in all.",
        legend=(
            ("cell", "as expected, or not shown to differ"),
            ("cell amiss", f"under {percent(WEAK_BELOW)}, surely"),
        ),
        drawings=sun_grid(cells, label=f"{one.controller}: ratio by sun angle. Its table follows."),
        readings=tuple(f"{word}: {ratio}" for word, ratio in zip(words, figures_of, strict=True)),
        table=Table(
            f"{one.controller}, read over expected by where the sun stood",
            (Column("Sun", "left"), Column("Of expected"), Column("Judged h")),
            rows,
        ),
        steps="cell by cell",
    )


def _loads(found: Reconciliation) -> Figure:
    """Return loads by hour of the ship's day, read beside listed."""
    hours = found.loads.hours
    read = [hour.read_w for hour in hours if hour.read_w]
    high = max([10.0, *(hour.listed_w for hour in hours), *(one.high for one in read)])
    low = min([0.0, *(one.low for one in read)])
    beside = [
        Beside(
            f"{hour.hour:02d}",
            _triple(hour.read_w) if hour.read_w else None,
            (hour.listed_w, hour.listed_w, hour.listed_w),
            css="amiss" if hour.read_w and hour.read_w.low > hour.listed_w else "found",
        )
        for hour in hours
    ]
    return Figure(
        key="loads",
        title="Loads by hour of the ship's day",
        caption=said(found.loads.evidence),
        legend=(("line stated", "listed"), ("mark found", "read"), ("mark amiss", "read, more than listed")),
        drawings=upright(beside, even_ticks(low, high, MOST_TICKS), "W", label="Loads by hour. Its table follows."),
        readings=tuple(
            f"{hour.hour:02d}:00 ship's time: read {with_interval(hour.read_w)}, listed {whole(hour.listed_w)} W"
            for hour in hours
        ),
        table=loads_table(found),
        steps="hour by hour",
    )


def _bank(found: Reconciliation, hours: PassageHours) -> Figure:
    """Return the bank's state of charge as shown beside the ledger's."""
    courses, at = found.courses, hours.first_steps
    along = np.asarray(at * hours.step_h, dtype=np.float64)
    read, model = courses.read_soc[at], courses.model_soc[at]
    volts, model_v = _mean(courses.read_v, hours), _mean(courses.model_v, hours)

    def lines(frame: Frame) -> None:
        frame.line("modelled", along, PERCENT * model)
        frame.line("shown", along, PERCENT * read)

    drawings = time_chart(
        time_axis(hours, spans(courses.sun_elevation_deg < 0.0, hours.step_h)),
        even_ticks(0.0, PERCENT, MOST_TICKS),
        lines,
        label="State of charge as the monitor showed it beside the ledger's. Its table follows.",
        unit="%",
        runs=tuple(StripRun("charges", *span) for span in spans(courses.engine_on >= 0.5, hours.step_h)),
        cursor=(along, PERCENT * read),
    )
    names = hours.names()
    rows = tuple(
        (name, _percent(r), _percent(m), _volts(v), _volts(w))
        for name, r, m, v, w in zip(names, read, model, volts, model_v, strict=True)
    )
    headings = ("Shown", "By the ledger", "Volts read", "By the ledger")
    return Figure(
        key="bank",
        title="The bank, read and by the ledger",
        caption=f"{said(found.bank.evidence)} The ledger takes yields and engine as read and loads as listed: where "
        "the two part, a load, the capacity or the monitor differs.",
        legend=(
            ("line shown", "as the monitor showed it"),
            ("line modelled", "by the ledger"),
            ("run charges", "engine"),
        ),
        drawings=drawings,
        readings=tuple(f"{name}: shown {r}, by the ledger {m}; {v} V read, {w} V" for name, r, m, v, w in rows),
        table=Table(
            "State of charge and volts at each hour",
            (Column("Ship's time", "left"), *(Column(name) for name in headings)),
            rows,
        ),
    )


def _sky(found: Reconciliation) -> Figure:
    """Return the light of each day beside the forecast's."""
    days = found.sky.days
    most = max(max(day.found_wh_m2.high, day.forecast_wh_m2[2], 10.0) for day in days)
    beside = [Beside(str(day.day), _triple(day.found_wh_m2), day.forecast_wh_m2) for day in days]
    return Figure(
        key="sky",
        title="The sky that was found, day by day",
        caption=said(found.sky.evidence),
        legend=(("mark found", "as the panels together show"), ("area stated", "forecast, eight in ten")),
        drawings=upright(
            beside, even_ticks(0.0, most, MOST_TICKS), "Wh/m2", label="Light by day. Its table follows."
        ),
        readings=tuple(
            f"Day {day.day}: found {with_interval(day.found_wh_m2, unit='Wh/m2')}, forecast "
            f"{whole(day.forecast_wh_m2[1])} ({whole(day.forecast_wh_m2[0])} to {whole(day.forecast_wh_m2[2])})"
            for day in days
        ),
        table=sky_table(found),
        steps="day by day",
    )


def _why(course: ControllerCourse, night: np.ndarray, hours: PassageHours, words: dict[str, str]) -> list[str]:
    """Return for each hour why steps of it are set aside; empty where all in the sun are judged."""
    bounds = [*hours.first_steps, hours.steps]
    shown = []
    for first, end in pairwise(bounds):
        uses = course.use[first:end][~night[first:end]]
        shown.append(", ".join(words[why] for why in words if (uses == why).any()))
    return shown


def _mean(values: Floats, hours: PassageHours) -> Floats:
    """Return hourly means (hour,) of what was read of each hour; NaN where nothing was."""
    good = np.isfinite(values)
    total = np.add.reduceat(np.where(good, values, 0.0), hours.first_steps)
    count = np.add.reduceat(good.astype(np.float64), hours.first_steps)
    return np.asarray(np.where(count > 0.0, total / np.maximum(count, 1.0), np.nan))


def _triple(figure: Interval, times: float = 1.0) -> tuple[float, float, float]:
    return times * figure.low, times * figure.value, times * figure.high


def _w(watts: float) -> str:
    return f"{whole(watts)} W" if np.isfinite(watts) else "not read"


def _percent(part: float) -> str:
    return percent(part) if np.isfinite(part) else "not read"


def _volts(volts: float) -> str:
    return f"{volts:.1f}" if np.isfinite(volts) else "not read"
