"""Whatever numbers the files hold: refused in sentences, or planned; nothing crashes or runs out of memory."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from coarse_demo import quietly
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tiny_passage import lay_out

from planner.app.inputs import consistency_faults, read_inputs
from planner.domain.errors import InputError
from planner.domain.inputs.given import Override
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from
from planner.readers.config import Configuration, read_configuration

Numbers = tuple[tuple[str, float], ...]
BEYOND_ALL = (1.7e308, -1.7e308)
ABSURD = (
    *(5e-324, 1e-308),  # subnormal: drawn among the floats, they make hypothesis lose count of its draws
    *(1e-12, 1e-3, -1e-3, 0.0, -1.0, 1.0, 360.0, 1e3, 1e6, 1e9, 1e12, 1e19, 1e300, -1e300, 1.7e308),
)
FACTORS = (1e-3, 0.03, 0.3, 1.5, 4.0, 30.0, 1e3)


@pytest.fixture(scope="module")
def passage_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_out(tmp_path_factory.mktemp("hostile"))


@pytest.fixture(scope="module")
def numbers(passage_file: Path) -> Numbers:
    """Every number of both files, and every number that may be there and is not (as 1), by its dotted key."""
    found = read_configuration(passage_file)
    keys = [*_leaves("", found.passage.model_dump(by_alias=True)), *_leaves("boat.", found.boat.model_dump())]
    assert len(keys) > 400
    return tuple(keys)


def _leaves(prefix: str, value: Any) -> Iterator[tuple[str, float]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(
                f"{prefix}{key}." if isinstance(inner, dict | list | tuple) else f"{prefix}{key}", inner
            )
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            deeper = isinstance(inner, dict | list | tuple)
            yield from _leaves(f"{prefix}{index}." if deeper else f"{prefix}{index}", inner)
    elif value is None or (isinstance(value, int | float) and not isinstance(value, bool)):
        yield prefix, 1.0 if value is None else float(value)


@pytest.fixture(scope="module")
def edges(passage_file: Path, numbers: Numbers) -> Numbers:
    """The ends of the range of every number that has one, as its refusal says; of alike rows the first's alone."""
    ends: dict[tuple[str, float], None] = {}
    for key in _one_of_each(numbers):
        with pytest.raises(InputError) as caught:
            read_configuration(passage_file, [Override(key, BEYOND_ALL[0])])
        for low, high in re.findall(r"is not (-?[\d.e+-]+) to (-?[\d.e+-]+?)[.:] ", str(caught.value)):
            ends |= {(key, float(low)): None, (key, float(high)): None}
    assert len(ends) > 200
    return tuple(ends)


def _one_of_each(numbers: Numbers) -> list[str]:
    by_pattern = {re.sub(r"\.\d+(?=\.|$)", ".#", key): key for key, _ in reversed(numbers)}
    return list(by_pattern.values())


def changes(data: st.DataObject, numbers: Numbers, most: int) -> list[Override]:
    """Draw one change or some: absurd, or so many times what the demo has."""
    count = data.draw(st.integers(1, most))
    chosen = []
    for _ in range(count):
        key, usual = data.draw(st.sampled_from(numbers))
        figure = data.draw(
            st.one_of(
                st.sampled_from(ABSURD),
                st.sampled_from(FACTORS).map(lambda factor, usual=usual: factor * usual),
                st.floats(allow_nan=True, allow_infinity=True, allow_subnormal=False),
            )
        )
        chosen.append(Override(key, figure))
    return chosen


def read(passage_file: Path, overrides: list[Override]) -> Configuration | None:
    """Return what is read, or None when it is refused; every refusal names a file and says something."""
    try:
        found = read_configuration(passage_file, overrides)
    except InputError as error:
        faults = error.faults
    else:
        faults = tuple(consistency_faults(found))
        if not faults:
            return found
    assert faults
    assert all(fault.where and len(fault.problem) > 8 for fault in faults)
    return None


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_numbers_are_read_or_refused_in_sentences(
    data: st.DataObject, passage_file: Path, numbers: Numbers
) -> None:
    read(passage_file, changes(data, numbers, most=4))


@pytest.mark.parametrize("figure", BEYOND_ALL)
def test_no_number_is_without_bounds(passage_file: Path, numbers: Numbers, figure: float) -> None:
    taken = [key for key in _one_of_each(numbers) if read(passage_file, [Override(key, figure)]) is not None]
    assert taken == []


def planned(passage_file: Path, overrides: list[Override]) -> Plan | None:
    """Return the plan, or None where it is refused."""
    try:
        inputs = read_inputs(passage_file, overrides)
        return plan_from(inputs, progress=quietly)
    except InputError:
        return None


def test_the_tiny_passage_is_planned(passage_file: Path) -> None:
    plan = planned(passage_file, [])
    assert plan is not None
    assert plan.ledger["bank_soc"].notnull().all()


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_numbers_at_the_ends_of_their_ranges_are_planned_or_refused(
    data: st.DataObject, passage_file: Path, edges: Numbers
) -> None:
    chosen = [data.draw(st.sampled_from(edges)) for _ in range(data.draw(st.integers(1, 2)))]
    plan = planned(passage_file, [Override(key, end) for key, end in chosen])
    if plan is not None:
        assert plan.ledger["bank_soc"].notnull().all(), chosen
