#!/usr/bin/env python3
"""Print constraints that pin what users install of pyproject.toml to its lower bounds.

Usage: ``python scripts/lowest.py > lowest.txt``; ``scripts/lowest`` does so, installs them and runs the fast tests.
What has no bound, and what checks alone use, stays free.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1]
BOUND = re.compile(r"(?P<name>[\w.-]+)>=(?P<least>[\w.]+)")


def constraints(pyproject: Path) -> list[str]:
    """Return a pin a dependency."""
    project = tomllib.loads(pyproject.read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    listed = [*project["dependencies"], *extras["grib"], *extras["opendap"]]
    found = [match for each in listed if (match := BOUND.fullmatch(each)) is not None]
    return sorted(f"{match['name']}=={match['least']}" for match in found)


if __name__ == "__main__":
    print("\n".join(constraints(PROJECT / "pyproject.toml")))
