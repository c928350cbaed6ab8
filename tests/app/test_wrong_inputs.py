"""A table of wrong inputs, and what a sailor is told of each: file, key, what is wrong, and the likely mend.

``wrong_inputs.txt`` has a row an input: what is set in the demo's files, and below it, indented, all that is said.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.app.inputs import consistency_faults
from planner.domain.errors import InputError
from planner.readers.config import parse_override, read_configuration

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
TABLE = Path(__file__).parent / "wrong_inputs.txt"
TECHNICAL = re.compile(
    r"tuple|valid |validation|Input should|String should|regex|pattern|None|NaN|dict|\bitem", re.ASCII
)


def rows() -> list[tuple[str, list[str]]]:
    found: list[tuple[str, list[str]]] = []
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("    "):
            found[-1][1].append(line.strip())
        elif line and not line.startswith("#"):
            found.append((line, []))
    return found


def told(override: str) -> list[str]:
    try:
        faults = consistency_faults(read_configuration(DEMO, [parse_override(override)]))
    except InputError as error:
        faults = list(error.faults)
    return [str(fault).replace(f"{DEMO.parent}/", "") for fault in faults]


@pytest.mark.parametrize(("override", "said"), rows(), ids=[row[:60] for row, _ in rows()])
def test_each_wrong_input_is_told_in_a_sailors_words(override: str, said: list[str]) -> None:
    assert told(override) == said


def test_the_table_is_long_and_free_of_the_librarys_words() -> None:
    assert len(rows()) >= 100
    assert all(said for _, said in rows())
    assert [line for _, said in rows() for line in said if TECHNICAL.search(line)] == []
