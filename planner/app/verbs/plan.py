"""The main job: route, departure, forecast and boat in; a plan out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from planner.app.inputs import read_inputs
from planner.app.stages import PLANNING, Tell, along
from planner.app.told import Told
from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from, stresses_of, with_own_tracks
from planner.flow.progress import Progress, silent
from planner.flow.recall import Recall
from planner.readers.config import parse_override

TABLE_COLUMNS = 100  # columns that the schedule is laid out for

FAN_STEP_DEG = 15.0  # degree, between the headings that the report shows


@dataclass(frozen=True)
class WrittenPlan:
    """A plan written to a folder.

    Attributes
    ----------
    told : Told
        The charge schedule by watch for the terminal, and what plan.json holds.
    report : Path
        The page to open.
    files : tuple of Path
        All that was written.
    """

    told: Told
    report: Path
    files: tuple[Path, ...]


def write_plan(
    passage_file: Path,
    overrides: Sequence[str] = (),
    *,
    folder: Path,
    tell: Tell,
    columns: int = TABLE_COLUMNS,
) -> WrittenPlan:
    """Plan a passage and write the whole set of outputs.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` as on the command line.
    folder : Path
        For the outputs; made when it does not exist.
    tell : callable
        Told each stage as it begins, and how much is done.
    columns : int
        Of the terminal that the table is for.

    Returns
    -------
    WrittenPlan

    Raises
    ------
    InputError
        When the input is wrong, or the folder cannot be written to; nothing is written then.
    OutputError
        When the outputs cannot be written.
    """
    from planner.presentation.files.file_set import claimed
    from planner.presentation.outputs import REPORT, write_plan_set
    from planner.presentation.words.terminal import render

    progress = along(tell, PLANNING)
    with claimed(folder) as place:
        progress("reading")
        made = plan(read_inputs(passage_file, [parse_override(text) for text in overrides]), progress=progress)
        progress("writing")
        files = write_plan_set(made, place)
        summary = files[-1].read_text(encoding="utf-8")
    report = folder / REPORT
    told = Told(text=f"{render(made, width=columns)}\nReport: {report}\n", json=summary)
    return WrittenPlan(told=told, report=report, files=files)


def plan(inputs: Inputs, *, progress: Progress = silent, recall: Recall | None = None) -> Plan:
    """Plan a passage, try the plan in trouble and in each member's own wind, and hold other headings in one watch.

    Parameters
    ----------
    inputs : Inputs
        From ``read_inputs``.
    progress : callable
        Told each stage as it begins.
    recall : Recall, optional
        Spares the stages whose reading has not changed.

    Returns
    -------
    Plan
    """
    recall = recall or Recall()
    return completed(plan_from(inputs, progress=progress, recall=recall), progress=progress, recall=recall)


def completed(found: Plan, *, progress: Progress, recall: Recall) -> Plan:
    """Return a plan with what its report says beyond it: the plan in trouble, and other headings in one watch.

    Parameters
    ----------
    found : Plan
        As ``plan_from`` gives it.
    progress : callable
        Told each stage as it begins.
    recall : Recall
        Spares what the plan was made of.
    """
    from planner.studies.headings.fan import headings_fan, sunniest_watch

    progress("trying it in trouble")
    tried = replace(found, stresses=stresses_of(found, recall))
    whole = with_own_tracks(tried, progress=progress, recall=recall)
    hours = sunniest_watch(whole)
    if hours is None:
        return whole
    progress("holding other headings")
    return replace(whole, fan=headings_fan(whole, first=hours[0], end=hours[1], step_deg=FAN_STEP_DEG))
