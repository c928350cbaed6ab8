"""Variants side by side in words, tables and a figure."""

from __future__ import annotations

from planner.domain.results.studies import ComparedRow, Comparison
from planner.presentation.drawing.value_plots import Whisker, whiskers
from planner.presentation.pages.page import with_rows
from planner.presentation.words.content import Column, Page, Picture, Table
from planner.presentation.words.notes import all_said
from planner.presentation.words.reserve_kept import IN_WIND
from planner.presentation.words.wording import moment_words, signed, signed_points, signed_tenths, whole, with_span


def page_of(comparison: Comparison) -> Page:
    """Return the study as a page."""
    done = [row for row in comparison.rows if row.difference is not None]
    return Page(
        title=f"{len(comparison.rows)} variants beside the passage as filed",
        answer=(
            _answer(done),
            f"All are planned on the same {comparison.members} members of the forecast{_winds(comparison)}.",
        ),
        pictures=(_picture(done),) if done else (),
        tables=with_rows(_figures(comparison), _differences(comparison), _wirings(comparison), _failures(comparison)),
    )


def _winds(comparison: Comparison) -> str:
    kept = comparison.base.reserve_kept
    return "" if kept is None else f", {IN_WIND[kept.wind]}"


def _answer(done: list[ComparedRow]) -> str:
    ranked = [(row.difference.charging_h, row) for row in done if row.difference is not None]
    if not ranked:
        return "No variant could be planned."
    change, best = min(ranked, key=lambda pair: pair[0].p50)
    if change.p50 >= 0.0:
        return "No variant charges for less than the passage as filed."
    return (
        f"'{best.name}' saves most engine: {with_span(change.middle, signed_tenths)} h of charging against the "
        "passage as filed (the middle forecast, and eight in ten)."
    )


def _figures(comparison: Comparison) -> Table:
    rows = []
    for row in (comparison.base, *comparison.rows):
        figures, kept = row.figures, row.reserve_kept
        if figures is None or kept is None or row.arrival is None or row.ship_offset is None:
            rows.append((row.name, *["failed", *[""] * 7]))
            continue
        rows.append(
            (
                row.name,
                whole(figures.solar_wh.planned),
                f"{figures.charging_h.planned:.1f}",
                f"{figures.engine_h.planned:.1f}",
                f"{figures.fuel_l.planned:.1f}",
                f"{100.0 * figures.min_soc.planned:.0f}",
                f"{100.0 * figures.arrival_soc.planned:.0f}",
                f"{kept.kept} of {kept.members}",
                moment_words(row.arrival, row.ship_offset),
            )
        )
    return Table(
        "Each as planned",
        (
            Column("Variant", "left"),
            Column("Sun Wh"),
            Column("Charging h"),
            Column("Engine h"),
            Column("Fuel L"),
            Column("Lowest %"),
            Column("Arrival %"),
            Column("Reserve kept"),
            Column("Arrives", "left"),
        ),
        tuple(rows),
        note="Engine counts driving, too. Reserve kept: trials on weather held out of the ladders.",
    )


def _differences(comparison: Comparison) -> Table:
    rows = [
        (
            row.name,
            with_span(change.solar_wh.middle, signed),
            with_span(change.charging_h.middle, signed_tenths),
            with_span(change.fuel_l.middle, signed_tenths),
            with_span(change.min_soc.middle, signed_points),
            with_span(change.arrival_soc.middle, signed_points),
            signed_tenths(change.passage_h.p50),
        )
        for row in comparison.rows
        if (change := row.difference) is not None
    ]
    return Table(
        "Less the passage as filed, member by member",
        (
            Column("Variant", "left"),
            Column("Sun Wh"),
            Column("Charging h"),
            Column("Fuel L"),
            Column("Lowest, points"),
            Column("Arrival, points"),
            Column("Passage h"),
        ),
        tuple(rows),
        note="The middle of the members' own differences, and in brackets eight tenths of them: each member is set "
        "against itself, so that what both variants share is not in the span.",
    )


def _wirings(comparison: Comparison) -> Table:
    rows = tuple((row.name, "; ".join(all_said(row.wiring))) for row in comparison.rows if row.wiring)
    return Table(
        "How the panels that are left are wired", (Column("Variant", "left"), Column("Wiring", "left")), rows
    )


def _failures(comparison: Comparison) -> Table:
    rows = tuple((row.name, row.failure) for row in comparison.rows if row.figures is None)
    return Table("Variants that could not be planned", (Column("Variant", "left"), Column("Why", "left")), rows)


def _picture(done: list[ComparedRow]) -> Picture:
    rows = [
        Whisker(row.name, row.difference.charging_h.middle, "first") for row in done if row.difference is not None
    ]
    return Picture(
        title="Hours of charging, less the passage as filed",
        caption="The middle forecast, with eight in ten; each member is set against itself.",
        legend=(("whisker first", "variant"),),
        drawings=whiskers(rows, unit="h", label="Difference of charging hours by variant. Its table follows."),
    )


def _values(name: str) -> str:
    """Return a name of a grid, 'departure=+6h, capacity_ah=300', without its keys; any other as it is."""
    return ", ".join(part.rpartition("=")[2] for part in name.split(", "))
