"""What readings compared with the model show, for the terminal: the answer first, then a table for each matter."""

from __future__ import annotations

from planner.domain.results.reconcile.findings import ControllerFinding, Reconciliation
from planner.presentation.words.content import Column, Page, Table
from planner.presentation.words.notes import said
from planner.presentation.words.reconcile.sentences import (
    answer,
    minutes,
    percents,
    since_words,
    with_interval,
)
from planner.presentation.words.wording import moment_words, percent, whole

LEAST_SHARE = 0.005  # 1, of a cause that is named


def page_of(found: Reconciliation) -> Page:
    """Return answer and tables for the terminal."""
    return Page(
        title=title(found),
        answer=(*answer(found), *found.warnings),
        pictures=(),
        tables=(
            controllers_table(found),
            evidence_table(found),
            loads_table(found),
            bank_table(found),
            sky_table(found),
        ),
    )


def title(found: Reconciliation) -> str:
    """Return what was read, from when to when."""
    first, last = (moment_words(moment, found.ship_offset) for moment in (found.first, found.last))
    return f"Readings against the model: {first} to {last}"


def controllers_table(found: Reconciliation) -> Table:
    """Return a line for each controller."""
    return Table(
        "Controllers",
        (
            Column("Controller", "left"),
            Column("Verdict", "left"),
            Column("Of expected"),
            Column("Since", "left"),
            Column("Judged h"),
            Column("In shade h"),
            Column("At limit h"),
            Column("Bank full h"),
        ),
        tuple(_controller_row(one, found) for one in found.controllers),
        note="Of expected: read over what a sound one yields under the sky that all controllers together tell of; in "
        "brackets nine cases in ten.",
    )


def evidence_table(found: Reconciliation) -> Table:
    """Return each finding's evidence in its own words."""
    rows = [(one.controller, said(one.evidence)) for one in found.controllers]
    rows += [(f"{one.controller}, what it may be", _causes(one)) for one in found.controllers if one.causes]
    rows += [("loads", said(found.loads.evidence)), ("bank", said(found.bank.evidence))]
    rows += [
        ("sky", said(found.sky.evidence)),
        ("clock", f"{minutes(found.clock.fast_min)} fast. {said(found.clock.evidence)}"),
    ]
    return Table("The evidence", (Column("Of", "left"), Column("What tells it", "left")), tuple(rows))


def loads_table(found: Reconciliation) -> Table:
    """Return loads by hour of the ship's day."""
    rows = tuple(
        (
            f"{hour.hour:02d}:00",
            with_interval(hour.read_w),
            whole(hour.listed_w),
            "" if hour.read_w is None else whole(hour.read_w.value - hour.listed_w),
            f"{hour.hours:.1f}",
        )
        for hour in found.loads.hours
    )
    columns = (
        Column("From", "left"),
        Column("Read W"),
        Column("Listed W"),
        Column("More W"),
        Column("Judged h"),
    )
    return Table(
        "Loads by ship's hour", columns, rows, note="Read: controllers less what went into the bank, engine off."
    )


def bank_table(found: Reconciliation) -> Table:
    """Return what the bank's readings come to beside what is listed."""
    rows = (("capacity [Ah]", with_interval(found.bank.capacity_ah), whole(found.bank.listed_ah)),)
    return Table("Bank", (Column("What", "left"), Column("By the readings"), Column("Listed")), rows)


def sky_table(found: Reconciliation) -> Table:
    """Return the sky's light by day beside the forecast's."""
    rows = tuple(
        (
            f"day {day.day}",
            with_interval(day.found_wh_m2),
            whole(day.forecast_wh_m2[1]),
            f"{whole(day.forecast_wh_m2[0])} to {whole(day.forecast_wh_m2[2])}",
        )
        for day in found.sky.days
    )
    columns = (Column("Day", "left"), Column("Found"), Column("Forecast"), Column("Eight forecasts in ten"))
    return Table("Sunlight on the level, while read [Wh/m2]", columns, rows)


def _causes(one: ControllerFinding) -> str:
    """Return the causes that may be at a controller, each with its share."""
    told = (f"{cause.name} {percent(cause.share)}" for cause in one.causes if cause.share >= LEAST_SHARE)
    return ", ".join(told)


def _controller_row(one: ControllerFinding, found: Reconciliation) -> tuple[str, ...]:
    hours = (f"{value:.0f}" for value in (one.judged_h, one.shaded_h, one.clipped_h, one.full_h))
    return (one.controller, one.verdict, percents(one.ratio), since_words(one, found), *hours)
