"""A boat file with changes: the text edited in place, comments and order kept, every difference explained."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from planner.domain.inputs.power import Load
from planner.domain.results.calibration import BoatChange, Calibration
from planner.presentation.words.content import Column, Page, Table
from planner.presentation.words.notes import said

if TYPE_CHECKING:
    from tomlkit import TOMLDocument


def changed_text(text: str, changes: Sequence[BoatChange], *, heading: str) -> str:
    """Return the text of a boat file with the changes in it, each marked with what stood there.

    Parameters
    ----------
    text : str
        A valid boat file.
    changes : sequence of BoatChange
        To panels, bank and loads that it has; new loads are added at the end of the list.
    heading : str
        One line for the head of the file.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for change in changes:
        if isinstance(change.after, Load):
            _add_load(document, change.after, said(change.why))
        else:
            _set(document, change, change.after)
    return f"# {heading}\n{tomlkit.dumps(document)}"


def _set(document: TOMLDocument, change: BoatChange, after: float) -> None:
    """Set one figure, in the table that its key names; a table that is not there is added."""
    import tomlkit

    table, *rest = change.key.split(".")
    path, last = rest[:-1], rest[-1]
    node: Any = document.setdefault(table, tomlkit.table())
    if isinstance(node, list):
        name = ".".join(path)  # names may hold a full stop
        node, path = next(item for item in node if item.get("name") == name), []
    fresh = None
    for part in path:
        if part not in node:
            node[part] = tomlkit.table()
            fresh = node[part]
        node = node[part]
    before = node[last].trivia.comment.removeprefix("#").strip() if last in node else ""
    node[last] = after
    was = f"measured; was {change.before:g}" if change.before is not None else "as it was before measuring"
    node[last].comment(f"{was}; {before}" if before else was)
    node[last].trivia.comment_ws = "  "
    if fresh is not None:
        fresh.add(tomlkit.nl())


def _add_load(document: TOMLDocument, load: Load, why: str) -> None:
    import tomlkit

    loads: Any = document.get("load")
    in_line = isinstance(loads, tomlkit.items.Array)
    item = tomlkit.inline_table() if in_line else tomlkit.table()
    for name, value in load.model_dump(exclude_defaults=True).items():
        item[name] = [list(span) for span in value] if name == "hours" else value
    if in_line:
        loads.add_line(item, comment=why)
        return
    item.comment(why)
    item.add(tomlkit.nl())
    if "load" not in document:
        document["load"] = tomlkit.aot()
    document["load"].append(item)


def changes_page(calibration: Calibration) -> Page:
    """Return each difference of the two boat files with its reason."""
    if not calibration.changes:
        return Page("The readings call for no change of the boat file.", (), (), ())
    table = Table(
        f"{calibration.new.name} against {calibration.old.name}",
        (Column("Key", "left"), Column("So far"), Column("Now"), Column("Why", "left")),
        tuple(
            (
                change.key,
                "not given" if change.before is None else f"{change.before:g}",
                _now(change.after),
                said(change.why),
            )
            for change in calibration.changes
        ),
        note=f"To plan by it, write in the passage file: {calibration.passage_line}",
    )
    return Page(f"A boat file by the readings: {calibration.new.name}", (), (), (table,))


def _now(after: float | Load) -> str:
    if isinstance(after, Load):
        hours = ", ".join(f"{start} to {end}" for start, end in after.hours)
        return f"{after.watts:g} W {hours or after.when}"
    return f"{after:g}"
