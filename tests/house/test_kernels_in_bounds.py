"""The compiled kernels index inside their arrays: their tests, and a whole plan, run again with indices checked.

Compiled code reads beyond an array without a word. numba can check every index, but only in what it compiles: kernels
that lie in its cache are taken as they are, so the run has a cache folder of its own, empty.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).parents[2]
KERNELS = (
    "tests/physics/test_kernels_hostile.py",
    "tests/decision/test_program_hostile.py",
    "tests/simulation/test_ledger_hostile.py",
    "tests/physics/test_shade_kernel.py",
    "tests/physics/test_strings.py",
    "tests/simulation/test_panel_harvest.py",
    "tests/decision/test_program.py",
    "tests/app/test_hostile_values.py::test_the_tiny_passage_is_planned",
)


def run_checked(*arguments: str, cache: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=PROJECT,
        env={**os.environ, "NUMBA_BOUNDSCHECK": "1", "NUMBA_CACHE_DIR": str(cache)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_switch_finds_an_index_out_of_bounds(tmp_path: Path) -> None:
    beyond = (
        "import numba, numpy\n"
        "@numba.njit\n"
        "def read(table, at): return table[at]\n"
        "read(numpy.zeros(3), 7)\n"
    )  # fmt: skip
    done = run_checked("-c", beyond, cache=tmp_path)
    assert "IndexError" in done.stderr


def test_no_kernel_reads_out_of_bounds(tmp_path: Path) -> None:
    done = run_checked("-m", "pytest", "-q", "-p", "no:cacheprovider", *KERNELS, cache=tmp_path)
    assert done.returncode == 0, done.stdout[-4000:]
    assert list(tmp_path.rglob("*.nbc")), "nothing was compiled anew"
