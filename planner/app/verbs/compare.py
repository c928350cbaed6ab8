"""Variants of a passage side by side, each planned by the one flow, on the same weather members."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from planner.app.inputs import read_inputs
from planner.app.stages import Tell
from planner.app.told import Told
from planner.domain.errors import Fault, InputError, PlannerError
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.variants import Variant
from planner.domain.results.studies import Comparison
from planner.flow.plan import plan_from
from planner.flow.recall import Recall
from planner.presentation.files.whole_file import write_text
from planner.readers.config import parse_override
from planner.readers.variants import parse_vary, read_variants

if TYPE_CHECKING:
    from planner.studies.figures import Outcome

Count = Callable[[int, int, str], None]
"""Told how many of how many variants are done, and the last one's name."""

BASE = "as filed"
WORTH_A_PROCESS = 4  # variants; fewer take less time than a process takes to start


def asked_variants(vary: Sequence[str] = (), variants_file: Path | None = None) -> tuple[Variant, ...]:
    """Return the variants that a grid and a file ask for.

    Parameters
    ----------
    vary : sequence of str
        ``KEY=V1,V2,...``; every combination is a variant.
    variants_file : Path, optional
        TOML of named variants, which follow the grid's.

    Raises
    ------
    InputError
        When nothing is varied, or the same key twice.
    """
    from planner.studies.variants import grid

    axes = dict(parse_vary(text) for text in vary)
    if len(axes) < len(vary):
        mend = "Give all its values at once: KEY=V1,V2,..."
        raise InputError([Fault("--vary", "", "a key stands twice.", mend)])
    named = read_variants(variants_file) if variants_file is not None else ()
    if not axes and not named:
        mend = "Give --vary KEY=V1,V2,... or --variants FILE.toml."
        raise InputError([Fault("compare", "", "nothing is varied.", mend)])
    return (*(grid(axes) if axes else ()), *named)


def compare_variants(
    inputs: Inputs, variants: Sequence[Variant], *, jobs: int | None = None, progress: Count
) -> Comparison:
    """Plan every variant and set it beside the passage as filed.

    Parameters
    ----------
    inputs : Inputs
        The passage as filed.
    variants : sequence of Variant
    jobs : int, optional
        Processes; as many as there are processors when None, and one where there are few variants.
    progress : callable
        Told each variant as it is done.

    Returns
    -------
    Comparison
        A variant that cannot be planned is a row with its reason.

    Raises
    ------
    InputError
        When the passage as filed, or every variant, cannot be planned.
    """
    from planner.studies.figures import failed_row, outcome_of, row_of
    from planner.studies.variants import running_order

    if jobs is not None and jobs < 1:
        raise InputError([Fault("--jobs", "", f"{jobs} processes cannot be.", "Give 1 or more.")])
    count = min(jobs if jobs is not None else _processors(len(variants)), len(variants))
    runs = _Runs(inputs)
    base = outcome_of(plan_from(inputs, progress=lambda _: None, recall=runs.recall))
    order = running_order(variants)
    outcomes: dict[int, Outcome | InputError | str] = {}
    results = _in_this_process(runs, variants, order) if count == 1 else _spread_out(inputs, variants, order, count)
    for done, (position, outcome) in enumerate(results, start=1):
        outcomes[position] = outcome
        progress(done, len(variants), variants[position].name)
    failures = [each for each in outcomes.values() if isinstance(each, InputError)]
    if len(failures) == len(variants):
        raise InputError(list(dict.fromkeys(fault for failure in failures for fault in failure.faults)))
    rows = []
    for position, variant in enumerate(variants):
        outcome = outcomes[position]
        rows.append(
            failed_row(variant.name, _reason(outcome))
            if isinstance(outcome, str | InputError)
            else row_of(variant.name, outcome, base)
        )
    return Comparison(
        base=row_of(BASE, base, base),
        rows=tuple(rows),
        members=base.members,
    )


def inputs_of(variant: Variant, inputs: Inputs, *, recall: Recall) -> Inputs:
    """Read the passage again as a variant asks.

    Parameters
    ----------
    variant : Variant
    inputs : Inputs
        The passage as filed.
    recall : Recall
        Spares reading the forecast again.

    Raises
    ------
    InputError
        When the variant cannot be.
    """
    from planner.studies.variants import boat_of

    overrides = [Override(key, _absolute(key, value, inputs)) for key, value in variant.set.items()]
    return read_inputs(
        inputs.passage_file,
        (*inputs.overrides, *overrides),
        recall=recall,
        refit=lambda boat: boat_of(variant, boat),
    )


