"""Everything that planning would refuse, all at once, and what is odd; nothing is planned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planner.app.inputs import asked_overrides, read_inputs
from planner.app.stages import CHECKING, OnStage, along, unreported
from planner.domain.results.checked import Checked
from planner.simulation.doubts import doubts


def check(
    passage_file: str | Path,
    overrides: Mapping[str, Any] | None = None,
    *,
    typed: Sequence[str] = (),
    on_stage: OnStage = unreported,
) -> Checked:
    """Read a passage, sail its tracks, and say what is odd.

    Parameters
    ----------
    passage_file, overrides, typed
        As ``read_passage`` takes them.
    on_stage : callable
        Told each stage as it begins, and how much is done.

    Returns
    -------
    Checked

    Raises
    ------
    InputError
        With every fault that ``read_passage`` or ``plan`` would find.
    """
    inputs = read_inputs(Path(passage_file), asked_overrides(overrides, typed), rehearsal=along(on_stage, CHECKING))
    return Checked(inputs, doubts(inputs.boat, inputs.passage, inputs.forecast))
