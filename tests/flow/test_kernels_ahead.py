"""What a first plan finds compiled: the kernels of a decision, of the types that a real passage needs."""

from __future__ import annotations

import gc
import sys

import pytest
from numba.core.registry import CPUDispatcher

from planner.flow import kernels_ahead
from planner.flow.kernels_ahead import are_compiled, compiled_beside, decide_a_day

sys.path.insert(0, str(__import__("pathlib").Path(__file__).parents[1] / "decision"))
from decision_case import decision_for
from synthetic_ensemble import make_ensemble


def signatures() -> dict[str, int]:
    return {
        f"{each.py_func.__module__}.{each.py_func.__name__}": len(each.signatures)
        for each in gc.get_objects()
        if isinstance(each, CPUDispatcher) and each.py_func.__module__.startswith("planner.")
    }


def test_a_decision_needs_no_kernel_that_a_made_day_does_not() -> None:
    decide_a_day()
    before = signatures()
    decision_for(make_ensemble(seed=2, days=2.0, members=4))
    assert signatures() == before
    assert are_compiled()


def test_nothing_is_begun_beside_where_all_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    decide_a_day()
    monkeypatch.setattr(kernels_ahead.subprocess, "Popen", None)
    with compiled_beside() as begun:
        assert not begun
