"""Evidence on one controller's panels: a page to print, sign and send with a claim; and the trends as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.domain.history_results import Evidence, Trend
from planner.domain.reconcile_results import LEVEL, Interval
from planner.presentation.figure import Column, Table
from planner.presentation.look import asset, environment, script_source
from planner.presentation.studies_page import Page, Picture, joined
from planner.presentation.trend_drawing import trend_drawings
from planner.presentation.wording import EN_DASH, MINUS, NO_BREAK, percent, whole

NINE_IN_TEN = f"{round(100 * LEVEL)}{NO_BREAK}%"


@dataclass(frozen=True)
class _Sheet:
    """What the template shows."""

    title: str
    answer: tuple[str, ...]
    picture: Picture
    months: Table
    beside: Table
    aside: tuple[tuple[str, str], ...]
    panels: Table
    sources: Table


def trends_page(trends: Sequence[Trend]) -> Page:
    """Return the trends of all controllers as words and one table, for a terminal.

    Parameters
    ----------
    trends : sequence of Trend
    """
    weak = [one for one in trends if one.weak_since is not None]
    answer = [f"{one.controller}: {_weak_words(one)}" for one in weak] or ["No controller has grown weak."]
    return Page("Yield over the expected, by month", tuple(answer), (), (trends_table(trends),))


def trends_table(trends: Sequence[Trend]) -> Table:
    """Return one row a controller and month.

    Parameters
    ----------
    trends : sequence of Trend
    """
    rows = [
        (one.controller if place == 0 else "", month.month, percent(month.ratio.value), _span(month.ratio), *tail)
        for one in trends
        for place, month in enumerate(one.months)
        for tail in [(whole(month.days), f"{month.hours:.0f}")]
    ]
    return Table(
        "Each controller by month",
        (
            *(Column("Controller", "left"), Column("Month", "left"), Column("Of expected"), Column("Interval")),
            *(Column("Days"), Column("Hours judged")),
        ),
        tuple(rows),
        f"Intervals hold the truth in {NINE_IN_TEN} of cases.",
    )


def evidence_page(evidence: Evidence) -> str:
    """Return the page of HTML that needs no network.

    Parameters
    ----------
    evidence : Evidence
        With one judged day or more.
    """
    script = asset("red_light.js")
    return (
        environment()
        .get_template("evidence.html.j2")
        .render(
            sheet=_sheet(evidence),
            style=asset("report.css"),
            own_style=asset("studies.css") + asset("evidence.css"),
            script=script,
            script_source=script_source(script),
        )
    )


def _sheet(evidence: Evidence) -> _Sheet:
    trend, own = evidence.trend, evidence.days
    legend = [
        ("day-dot", "a day"),
        ("second", f"a month, with its {NINE_IN_TEN} interval"),
        ("line load", "as expected"),
    ]
    if trend.per_year is not None:
        legend.insert(2, ("line planned", "line through the months"))
    label = (
        f"Yield over the expected from {trend.months[0].month} to {trend.months[-1].month}: first "
        f"{percent(trend.months[0].ratio.value)}, last {percent(trend.months[-1].ratio.value)}. Its table follows."
    )
    caption = "100 is what panels of the listed rating and age should give under the same sky. " + (
        f"The tint is the line's {NINE_IN_TEN} interval." if trend.per_year is not None else ""
    )
    return _Sheet(
        title=f"Evidence on the panels of '{trend.controller}'",
        answer=_answer(evidence),
        picture=Picture("Month by month", caption, tuple(legend), trend_drawings(trend, own, label=label)),
        months=_months(trend),
        beside=_beside(evidence),
        aside=_aside(evidence),
        panels=Table(
            "The panels, as the boat file lists them",
            (Column("Panel", "left"), Column("Rating [W]"), Column("Age [years]")),
            tuple((one.name, f"{one.max_power_w:g}", f"{one.age_years:g}") for one in evidence.panels),
        ),
        sources=_sources(evidence),
    )


def _answer(evidence: Evidence) -> tuple[str, ...]:
    trend, last = evidence.trend, evidence.trend.months[-1]
    names = joined([one.name for one in evidence.panels])
    many = len(evidence.panels) > 1
    said = [f"In {last.middle:%B %Y} {names} gave {percent(last.ratio.value)} of the expected ({_span(last.ratio)})."]
    said.append(f"{'They' if many else 'It'} {_weak_words(trend)}")
    if trend.per_year is not None:
        said.append(f"The ratio changed by {_points(trend.per_year)} a year over {len(trend.months)} months.")
    else:
        said.append("Fewer than three months were logged: too few for a trend.")
    sound = [f"'{one.controller}'" for one in evidence.others if one.months and one.weak_since is None]
    if sound:
        said.append(f"Under the same sky, by the same model, the panels on {joined(sound)} are not weak.")
    return tuple(said)


def _weak_words(trend: Trend) -> str:
    if trend.weak_since is None:
        return "cannot be called weak: the last month's interval reaches the expected."
    return f"lay under the expected in every month since {trend.weak_since.day} {trend.weak_since:%B %Y}."


def _months(trend: Trend) -> Table:
    return Table(
        "The months in figures",
        (
            *(Column("Month", "left"), Column("Of expected"), Column("Interval"), Column("Line")),
            *(Column("Days judged"), Column("Hours judged")),
        ),
        tuple(
            (
                one.month,
                percent(one.ratio.value),
                _span(one.ratio),
                percent(one.fitted.value) if one.fitted else EN_DASH,
                whole(one.days),
                f"{one.hours:.0f}",
            )
            for one in trend.months
        ),
        f"Days of a month scatter by {_plain_points(trend.day_scatter)} beyond their own intervals.",
    )


def _beside(evidence: Evidence) -> Table:
    return Table(
        "The other controllers beside it",
        (
            *(Column("Controller", "left"), Column("Last month", "left"), Column("Of expected"), Column("Interval")),
            *(Column("Change a year [points]"), Column("Weak since", "left")),
        ),
        tuple(
            (
                one.controller,
                one.months[-1].month if one.months else EN_DASH,
                percent(one.months[-1].ratio.value) if one.months else EN_DASH,
                _span(one.months[-1].ratio) if one.months else EN_DASH,
                _points(one.per_year, unit="") if one.per_year else EN_DASH,
                f"{one.weak_since:%Y-%m-%d}" if one.weak_since else "not weak" if one.months else "not judged",
            )
            for one in (evidence.trend, *evidence.others)
        ),
        "The same sky, days and model. A fault of the model or of the sky would show in all of them.",
    )


def _aside(evidence: Evidence) -> tuple[tuple[str, str], ...]:
    aside, used = evidence.aside, len(evidence.days)
    judged = sum(day.hours for day in evidence.days)
    return (
        ("Days in the logs", f"{evidence.days_logged}, of which {used} had hours that may be judged"),
        ("Days set aside", f"{evidence.days_logged - used}: no hour of them was clear of all that follows"),
        ("Hours judged", f"{judged:.0f} h"),
        ("Shadow on the panels", f"{aside.shaded_h:.0f} h set aside, by the model of sails, spars and rig"),
        ("Controller at its limit", f"{aside.clipped_h:.0f} h set aside"),
        ("Bank full, sun turned away", f"{aside.full_h:.0f} h set aside"),
    )


def _sources(evidence: Evidence) -> Table:
    return Table(
        "What it rests on",
        (Column("Days from", "left"), Column("Days"), Column("Logs", "left"), Column("Boat file", "left")),
        tuple(
            (
                f"{log.day_begins[0]:%Y-%m-%d}",
                whole(len(log.day_begins)),
                joined(log.logs) if log.logs else EN_DASH,
                f"{log.boat_file}, SHA-256 {log.boat_sha256[:12]}",
            )
            for log in evidence.logs
        ),
        _one_boat(evidence),
    )


def _one_boat(evidence: Evidence) -> str:
    boats = len({log.boat_sha256 for log in evidence.logs})
    if boats == 1:
        return "One boat file throughout."
    return (
        f"{boats} boat files: the boat was described anew between. What a file takes off the panels' rating by "
        "calibration is put back, so that all ratios are to the whole rating."
    )


def _span(ratio: Interval) -> str:
    return f"{round(100 * ratio.low)}{EN_DASH}{percent(ratio.high)}"


def _points(change: Interval, unit: str = " points") -> str:
    return f"{_signed(change.value)}{unit} ({_signed(change.low)} to {_signed(change.high)})"


def _plain_points(size: float) -> str:
    return f"{100 * size:.1f} points"


def _signed(change: float) -> str:
    return f"{MINUS if change < 0.0 else '+'}{abs(100 * change):.1f}"
