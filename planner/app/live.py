"""What the local page asks for: a plan, the rest of one, a fan of headings, as files that stand beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.app.inputs import read_inputs
from planner.app.verbs.plan import plan
from planner.domain.errors import Fault, InputError
from planner.domain.file_format import PLAN_FILE
from planner.domain.inputs.given import Inputs, Override
from planner.domain.results.plan import Plan
from planner.flow.progress import Progress
from planner.presentation.files.whole_file import write_text
from planner.readers.config import parse_override
from planner.readers.plan_folder import read_plan_file, read_with_plan, sizes_with_plan

if TYPE_CHECKING:
    from planner.app.moments import Said

Links = tuple[tuple[str, str], ...]

OUTPUTS, REPORT_PAGE, CHANGES_PAGE, HEADINGS_PAGE = "out", "report-live.html", "changes.html", "headings.html"
RECONCILE_PAGE = "reconcile.html"


def read_settings(passage_file: Path, settings: Mapping[str, Any], more: tuple[str, ...] = ()) -> Inputs:
    """Read a passage as a form has it set.

    Parameters
    ----------
    passage_file : Path
    settings : mapping
        Dotted keys to values.
    more : tuple of str
        ``KEY=VALUE`` as on the command line, which go before the rest.

    Raises
    ------
    InputError
        When anything is wrong.
    """
    overrides = [parse_override(text) for text in more]
    return read_inputs(passage_file, [*overrides, *(Override(key, value) for key, value in settings.items())])


def plan_live(inputs: Inputs, folder: Path, *, links: Links, progress: Progress) -> tuple[str, ...]:
    """Plan, write the set of outputs and the report that stands beside the page, and return the answer.

    Parameters
    ----------
    inputs : Inputs
    folder : Path
        The outputs go into a folder of their own in it.
    links : tuple of (str, str)
        Address and words of the pages beside the report.
    progress : callable
        Told each stage as it begins.

    Returns
    -------
    tuple of str
        Sentences.
    """
    return _write(plan(inputs, progress=progress), folder, links, progress)


def replan_live(
    inputs: Inputs,
    folder: Path,
    *,
    fix: str,
    time: str,
    soc: str,
    last: Path | None,
    links: Links,
    progress: Progress,
) -> tuple[str, ...]:
    """Plan the rest of the route from a fix and write it as ``plan_live`` does, with a page of what changed.

    Parameters
    ----------
    inputs : Inputs
        The passage as filed.
    folder : Path
        As for ``plan_live``.
    fix, time, soc : str
        As typed.
    last : Path or None
        Outputs of the last plan.
    links, progress
        As for ``plan_live``.

    Raises
    ------
    InputError
        When the fix, the time or the charge cannot be.
    """
    from planner.app.verbs.replan import replan_from
    from planner.presentation.pages.page import html_of
    from planner.presentation.pages.replan import days_sentence, fix_sentence, page_of

    position, moment, charge = read_morning(fix=fix, time=time, soc=soc)
    rest = replan_from(inputs, fix=position, time=moment, soc=charge, last=last, progress=progress)
    write_text(folder / CHANGES_PAGE, html_of(page_of(rest), links))
    return (f"{fix_sentence(rest)}.", days_sentence(rest.fix), *_write(rest.plan, folder, links, progress))


def read_morning(*, fix: str, time: str, soc: str) -> tuple[tuple[float, float], Said, float]:
    """Return position, moment and charge as typed in the morning.

    Parameters
    ----------
    fix, time, soc : str
        As typed.

    Raises
    ------
    InputError
        With what is wrong with each.
    """
    from planner.app.moments import read_moment
    from planner.app.verbs.replan import read_fix, read_soc

    faults: list[Fault] = []
    position, charge = read_fix(fix, faults), read_soc(soc, faults)
    try:
        moment = read_moment(time, option="--time")
    except InputError as error:
        raise InputError([*faults, *error.faults]) from None
    if faults:
        raise InputError(faults)
    return position, moment, charge


def headings_live(
    inputs: Inputs, folder: Path, *, at: str, hours: float, step_deg: float, links: Links, progress: Progress
) -> None:
    """Hold other headings over some hours of the plan and write the page of it.

    Parameters
    ----------
    inputs : Inputs
    folder : Path
        For the page.
    at, hours, step_deg
        As for ``fan_of``.
    links, progress
        As for ``plan_live``.
    """
    from planner.app.verbs.headings import fan_of
    from planner.presentation.pages.headings import page_of
    from planner.presentation.pages.page import html_of

    fan = fan_of(inputs, at=at, hours=hours, step_deg=step_deg, progress=progress)
    write_text(folder / HEADINGS_PAGE, html_of(page_of(fan), links))


def reconcile_live(
    inputs: Inputs,
    folder: Path,
    *,
    logs: Sequence[Path],
    mapping_file: Path | None,
    clock: str,
    links: Links,
    progress: Progress,
) -> tuple[str, ...]:
    """Hold logs against the model, write the page of it, and return the answer.

    Parameters
    ----------
    inputs : Inputs
    folder : Path
        For the page.
    logs : sequence of Path
    mapping_file : Path or None
        How they are to be read.
    clock : {'', 'utc', 'ship'}
        Whose time they keep where they do not say.
    links, progress
        As for ``plan_live``.

    Raises
    ------
    InputError
        When the logs are wrong.
    """
    from planner.app.verbs.reconcile import asked_mapping, reconcile_from
    from planner.presentation.pages.reconcile import html_of
    from planner.presentation.words.reconcile.sentences import answer

    mapping = asked_mapping(mapping_file, "utc" if clock == "utc" else "ship" if clock == "ship" else None)
    found = reconcile_from(inputs, logs, mapping=mapping, progress=progress)
    progress("writing")
    write_text(folder / RECONCILE_PAGE, html_of(found, links))
    return answer(found)


def plan_figures(folder: Path) -> dict[str, Any]:
    """Return what plan.json says in a plan's own folder.

    Raises
    ------
    InputError
        When it is not planned, or was by a planner whose format is another.
    """
    return read_plan_file(folder / OUTPUTS)


def output_of(folder: Path, name: str) -> bytes:
    """Return a file of the set of outputs in a plan's own folder, or plan.json itself.

    Raises
    ------
    InputError
        Where there is no plan to read, or it has none of that name.
    """
    outputs = folder / OUTPUTS
    if name == PLAN_FILE:
        read_plan_file(outputs)
        return (outputs / name).read_bytes()
    return read_with_plan(outputs, name)[1]


def output_sizes(folder: Path) -> dict[str, int]:
    """Return the files that ``output_of`` gives, and their sizes [byte]; none where there is no plan to read."""
    outputs = folder / OUTPUTS
    try:
        return {**sizes_with_plan(outputs), PLAN_FILE: (outputs / PLAN_FILE).stat().st_size}
    except InputError:
        return {}


def kept_briefly(told: Mapping[str, Any]) -> str:
    """Return how often a plan keeps the reserve and in whose wind, from ``reserve_kept`` of its plan.json.

    Parameters
    ----------
    told : mapping
    """
    from planner.presentation.words.kept import told_kept

    return told_kept(told)


def _write(made: Plan, folder: Path, links: Links, progress: Progress) -> tuple[str, ...]:
    from planner.presentation.outputs import write_outputs
    from planner.presentation.pages.report import render
    from planner.presentation.words.answer import answer

    progress("writing")
    write_text(folder / REPORT_PAGE, render(made, links))
    write_outputs(made, folder / OUTPUTS)
    return answer(made)
