"""A skip that is not stated is seen, and so is one more than stated."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from stated_skips import STATED_SKIPS, Skips


def skips(*reasons: str) -> Skips:
    counted = Skips()
    for reason in reasons:
        report = SimpleNamespace(skipped=True, longrepr=("test_any.py", 1, f"Skipped: {reason}"))
        counted.pytest_runtest_logreport(report)
    return counted


def test_a_stated_skip_is_let_pass_up_to_its_number() -> None:
    ((reason, most), *_) = STATED_SKIPS.items()
    session = SimpleNamespace(exitstatus=pytest.ExitCode.OK)
    skips(*[reason] * most).pytest_sessionfinish(session)
    assert session.exitstatus == pytest.ExitCode.OK
    assert skips(*[reason] * (most + 1)).unstated() == [f"{most + 1} times: {reason}"]


def test_a_skip_for_another_reason_fails_the_run() -> None:
    session = SimpleNamespace(exitstatus=pytest.ExitCode.OK)
    skips("no time today").pytest_sessionfinish(session)
    assert session.exitstatus == pytest.ExitCode.TESTS_FAILED
