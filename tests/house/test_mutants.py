"""The table of faults still applies: what each replaces stands once in its module, and its tests are there."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "scripts"))
from mutants import Mutant, read_table

PROJECT = Path(__file__).parents[2]


@pytest.mark.parametrize("mutant", read_table(), ids=lambda mutant: mutant.name)
def test_a_fault_still_applies_and_its_tests_are_there(mutant: Mutant) -> None:
    assert mutant.path(PROJECT).read_text(encoding="utf-8").count(mutant.old) == 1
    for notice in mutant.notices:
        if notice == "lint-imports":
            continue
        file, _, test = notice.partition("::")
        (found,) = (PROJECT / "tests").rglob(file)
        assert f"def {test.partition('[')[0]}" in found.read_text(encoding="utf-8")
