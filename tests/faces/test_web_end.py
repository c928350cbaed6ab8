"""The end of the page, asked for or sudden: no work goes on behind it, and the folder's secret is whole again."""

from __future__ import annotations

import http.client
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest

from planner.faces.web import guard
from planner.faces.web.guard import SECRET_FILE, Guard, new_key, secret_of
from planner.faces.web.shelf import Entry

HOME = Path(__file__).parents[2]
PATIENCE_S = 60.0  # a shared machine may be slow; nothing is timed by it
PROC = Path("/proc")


def until(done: Callable[[], object]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not done():
        assert time.monotonic() < end
        time.sleep(0.02)


@contextmanager
def at_work(folder: Path, *before: str) -> Iterator[tuple[subprocess.Popen[str], Entry, list[int]]]:
    """Serve a page in a process of its own and have it read the demo: the process, the plan, its workers."""
    command = [*before, sys.executable, "-m", "planner", "serve", "--folder", str(folder), "--port", "0"]
    demo = ["--demo", str(HOME / "data" / "demo" / "passage.toml")]
    with subprocess.Popen(
        [*command, *demo], cwd=HOME, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as page:
        try:
            assert page.stdout is not None
            url = urlsplit(page.stdout.readline().split()[1])
            cookie = ask(url.netloc, "GET", f"/?{url.query}").getheader("Set-Cookie")
            assert cookie is not None
            form = urlencode({"secret": (folder / SECRET_FILE).read_text(), "from": "demo"})
            kind = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookie.split(";")[0]}
            answer = ask(url.netloc, "POST", "/plans", form, kind)
            assert answer.status == 303
            until(lambda: children(page.pid))
            location = answer.getheader("Location")
            assert location is not None
            yield page, Entry(folder / "plans" / location.rsplit("/", 1)[-1]), children(page.pid)
        finally:
            page.kill()


def ask(
    host: str, method: str, path: str, body: str = "", headers: dict[str, str] | None = None
) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection(host, timeout=PATIENCE_S)
    connection.request(method, path, body or None, headers or {})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer


def children(process: int) -> list[int]:
    return [
        int(each) for file in (PROC / str(process) / "task").glob("*/children") for each in file.read_text().split()
    ]


def alive(process: int) -> bool:
    """A process that has ended but that nobody has asked about is not alive."""
    try:
        return (PROC / str(process) / "stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


needs_proc = pytest.mark.skipif(not (PROC / "self" / "task").is_dir(), reason="children are looked up in /proc")


@needs_proc
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_ends_the_page_and_its_work(tmp_path: Path, name: str) -> None:
    with at_work(tmp_path) as (page, plan, workers):
        page.send_signal(getattr(signal, name))
        _, words = page.communicate(timeout=PATIENCE_S)
        assert page.returncode == 0
        assert words == ("" if name == "SIGHUP" else f"Ended by {name}; the plans are kept.\n")
        assert workers
        assert not any(alive(worker) for worker in workers)
        assert plan.read("result-plan").get("cancelled") is True


@needs_proc
def test_work_ends_when_the_page_is_killed(tmp_path: Path) -> None:
    with at_work(tmp_path) as (page, plan, workers):
        page.kill()
        page.wait(timeout=PATIENCE_S)
        assert workers
        until(lambda: not any(alive(worker) for worker in workers))
        assert plan.read("result-plan") == {}  # it did not come to its own end


@needs_proc
def test_a_hang_up_that_was_to_be_ignored_leaves_the_page_alone(tmp_path: Path) -> None:
    with at_work(tmp_path, "nohup") as (page, _, _):
        page.send_signal(signal.SIGHUP)
        page.send_signal(signal.SIGTERM)
        _, words = page.communicate(timeout=PATIENCE_S)
        assert words.endswith("Ended by SIGTERM; the plans are kept.\n")


@pytest.mark.parametrize("left", [b"", b"\n", b"half-of-it", b"\xff\xfe\x00", b"x" * 31 + b" "])
def test_a_secret_that_is_not_whole_is_made_anew(tmp_path: Path, left: bytes) -> None:
    (tmp_path / SECRET_FILE).write_bytes(left)
    secret = secret_of(tmp_path)
    assert len(secret) == len(new_key())
    assert secret_of(tmp_path) == secret  # and kept
    assert [path.name for path in tmp_path.iterdir()] == [SECRET_FILE]
    if os.name == "posix":
        assert (tmp_path / SECRET_FILE).stat().st_mode & 0o777 == 0o600


def test_a_kill_while_the_secret_is_written_leaves_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(*_: object) -> str:
        raise KeyboardInterrupt

    with monkeypatch.context() as at_that_moment:
        at_that_moment.setattr(guard.os, "fsync", killed)
        with pytest.raises(KeyboardInterrupt):
            secret_of(tmp_path)
    assert not (tmp_path / SECRET_FILE).exists()
    assert len(secret_of(tmp_path)) == len(new_key())


@pytest.mark.parametrize(("secret", "key"), [("", "k" * 32), ("s" * 32, "")])
def test_no_page_is_served_with_an_empty_secret_or_key(secret: str, key: str) -> None:
    with pytest.raises(ValueError, match="whole"):
        Guard(port=1, secret=secret, key=key)
