"""A forecast is read in a process of its own, and what ends that process is told as a fault of its file."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextvars import Context
from pathlib import Path
from typing import TypeVar

import pytest
from forecast_case import plain_forecast, write

from planner.domain.errors import Fault, InputError, PlannerError
from planner.readers.forecast import guard
from planner.readers.forecast.reader import read_forecast

Result = TypeVar("Result")
FAULTS = (Fault("odd.nc", "t2m", "it is wrong.", "Mend it."), Fault("odd.nc", "", "so is this."))


@guard.apart
def read(path: Path, *, how: str = "") -> int:
    with guard.guarded(path):
        if how == "crash":
            os.abort()
        if how == "print":
            os.write(1, b"a library's own words")
        if how == "refuse":
            raise InputError(FAULTS)
        if how == "fail":
            raise ZeroDivisionError("of our own")
    if how == "crash later":
        os.abort()
    return os.getpid()


def unguarded(call: Callable[[], Result]) -> Result:
    """Call as a program does that knows nothing of guards: where none is set."""
    return Context().run(call)


def test_a_program_s_forecast_is_read_in_another_process_and_a_watched_one_s_in_its_own() -> None:
    assert read(Path("odd.nc")) == os.getpid()
    assert unguarded(lambda: read(Path("odd.nc"), how="print")) != os.getpid()


def test_a_crash_is_told_with_the_file_and_one_outside_of_a_file_is_not_its_fault() -> None:
    with pytest.raises(InputError, match=r"odd.nc: the library that reads it crashed \(SIGABRT\). It is damaged"):
        unguarded(lambda: read(Path("odd.nc"), how="crash"))
    with pytest.raises(PlannerError, match="the process that reads forecasts ended with status") as told:
        unguarded(lambda: read(Path("odd.nc"), how="crash later"))
    assert not isinstance(told.value, InputError)


def test_every_fault_comes_back_and_our_own_mistakes_with_their_place() -> None:
    with pytest.raises(InputError, match=r"odd.nc: t2m: it is wrong. Mend it.") as told:
        unguarded(lambda: read(Path("odd.nc"), how="refuse"))
    assert told.value.faults == FAULTS
    with pytest.raises(ZeroDivisionError, match="of our own") as failed:
        unguarded(lambda: read(Path("odd.nc"), how="fail"))
    assert 'raise ZeroDivisionError("of our own")' in failed.value.__notes__[0]


def test_a_forecast_is_the_same_wherever_it_is_read(tmp_path: Path) -> None:
    path = write(plain_forecast(), tmp_path / "plain.nc")
    here = read_forecast([path], corridor=None, span=None)
    assert unguarded(lambda: read_forecast([path], corridor=None, span=None)).identical(here)


def test_no_forecast_is_opened_where_nothing_guards() -> None:
    with pytest.raises(AssertionError, match="nothing guards"):
        unguarded(lambda: guard.guarded(Path("odd.nc")))
