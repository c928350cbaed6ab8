"""Names and patterns of files: what they mean, in which order, and what is said where they mean nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.config import parse_override, read_configuration
from planner.readers.file_patterns import matching_files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "ens").mkdir()
    for name in ("ens/m10.nc", "ens/m2.nc", "ens/m1.nc", "ens/notes.txt", "wind[1].nc", "wind1.nc"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "ens" / "m3.nc").mkdir()
    return tmp_path


def names(folder: Path, *asked: str) -> tuple[list[str], list[str]]:
    files, faults = matching_files(asked, folder, where="passage.toml", key="forecast")
    return [path.relative_to(folder).as_posix() for path in files], [str(fault) for fault in faults]


def test_a_pattern_means_files_alone_sorted_as_a_person_does(folder: Path) -> None:
    assert names(folder, "ens/*.nc") == (["ens/m1.nc", "ens/m2.nc", "ens/m10.nc"], [])
    assert names(folder, "ens/m?.nc") == (["ens/m1.nc", "ens/m2.nc"], [])
    assert names(folder, "**/m[12].nc") == (["ens/m1.nc", "ens/m2.nc"], [])


def test_a_file_that_is_met_twice_stays_where_it_was_named_first(folder: Path) -> None:
    assert names(folder, "ens/m10.nc", "ens/*.nc", "ens/../ens/m1.nc")[0] == ["ens/m10.nc", "ens/m1.nc", "ens/m2.nc"]


def test_a_name_with_brackets_is_a_name_where_there_is_such_a_file(folder: Path) -> None:
    assert names(folder, "wind[1].nc")[0] == ["wind[1].nc"]


def test_a_plain_name_is_kept_for_whoever_looks_for_the_file(folder: Path) -> None:
    assert names(folder, "nowhere.nc") == (["nowhere.nc"], [])


def test_an_absolute_pattern_is_taken_as_it_is(folder: Path, tmp_path: Path) -> None:
    files, faults = matching_files([str(folder / "ens" / "m1*.nc")], Path(), where="weather", key="")
    assert [path.name for path in files] == ["m1.nc", "m10.nc"]
    assert not faults


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("ens/*.grib2", "no file is named like 'ens/*.grib2'. There lie: m1.nc, m2.nc, m10.nc, notes.txt."),
        ("esn/*.nc", "There is no folder 'esn'. Did you mean 'ens'?"),
        ("ens/m3.nc/*.nc", "That folder holds no files."),
    ],
)
def test_a_pattern_that_means_nothing_says_what_lies_there(folder: Path, asked: str, said: str) -> None:
    found, faults = names(folder, asked)
    assert found == []
    assert len(faults) == 1
    assert faults[0].startswith("passage.toml: forecast: no file is named like")
    assert said in faults[0]


def test_patterns_of_a_passage_are_looked_up_beside_it(demo: Path) -> None:
    for name in ("forecast-2.nc", "forecast-10.nc"):
        (demo.parent / name).write_bytes(b"")
    read = read_configuration(demo, [parse_override('forecast=["fore*.nc", "forecast-2.nc"]')])
    assert read.forecast_files == (demo.parent / "forecast-2.nc", demo.parent / "forecast-10.nc")
    with pytest.raises(InputError, match="no file is named like") as caught:
        read_configuration(demo, [parse_override("forecast=fore*.grb"), parse_override("boat.bank.capacity_ah=-1")])
    assert len(caught.value.faults) == 2
