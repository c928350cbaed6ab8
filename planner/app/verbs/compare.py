"""Variants of a passage side by side, each planned by the one flow, on the same weather members."""

from __future__ import annotations

import logging
import multiprocessing
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from planner.app.inputs import read_inputs
from planner.app.stages import OnStage, also_logged, unreported
from planner.domain.errors import Fault, InputError, PlannerError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.variants import Variant
from planner.domain.results.note import Note
from planner.domain.results.studies import Comparison
from planner.flow.plan import plan_from
from planner.flow.progress import silent
from planner.flow.recall import Recall
from planner.readers.variants import parse_vary, read_variants
from planner.studies.figures import Outcome, failed_row, outcome_of, row_of
from planner.studies.variants import boat_of, grid, running_order, wiring_of

log = logging.getLogger(__name__)

BASE = "as filed"
WORTH_A_PROCESS = 4  # variants; fewer take less time than a process takes to start


def compare(
    inputs: Inputs,
    vary: Mapping[str, Sequence[Any]] | Sequence[str] = (),
    *,
    variants: Sequence[Variant] | Path = (),
    jobs: int | None = 1,
    on_stage: OnStage = unreported,
) -> Comparison:
    """Plan variants of a passage and set them beside the passage as filed, on the same members.

    Parameters
    ----------
    inputs : Inputs
        The passage as filed, from ``read_passage``.
    vary : mapping or sequence of str
        Dotted key to the values that it takes, or ``KEY=V1,V2,...``; every combination is a variant.
    variants : sequence of Variant or Path
        Named ones, or a TOML file of them; they follow the grid's.
    jobs : int, optional
        Processes; None for as many as processors, and one where there are few variants. More than one needs a script
        guarded by ``__main__``.
    on_stage : callable
        Told each variant as it is done, and how much that is.

    Returns
    -------
    Comparison
        A variant that cannot be planned is a row with its reason.

    Raises
    ------
    InputError
        When nothing is varied, or the same key twice; when the passage as filed, or every variant, cannot be planned.
    """
    asked = asked_variants(vary, variants)
    if jobs is not None and jobs < 1:
        raise InputError([Fault("--jobs", "", f"{jobs} processes cannot be.", "Give 1 or more.")])
    count = min(jobs if jobs is not None else _processors(len(asked)), len(asked))
    on_stage, runs = also_logged(on_stage), _Runs(inputs)
    on_stage("planning the passage as filed", 0.0)
    base = outcome_of(plan_from(inputs, progress=silent, recall=runs.recall))
    order = running_order(asked)
    outcomes: dict[int, Outcome | InputError | str] = {}
    results = _in_this_process(runs, asked, order) if count == 1 else _spread_out(inputs, asked, order, count)
    for done, (position, outcome) in enumerate(results, start=1):
        outcomes[position] = outcome
        name = asked[position].name
        if isinstance(outcome, str | InputError):
            log.warning("variant '%s' cannot be planned: %s", name, _reason(outcome))
        on_stage(f"{done} of {len(asked)} variants planned, last {name}", (1 + done) / (1 + len(asked)))
    failures = [each for each in outcomes.values() if isinstance(each, InputError)]
    if len(failures) == len(asked):
        raise InputError(list(dict.fromkeys(fault for failure in failures for fault in failure.faults)))
    rows = []
    for position, variant in enumerate(asked):
        outcome = outcomes[position]
        rows.append(
            failed_row(variant.name, _reason(outcome))
            if isinstance(outcome, str | InputError)
            else row_of(variant.name, outcome, base)
        )
    return Comparison(base=row_of(BASE, base, base), rows=tuple(rows), members=base.members)


def asked_variants(
    vary: Mapping[str, Sequence[Any]] | Sequence[str], variants: Sequence[Variant] | Path = ()
) -> tuple[Variant, ...]:
    """Return the variants that a grid and a list or file ask for; as for ``compare``."""
    if isinstance(vary, Mapping):
        axes: dict[str, Sequence[tuple[str, Any]]] = {
            key: [(str(value), value) for value in values] for key, values in vary.items()
        }
    else:
        axes = dict(parse_vary(text) for text in vary)
    if len(axes) < len(vary):
        remedy = "Give all its values at once: KEY=V1,V2,..."
        raise InputError([Fault("--vary", "", "a key stands twice.", remedy)])
    named = read_variants(variants) if isinstance(variants, Path) else variants
    if not axes and not named:
        remedy = "Give --vary KEY=V1,V2,... or --variants FILE.toml."
        raise InputError([Fault("compare", "", "nothing is varied.", remedy)])
    return (*(grid(axes) if axes else ()), *named)


def inputs_of(variant: Variant, inputs: Inputs, *, recall: Recall) -> tuple[Inputs, tuple[Note, ...]]:
    """Read the passage again as a variant asks, with what is wired anew for it.

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
    overrides = [Override(key, _absolute(key, value, inputs)) for key, value in variant.set.items()]
    wiring: list[Note] = []

    def refit(boat: Boat) -> Boat:
        fitted = boat_of(variant, boat)
        wiring[:] = wiring_of(variant, boat)
        return fitted

    asked = read_inputs(inputs.passage_file, (*inputs.overrides, *overrides), recall=recall, refit=refit)
    return asked, tuple(wiring)


class _Runs:
    """Plans variants one after another, keeping what the next one may share."""

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        self.recall = Recall()

    def outcome(self, variant: Variant) -> Outcome | InputError | str:
        """Return what comes of a variant, or why nothing does."""
        try:
            inputs, wiring = inputs_of(variant, self.inputs, recall=self.recall)
            return outcome_of(plan_from(inputs, progress=silent, recall=self.recall), wiring)
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
