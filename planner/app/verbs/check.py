"""Everything that planning would refuse, all at once, and what is odd; nothing is planned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planner.app.inputs import asked_overrides, read_inputs
from planner.domain.results.checked import Checked
from planner.simulation.doubts import doubts


def check(
    passage_file: str | Path, overrides: Mapping[str, Any] | None = None, *, typed: Sequence[str] = ()
) -> Checked:
    """Read a passage, sail its tracks, and say what is odd.

    Parameters
    ----------
    passage_file, overrides, typed
        As ``read_passage`` takes them.

    Returns
    -------
    Checked

    Raises
    ------
    InputError
        With every fault that ``read_passage`` or ``plan`` would find.
    """
    inputs = read_inputs(Path(passage_file), asked_overrides(overrides, typed), rehearsed=True)
    return Checked(inputs, doubts(inputs.boat, inputs.passage, inputs.forecast))