def write_comparison(comparison: Comparison, page: Path | None) -> Told:
    """Say how the variants compare, and write the page where one is asked for.

    Parameters
    ----------
    comparison : Comparison
    page : Path or None
        HTML.
    """
    from planner.presentation.files.results_json import to_json
    from planner.presentation.pages.compare import page_of, table_of
    from planner.presentation.pages.page import html_of

    if page is not None:
        write_text(page, html_of(page_of(comparison)))
    return Told(table_of(comparison), to_json(comparison))


def compare_files(
    passage_file: Path,
    overrides: Sequence[str] = (),
    *,
    vary: Sequence[str] = (),
    variants_file: Path | None = None,
    jobs: int | None = None,
    page: Path | None = None,
    tell: Tell,
) -> Told:
    """Compare as the command line asks.

    Parameters
    ----------
    passage_file : Path
    overrides : sequence of str
        ``KEY=VALUE`` for the base and every variant.
    vary, variants_file
        As for ``asked_variants``.
    jobs : int, optional
        As for ``compare_variants``.
    page : Path, optional
        For the figure and the tables.
    tell : callable
        Told each stage as it begins, and how much is done.

    Raises
    ------
    InputError
        When the input is wrong.
    """
    from planner.presentation.files.whole_file import refuse_unwritable

    if page is not None:
        refuse_unwritable(page, "--page")
    variants = asked_variants(vary, variants_file)
    tell("reading", 0.0)
    inputs = read_inputs(passage_file, [parse_override(text) for text in overrides])
    tell("planning the passage as filed", 0.0)

    def count(done: int, total: int, name: str) -> None:
        tell(f"{done} of {total} variants planned, last {name}", (1 + done) / (1 + total))

    return write_comparison(compare_variants(inputs, variants, jobs=jobs, progress=count), page)


class _Runs:
    """Plans variants one after another, keeping what the next one may share."""

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        self.recall = Recall()

    def outcome(self, variant: Variant) -> Outcome | InputError | str:
        """Return what comes of a variant, or why nothing does."""
        from planner.studies.figures import outcome_of

        try:
            inputs = inputs_of(variant, self.inputs, recall=self.recall)
            return outcome_of(plan_from(inputs, progress=lambda _: None, recall=self.recall))
        except InputError as error:
            return error
        except (PlannerError, ArithmeticError, ValueError) as error:
            return str(error) or type(error).__name__


def _in_this_process(
    runs: _Runs, variants: Sequence[Variant], order: Sequence[int]
) -> Iterator[tuple[int, Outcome | InputError | str]]:
    for position in order:
        yield position, runs.outcome(variants[position])


def _spread_out(
    inputs: Inputs, variants: Sequence[Variant], order: Sequence[int], count: int
) -> Iterator[tuple[int, Outcome | InputError | str]]:
    # forecasts are read by each process: they are large to hand over, and the base's may not be the variant's
    shell = replace(inputs, forecast=None)  # type: ignore[arg-type]
    with ProcessPoolExecutor(
        count, mp_context=multiprocessing.get_context("spawn"), initializer=_begin, initargs=(shell,)
    ) as pool:
        waiting = {pool.submit(_outcome, variants[position]): position for position in order}
        for future in as_completed(waiting):
            yield waiting[future], future.result()


_in_worker: list[_Runs] = []


def _begin(inputs: Inputs) -> None:
    """Make a process ready: what it keeps from one variant to the next."""
    _in_worker[:] = [_Runs(inputs)]


def _outcome(variant: Variant) -> Outcome | InputError | str:
    return _in_worker[0].outcome(variant)


def _processors(variants: int) -> int:
    return (os.cpu_count() or 1) if variants >= WORTH_A_PROCESS else 1


def _reason(failure: InputError | str) -> str:
    return " ".join(str(fault) for fault in failure.faults) if isinstance(failure, InputError) else failure


def _absolute(key: str, value: object, inputs: Inputs) -> object:
    """Return a departure given as hours from the base's as a moment; all else unchanged."""
    if key == "departure" and isinstance(value, str) and value[:1] in "+-" and value.endswith("h"):
        try:
            hours = float(value[:-1])
        except ValueError:
            return value
        moment: datetime = inputs.passage.departure + timedelta(hours=hours)
        return moment
    return value
