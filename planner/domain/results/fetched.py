"""What came of fetching a forecast."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from planner.domain.results.forecast import ForecastAccount
from planner.domain.shown import Shown


@dataclass(frozen=True, eq=False, repr=False)
class FetchedForecast(Shown):
    """A forecast that was fetched and lies beside its passage.

    Attributes
    ----------
    address : str
        As it may be shown: without user, password and query.
    protocol : {'file', 'opendap'}
        Whether it came whole, or cut to the route's corridor by the server.
    path : Path
    size_bytes : int
    sha256 : str
        Of the file, in hexadecimal; beside it in a file of its own, too.
    resumed_bytes : int
        What an earlier try had left of it.
    was_there : bool
        Whether the very same file lay there already.
    passage_line : str
        What the passage file says to plan with it.
    account : ForecastAccount
        What it holds in the route's corridor.
    """

    address: str
    protocol: Literal["file", "opendap"]
    path: Path
    size_bytes: int
    sha256: str
    resumed_bytes: int
    was_there: bool
    passage_line: str
    account: ForecastAccount

    def headline(self) -> str:
        """Return what was fetched."""
        return f"Fetched: {self.path.name}, {self.size_bytes / 1e3:.0f} kB"

    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return where from, its digest, and what it holds."""
        of_account = self.account.facts()
        return (("from", self.address), ("SHA-256", self.sha256), ("in the passage", self.passage_line), *of_account)
