#!/usr/bin/env python3
"""Ask the package index whether all that the planner needs comes ready built, by platform and version of Python.

Usage: ``python scripts/wheels.py``; it downloads what tells of a wheel, and installs nothing.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1]
PLATFORMS = {
    "Linux x86-64": ("manylinux_2_28_x86_64", "manylinux_2_17_x86_64", "manylinux2014_x86_64"),
    "Linux arm64": ("manylinux_2_28_aarch64", "manylinux_2_17_aarch64", "manylinux2014_aarch64"),
    "macOS arm64": tuple(
        f"macosx_{version}_{kind}" for version in ("14_0", "13_0", "12_0", "11_0") for kind in ("arm64", "universal2")
    ),
    "macOS x86-64": tuple(
        f"macosx_{version}_x86_64" for version in ("14_0", "13_0", "12_0", "11_0", "10_15", "10_9")
    ),
    "Windows x86-64": ("win_amd64",),
}
VERSIONS = ("3.11", "3.12", "3.13", "3.14")


def lacking(needs: list[str], platforms: tuple[str, ...], version: str) -> str:
    """Return what pip says is lacking, in a line; empty where everything comes as a wheel."""
    with tempfile.TemporaryDirectory() as target:
        command = [sys.executable, "-m", "pip", "install", "--dry-run", "--quiet", "--disable-pip-version-check"]
        command += [
            "--only-binary",
            ":all:",
            "--implementation",
            "cp",
            "--python-version",
            version,
            "--target",
            target,
        ]
        command += [word for tag in platforms for word in ("--platform", tag)]
        done = subprocess.run([*command, *needs], capture_output=True, text=True, check=False)
    errors = [line for line in done.stderr.splitlines() if line.startswith("ERROR")]
    return errors[-1] if done.returncode and errors else "" if not done.returncode else done.stderr[-200:]


def main() -> int:
    """Print a line a platform and version of Python."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    needs = [*project["dependencies"], *extras["grib"]]
    wanting = 0
    for platform, tags in PLATFORMS.items():
        for version in VERSIONS:
            found = lacking(needs, tags, version)
            without = found and lacking(project["dependencies"], tags, version)
            wanting += bool(found)
            least = f"; without GRIB: {without or 'all wheels'}" if found else ""
            print(f"{platform:15} Python {version}  {found or 'all wheels'}{least}", flush=True)
    return int(wanting > 0)


if __name__ == "__main__":
    sys.exit(main())
