"""What forecast files hold, in words and tables: for the terminal, the page and the local page."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from xml.etree import ElementTree as ET

from planner.domain.results.forecast import ForecastAccount, ForecastFile, Grid, HeldVariable
from planner.presentation.drawing.maps.graticule import latitude_label, longitude_label
from planner.presentation.drawing.maps.map_sheet import MARGIN_PX, WIDE_PX
from planner.presentation.drawing.svg import add, picture, words
from planner.presentation.pages.look import asset
from planner.presentation.pages.page import with_rows
from planner.presentation.words.content import Column, Page, Picture, Table
from planner.presentation.words.weather import date_and_time
from planner.presentation.words.wording import joined

FRESH_H = 18.0  # h, age that a forecast may have at departure: begun every 12 h, out 6 h later; common practice
SHOWN_FILES = 6  # of many alike; more are counted
SHOWN_UNUSED = 12
PEOPLE = {"1": "%", "degree_Celsius": "\N{DEGREE SIGN}C", "W m-2": "W/m2", "m s-1": "m/s", "mm h-1": "mm/h"}
ORDER = {"held": "", "missing": "MISSING: ", "spared": "not held: "}


def weather_page(
    account: ForecastAccount, *, pictures: Sequence[Picture] = (), figures: Sequence[Table] = ()
) -> Page:
    """Return the account of a forecast as a page.

    Parameters
    ----------
    account : ForecastAccount
    pictures : sequence of Picture
        Maps, where they were drawn.
    figures : sequence of Table
        What the maps show, in figures.
    """
    notes = tuple((note,) for note in account.notes)
    return Page(
        title=f"Forecast: {_named(account.files)}",
        answer=tuple(_answer(account)),
        pictures=tuple(pictures),
        tables=with_rows(
            uses_table(account),
            variables_table(account),
            _axes_table(account),
            *figures,
            _refused_table(account),
            Table("What was put right, or read into what the files leave open", (_REPAIRS,), notes),
            _files_table(account),
        ),
    )


_REPAIRS = Column("A plan lists as warnings what it repairs in its corridor", "left")


def _answer(account: ForecastAccount) -> list[str]:
    missing = [use.need for use in account.uses if use.state == "missing"]
    if account.all_faults:
        sentences = [f"A plan refuses this: {account.all_faults[0]}"]
        if len(account.all_faults) > 1:
            sentences[0] += f" And {len(account.all_faults) - 1} more, below."
    elif missing:
        sentences = [f"It holds no {joined(missing, 'or')}: a plan needs that from a further file, or typed."]
    else:
        sentences = ["A plan can be made with it."]
    sentences += _ages(account)
    if account.route_only:
        sentences.append(
            "Only the corridor of the route and the days of the passage were looked at, as a plan reads it."
        )
    elif account.stride > 1:
        sentences.append(
            f"The files are large: ranges are those of one in {account.stride} rows and columns of the finer "
            "grids, at all times."
        )
    return sentences


def _ages(account: ForecastAccount) -> list[str]:
    """Say when the forecast was begun and how old it is at departure, and which days it covers of it."""
    begun = sorted({moment for one in account.held for moment in one.issued})
    if not begun:
        words = ["The files do not say when the forecast was begun."] if account.held else []
    elif len(begun) == 1:
        words = [f"It was begun at {date_and_time(begun[0])} UTC."]
    else:
        ends = f"{date_and_time(begun[0])} to {date_and_time(begun[-1])} UTC"
        words = [f"It is of {len(begun)} cycles, begun from {ends}; the later wins."]
    if account.departure is None or not account.held:
        return words
    first = max(one.first for one in account.held)
    last = min(one.last for one in account.held)
    if begun:
        age = (account.departure - begun[-1]).total_seconds() / 3600.0
        fresh = "begun after it" if age < 0 else "fresh" if age <= FRESH_H else "stale: fetch the latest"
        then = f"{date_and_time(account.departure)} ({account.departure.isoformat()[-6:]})"
        words.append(f"At departure, {then}, it is {_hours(age)} old: {fresh}.")
    if not first <= account.departure <= last:
        words.append("The departure lies outside its times.")
    else:
        words.append(f"It reaches {_hours((last - account.departure).total_seconds() / 3600.0)} beyond departure.")
    return words


def uses_table(account: ForecastAccount) -> Table:
    """Return what a plan takes for each of its needs."""
    return Table(
        "What is used for what",
        (Column("Need", "left"), Column("Taken from", "left"), Column("Besides, or without it", "left")),
        tuple((use.need, use.taken or ORDER[use.state].strip(": "), use.otherwise) for use in account.uses),
    )


def variables_table(account: ForecastAccount) -> Table:
    """Return each variable that was understood: what for, its units, its range, and how its times are read."""
    return Table(
        "Variables, as understood",
        (
            Column("Variable", "left"),
            Column("Taken for", "left"),
            Column("Units found"),
            Column("Least"),
            Column("Most"),
            Column("In"),
            Column("Values hold", "left"),
        ),
        tuple(_variable_row(one) for one in account.held),
    )


def _variable_row(one: HeldVariable) -> tuple[str, ...]:
    percent = 100.0 if one.units == "1" else 1.0
    digits = 1 if one.high * percent < 100.0 and percent == 1.0 else 0
    return (
        one.name,
        one.words,
        one.units_found or "none",
        f"{percent * one.low + 0.0:.{digits}f}",
        f"{percent * one.high + 0.0:.{digits}f}",
        PEOPLE.get(one.units, one.units),
        _holding(one),
    )


def _holding(one: HeldVariable) -> str:
    if not one.reading:
        return "at their times"
    if one.spans_h == (0.0,):
        return one.reading
    return f"{one.reading}; parted into spans of {_lengths(one.spans_h)}"


def _lengths(hours: Sequence[float]) -> str:
    distinct = sorted(set(hours))
    return joined([f"{each:g}" for each in distinct]) + " h"


def _axes_table(account: ForecastAccount) -> Table:
    """Return times, members and grid, one row for the variables that share them."""
    shared: dict[tuple[str, ...], list[str]] = {}
    for one in account.held:
        shared.setdefault((_times(one), _members(one), _grid(one.grid)), []).append(one.name)
    return Table(
        "Times, members and grid",
        (Column("Of", "left"), Column("Times, UTC", "left"), Column("Members", "left"), Column("Grid", "left")),
        tuple((", ".join(dict.fromkeys(names)), *axes) for axes, names in shared.items()),
    )


def _times(one: HeldVariable) -> str:
    if one.times == 1:
        return f"one time, {date_and_time(one.first)}"
    steps = one.steps_h
    words = (
        f"every {steps[0]:g} h" if len(steps) == 1 else f"steps of {', then '.join(f'{s:g}' for s in steps[:4])} h"
    )
    return f"{date_and_time(one.first)} to {date_and_time(one.last)}, {one.times} times, {words}"


def _members(one: HeldVariable) -> str:
    if one.members == 1:
        return "a single run"
    return f"{one.members}, {'by their numbers' if one.numbered else 'in the order of the files'}"


def _grid(grid: Grid) -> str:
    lats = f"{latitude_label(grid.south)} to {latitude_label(grid.north)}"
    if grid.rows == grid.columns == 1:
        return f"one point, {latitude_label(grid.south)} {longitude_label(grid.west)}"
    whole = grid.step_lon_deg is not None and grid.east - grid.west + 1.5 * grid.step_lon_deg >= 360.0
    lons = "all round" if whole else f"{longitude_label(grid.west)} to {longitude_label(grid.east)}"
    if not whole and grid.west < 180.0 < grid.east:
        lons += ", across 180\N{DEGREE SIGN}"
    step = " by ".join(
        f"{each:g}\N{DEGREE SIGN}" for each in dict.fromkeys((grid.step_lat_deg, grid.step_lon_deg)) if each
    )
    words = f"{lats}, {lons}; {grid.rows} x {grid.columns} points" + (f", {step}" if step else "")
    if grid.projected:
        return f"{words}; projected, laid on latitudes and longitudes"
    return f"{words}; {'north' if grid.from_north else 'south'} row first" + (
        ", eastern column first" if grid.from_east else ""
    )


def _refused_table(account: ForecastAccount) -> Table:
    return Table(
        "Refused, or set aside",
        (Column("Variable", "left"), Column("Taken for", "left"), Column("Why", "left")),
        tuple(
            (
                one.name,
                one.words,
                " ".join([*map(str, one.faults), "" if one.needed else "A plan goes on without."]).strip(),
            )
            for one in account.refused
        ),
    )


def _files_table(account: ForecastAccount) -> Table:
    shown = [file for number, file in enumerate(account.files) if number < SHOWN_FILES or file.faults]
    rows = [(file.name, _size(file.size_bytes), _file_words(file)) for file in shown]
    if len(shown) < len(account.files):
        rows.append((f"{len(account.files) - len(shown)} more", "", "likewise"))
    joining = tuple(("all together", "", str(fault)) for fault in account.faults)
    return Table(
        "Files", (Column("File", "left"), Column("Size"), Column("Left unused, or wrong", "left")), (*rows, *joining)
    )


def _file_words(file: ForecastFile) -> str:
    if file.faults:
        return " ".join(f"{fault.problem} {fault.remedy}".strip() for fault in file.faults)
    more = [f"{len(file.unused) - SHOWN_UNUSED} more"] if len(file.unused) > SHOWN_UNUSED else []
    return ", ".join([*file.unused[:SHOWN_UNUSED], *more]) or "nothing"


def _named(files: Sequence[ForecastFile]) -> str:
    names = [file.name for file in files]
    return (
        names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more" if len(names) > 3 else joined(names)
    )


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{size / 1e3:.0f} kB"


def _hours(hours: float) -> str:
    return f"{abs(hours):.0f} h" if abs(hours) < 72.0 else f"{abs(hours) / 24.0:.1f} days"


CAPTION_LETTERS = 106  # to a line under a map


GAP_PX, TITLE_PX, KEY_PX = 12.0, 30.0, 44.0


def standing_alone(pictures: Sequence[Picture]) -> str:
    """Return the wide maps, one under the other, as an SVG document with its style."""
    drawings = [ET.fromstring(str(one.drawings[0])) for one in pictures]  # noqa: S314 (our own drawing)
    heights = [float(each.attrib["viewBox"].split()[3]) for each in drawings]
    label = " ".join(one.attrib["aria-label"] for one in drawings)
    root = picture(WIDE_PX, sum(heights) + (TITLE_PX + KEY_PX + GAP_PX) * len(heights), label=label, css="map alone")
    root.set("xmlns", "http://www.w3.org/2000/svg")
    add(root, "style", {}, f"{asset('report.css')}{asset('studies.css')}")
    add(root, "rect", {"class": "paper", "x": 0.0, "y": 0.0, "width": "100%", "height": "100%"})
    top = 0.0
    for one, drawing, height in zip(pictures, drawings, heights, strict=True):
        words(root, "name", (MARGIN_PX, top + TITLE_PX - 6.0), one.title)
        drawing.attrib |= {"x": "0", "y": str(top + TITLE_PX), "width": str(WIDE_PX), "height": str(height)}
        drawing.attrib["class"] = "map"
        root.append(drawing)
        for number, line in enumerate(textwrap.wrap(one.caption, CAPTION_LETTERS)):
            words(root, "name", (MARGIN_PX, top + TITLE_PX + height + 14.0 + 16.0 * number), line)
        top += TITLE_PX + height + KEY_PX + GAP_PX
    return ET.tostring(root, encoding="unicode")
