"""Kernels compile where neither the program's folder nor the user's own can be written to."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
PROGRAM = (
    "import subprocess, sys\n"
    "import planner.simulation, planner.decision\n"  # every package of kernels looks for a place
    "from planner.physics.frames import locate\n"
    "from numba import config; print(config.CACHE_DIR)\n"
    "sys.exit(subprocess.run([sys.executable, '-c', 'import planner.physics.frames']).returncode)"
)
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="each user has a folder for caches on Windows")


@pytest.fixture(scope="module")
def read_only(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package where no folder for caches can be made, as on a read-only disk: a file has its name."""
    home = tmp_path_factory.mktemp("installed")
    shutil.copytree(PROJECT / "planner", home / "planner", ignore=shutil.ignore_patterns("__pycache__"))
    for folder in [home / "planner", *(path for path in (home / "planner").rglob("*") if path.is_dir())]:
        (folder / "__pycache__").write_bytes(b"")
    return home


def started(installed: Path, temporary: Path, **more: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("NUMBA_", "XDG_"))}
    places = {"HOME": "/dev/null", "TMPDIR": str(temporary), "PYTHONPATH": str(installed)}
    return subprocess.run(
        [sys.executable, "-c", PROGRAM],
        capture_output=True,
        text=True,
        check=False,
        cwd=temporary,
        env={**kept, **places, **more},
    )


def test_they_go_to_a_temporary_folder_of_ones_own_which_is_told_once(read_only: Path, tmp_path: Path) -> None:
    done = started(read_only, tmp_path)
    assert done.returncode == 0, done.stderr
    folder = Path(done.stdout.strip())
    assert folder.parent == tmp_path
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert done.stderr.count("\n") == 1
    assert f"compiled code is kept in '{folder}'" in done.stderr
    again = started(read_only, tmp_path)
    assert again.stdout == done.stdout  # what was compiled is found again


def test_a_folder_that_others_can_write_to_is_not_used(read_only: Path, tmp_path: Path) -> None:
    trap = tmp_path / f"passage-energy-kernels-{os.getuid()}"
    trap.mkdir()
    trap.chmod(0o777)
    done = started(read_only, tmp_path)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()).parent == tmp_path
    assert Path(done.stdout.strip()) != trap


def test_a_place_that_is_given_is_used_and_nothing_is_said(read_only: Path, tmp_path: Path) -> None:
    done = started(read_only, tmp_path, NUMBA_CACHE_DIR=str(tmp_path / "given"))
    assert (done.returncode, done.stdout, done.stderr) == (0, f"{tmp_path / 'given'}\n", "")
