"""Ends of ranges: they belong to them, and what lies beyond comes all at once (``test_wrong_inputs.py`` has each)."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.config import parse_override, read_configuration


def messages(path: Path, *overrides: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_configuration(path, [parse_override(text) for text in overrides])
    return [str(fault) for fault in caught.value.faults]


def test_all_absurd_figures_of_both_files_come_together(demo: Path) -> None:
    found = messages(
        demo, "boat.bank.temp_c=1e6", "boat.bank.capacity_ah=0", "boat.rig.i_m=0.1", "current.drift_kn=99"
    )
    assert len(found) == 4


@pytest.mark.parametrize(
    "override",
    [
        "boat.bank.capacity_ah=5",
        "boat.bank.capacity_ah=20000",
        "boat.length_m=60",
        "boat.engine.alternator_a=0",
        "boat.load.fridge.watts=50000",
        "boat.panel.coachroof.tilt_deg=180",
    ],
)
def test_the_ends_of_a_range_are_allowed(demo: Path, override: str) -> None:
    read_configuration(demo, [parse_override(override)])


@pytest.mark.parametrize("field", ["nan", "inf", "true", "'12'"])
def test_what_is_no_finite_number_is_refused_as_such(demo: Path, field: str) -> None:
    (message,) = messages(demo, f"boat.bank.capacity_ah={field}")
    assert "is no number." in message or "is no figure." in message
