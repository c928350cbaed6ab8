#!/usr/bin/env python3
"""Print constraints that pin every dependency of pyproject.toml to its lower bound; one without a bound stays free.

Usage: ``python scripts/lowest.py > lowest.txt``; ``scripts/lowest`` does so, installs them and runs the fast tests.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1]
TOOLS = {
    "ruff",
    "mypy",
    "import-linter",
    "pytest",
    "pytest-xdist",
    "hypothesis",
    "playwright",
    "axe-playwright-python",
}
BOUND = re.compile(r"(?P<name>[\w.-]+)(\[[\w,]+\])?>=(?P<least>[\w.]+)")


def constraints(pyproject: Path) -> list[str]:
    """Return a pin a dependency of the planner and of its extras for users; what checks alone use is left free."""
    project = tomllib.loads(pyproject.read_text(encoding="utf-8"))["project"]
    listed = [
        *project["dependencies"],
        *(each for extra in project["optional-dependencies"].values() for each in extra),
    ]
    found = [match for each in listed if (match := BOUND.match(each)) is not None]
    return sorted({f"{match['name']}=={match['least']}" for match in found})


if __name__ == "__main__":
    print("\n".join(constraints(PROJECT / "pyproject.toml")))
