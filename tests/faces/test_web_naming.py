"""The names that the sender gave stand in messages in place of those that the files are kept under."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.faces.web.naming import LONGEST, by_given_names, shown_name
from planner.faces.web.shelf import Shelf


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("forecast-1.nc", "Sunday's.nc"),
        ("route.gpx: line 3", "home run.gpx: line 3"),
        ("forecast-1.nc and forecast-10.nc.", "Sunday's.nc and forecast-10.nc."),
        ("'old-route.gpx' and route.gpx.bak stay", "'old-route.gpx' and route.gpx.bak stay"),
        ("there is no file '{inputs}/route.gpx'.", "there is no file 'home run.gpx'."),
    ],
)
def test_whole_names_alone_are_replaced(tmp_path: Path, words: str, said: str) -> None:
    entry = Shelf(tmp_path / "kept").new()
    entry.note("names", {"forecast-1.nc": "Sunday's.nc", "route.gpx": "C:\\charts\\home run.gpx"})
    assert by_given_names(entry)(words.format(inputs=entry.inputs)) == said


def test_files_that_are_replaced_lose_their_names(tmp_path: Path) -> None:
    entry = Shelf(tmp_path / "kept").new()
    source = tmp_path / "source"
    source.write_text("x")
    entry.keep("forecast", [("a.nc", source), ("b.grib2", source)])
    entry.keep("route", [("r.csv", source)])
    assert entry.read("names") == {"forecast-1.nc": "a.nc", "forecast-2.grib2": "b.grib2", "route.csv": "r.csv"}
    entry.keep("forecast", [("c.nc", source)])
    assert entry.read("names") == {"forecast-1.nc": "c.nc", "route.csv": "r.csv"}


def test_a_name_is_shown_without_path_and_unseen_signs_and_not_at_any_length() -> None:
    assert shown_name("../../etc/a\tb\u202egpj.nc") == "a\ufffdb\ufffdgpj.nc"
    assert len(shown_name("x" * 500)) == LONGEST


def test_without_names_words_stay(tmp_path: Path) -> None:
    assert by_given_names(Shelf(tmp_path / "kept").new())("route.gpx") == "route.gpx"
