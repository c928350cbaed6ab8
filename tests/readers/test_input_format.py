"""Input files may say their format; of another one nothing else is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner import __version__
from planner.domain.errors import InputError
from planner.domain.file_format import FORMAT
from planner.domain.inputs.log_mapping import LogMapping
from planner.readers.config import parse_override, read_configuration
from planner.readers.log.mapping import read_mapping, to_toml
from planner.readers.variants import read_variants


def leading(path: Path, line: str) -> None:
    path.write_text(f"{line}\n{path.read_text(encoding='utf-8')}", encoding="utf-8")


def test_this_format_may_be_said(demo: Path) -> None:
    leading(demo, f"format = {FORMAT}")
    leading(demo.with_name("boat.toml"), f"format = {FORMAT}")
    read = read_configuration(demo)
    assert read.passage.format == read.boat.format == FORMAT


@pytest.mark.parametrize("name", ["passage.toml", "boat.toml"])
@pytest.mark.parametrize("number", ["2", "0", '"new"', "true"])
def test_another_format_is_the_only_fault_told(demo: Path, name: str, number: str) -> None:
    leading(demo.with_name(name), f"format = {number}\nunheard_of = 1")
    with pytest.raises(InputError) as error:
        read_configuration(demo)
    (fault,) = error.value.faults
    assert (fault.where, fault.key) == (name, "format")
    assert f"was given and planner {__version__} reads {FORMAT}." in fault.problem
    assert "Bring the" in fault.remedy


def test_a_format_that_is_set_is_held_to_the_same(demo: Path) -> None:
    with pytest.raises(InputError, match=r"passage.toml: format: 2 is not allowed"):
        read_configuration(demo, [parse_override("format=2")])


def test_mapping_and_variants_say_it_too(tmp_path: Path) -> None:
    mapping = tmp_path / "log-mapping.toml"
    mapping.write_text(to_toml(LogMapping(time_zone="utc")), encoding="utf-8")
    assert f"\nformat = {FORMAT}\n" in mapping.read_text(encoding="utf-8")
    assert read_mapping(mapping).time_zone == "utc"
    mapping.write_text('format = 7\ntime_zone = "utc"\n', encoding="utf-8")
    with pytest.raises(InputError, match="format: 7 was given"):
        read_mapping(mapping)
    variants = tmp_path / "variants.toml"
    variants.write_text('format = 7\n[[variant]]\nname = "more"\n', encoding="utf-8")
    with pytest.raises(InputError, match="format: 7 was given"):
        read_variants(variants)
