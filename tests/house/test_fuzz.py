"""A short run of the fuzz: every reader reads or refuses what it is given; scripts/fuzz runs it long."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from planner.domain.errors import InputError

TEXTS = ("passage and boat", "polar table", "route", "log", "engine log and mapping", "plan")


@pytest.fixture(scope="module")
def fuzz(script: Callable[[str], ModuleType]) -> ModuleType:
    return script("fuzz")


@pytest.mark.parametrize("reader", TEXTS)
def test_damaged_texts_are_read_or_refused(fuzz: ModuleType, reader: str, tmp_path: Path) -> None:
    corpus = fuzz.READERS[reader].corpus()
    for number in range(len(corpus) + 30):
        path = fuzz.written(reader, number, 7, tmp_path, corpus)
        if number < len(corpus) and reader != "plan":  # which needs two files at once
            fuzz.READERS[reader].read(path)  # the sound ones come first, and are read
        with contextlib.suppress(InputError):
            fuzz.READERS[reader].read(path)


def test_odd_and_giant_forecasts_are_read_or_refused(fuzz: ModuleType, tmp_path: Path) -> None:
    corpus = fuzz.READERS["NetCDF"].corpus()
    refused = {}
    for number, name in enumerate(sorted(corpus)):  # no random damage: it may crash the library, and this process
        path = fuzz.written("NetCDF", number, 7, tmp_path, corpus)
        try:
            fuzz.READERS["NetCDF"].read(path)
        except InputError as error:
            refused[name] = str(error)
    for axis in ("time", "lat", "lon"):
        assert f"giant_{axis}.nc: axis {axis}: it is said to be of 1000000000 places" in refused[f"giant_{axis}.nc"]
        assert f"its axis {axis} has no length: there are no values." in refused[f"no_{axis}.nc"]
    assert all(words.startswith(name) for name, words in refused.items())
    assert not any(name.startswith("a") for name in refused)


def test_an_input_is_the_same_whenever_it_is_made(fuzz: ModuleType, tmp_path: Path) -> None:
    corpus = fuzz.READERS["log"].corpus()
    made = [fuzz.written("log", 40, 3, tmp_path, corpus).read_bytes() for _ in range(2)]
    assert made[0] == made[1] != corpus["log.csv"]
