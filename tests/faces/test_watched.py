"""A command whose file library crashes, hangs or asks for memory without end is told of in a sentence."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="Windows has no fork")

COMMAND = """
import os, sys
from pathlib import Path
from planner.faces import watched

def run():
    from planner.readers.forecast import guard
    guard.READING_S = 0.1
    with guard.guarded(Path("odd.nc")):
        {reading}
    {after}
    return 0

sys.exit(watched.watched(run))
"""


def ended(reading: str = "pass", after: str = "pass") -> tuple[int, str]:
    command = [sys.executable, "-c", COMMAND.format(reading=reading, after=after)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, done.stderr


def test_a_command_ends_as_it_would_by_itself() -> None:
    assert ended() == (0, "")
    assert ended(after="sys.exit(3)") == (3, "")


@pytest.mark.parametrize(
    ("reading", "how"),
    [
        ("os.abort()", "crashed (SIGABRT)"),
        ("os.kill(os.getpid(), 11)", "crashed (SIGSEGV)"),
        ("while True: pass", ""),
    ],
)
def test_a_library_that_crashes_or_hangs_is_told_with_the_file(reading: str, how: str) -> None:
    status, words = ended(reading)
    assert status == 2
    assert f"odd.nc: the library that reads it {how or 'comes to no end with it'}. It is damaged; fetch" in words


def test_memory_is_limited_while_a_file_is_read_and_then_no_longer() -> None:
    status, words = ended("bytearray(4 * 1024**3)")
    if sys.platform == "linux":  # others keep no such limit
        assert (status, words.splitlines()[-1]) == (1, "MemoryError")
    assert ended(after="import resource; assert resource.getrlimit(resource.RLIMIT_AS)[0] == -1") == (0, "")


def test_what_ends_outside_of_a_file_is_no_file_s_fault() -> None:
    status, words = ended(after="os.abort()")
    assert (status, words) == (1, "passage-energy: the system ended the planner (SIGABRT).\n")


def test_the_watched_process_goes_with_the_watching_one(tmp_path: Path) -> None:
    named = tmp_path / "pid"
    code = COMMAND.format(
        reading="pass", after=f"Path({str(named)!r}).write_text(str(os.getpid())); import time; time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", code]) as watching:
        until = time.monotonic() + 20.0
        while not named.is_file() or not named.read_text():
            assert time.monotonic() < until
            time.sleep(0.01)
        child = int(named.read_text())
        watching.kill()
    while time.monotonic() < until:
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    pytest.fail("it goes on")


def test_signals_are_passed_on(tmp_path: Path) -> None:
    code = COMMAND.format(reading="pass", after="print('at it', flush=True); import time; time.sleep(60)")
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as watching:
        assert watching.stdout is not None
        assert watching.stdout.readline() == "at it\n"
        watching.send_signal(signal.SIGTERM)
        assert watching.wait(timeout=20) == -signal.SIGTERM


def test_the_command_line_is_watched(tmp_path: Path) -> None:
    path = tmp_path / "odd.nc"
    path.write_bytes(b"CDF\x01")
    code = (
        "import os, sys; from planner.faces.cli import main; from planner.readers.forecast import survey\n"
        f"survey.open_parts = lambda path: os.abort(); sys.argv = ['passage-energy', 'weather', {str(path)!r}]\n"
        "sys.exit(main())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "odd.nc: the library that reads it crashed (SIGABRT)" in done.stderr
