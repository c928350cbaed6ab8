"""Which checks may be skipped: a run that skips another fails."""

from __future__ import annotations

import pytest

# Every reason for which a check may be skipped, and how many at most; a run with another skip, or more of one, fails.
STATED_SKIPS = {
    "the whole files of open data are not beside the project": 9,
    "needs Chromium": 150,  # never where tests run unattended
    "could not import": 60,  # without the extra that reads GRIB
    "embreex has no wheel for this machine": 3,  # Linux x86-64 has
    "the project does not lie in a git work tree": 8,
    "Windows": 30,
    "children are looked up in /proc": 10,  # Linux has it
}


class Skips:
    """Counts what a run skips against what is stated."""

    def __init__(self) -> None:
        self.reasons: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped and isinstance(report.longrepr, tuple):
            self.reasons.append(report.longrepr[2].removeprefix("Skipped: "))

    def unstated(self) -> list[str]:
        """Return what was skipped for no stated reason, or more often than stated."""
        counts = {stated: [why for why in self.reasons if stated in why] for stated in STATED_SKIPS}
        over = [f"{len(each)} times: {stated}" for stated, each in counts.items() if len(each) > STATED_SKIPS[stated]]
        return over + [why for why in self.reasons if not any(stated in why for stated in STATED_SKIPS)]

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.unstated():
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for why in self.unstated():
            terminalreporter.write_line(
                f"skipped, and tests/house/stated_skips.py does not state it: {why}", red=True
            )
