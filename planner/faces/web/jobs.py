"""Work in processes of its own: what it reads may be damaged, and it may die without the page."""

from __future__ import annotations

import logging
import os
import secrets
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import planner
from planner.domain.errors import Fault
from planner.faces.web.shelf import Entry

log = logging.getLogger(__name__)

AT_ONCE: Final = 2
LONGEST_S: Final = 900.0  # s; a plan takes seconds, a damaged file may take for ever
LOOK_EVERY_S: Final = 0.05
WORKER: Final = (sys.executable, "-m", "planner.faces.web.worker")


@dataclass(frozen=True)
class Status:
    """How a piece of work stands.

    Attributes
    ----------
    state : {'none', 'waiting', 'running', 'done', 'failed', 'cancelled', 'stopped'}
        'stopped' when the page was closed while it ran.
    stage : str
        What is being done.
    share : float
        How much is done [0..1].
    result : dict
        What came of it: ``faults``, or an ``error``, or an ``answer``.
    what : str
        The kind of work.
    """

    state: str
    stage: str = ""
    share: float = 0.0
    result: dict[str, Any] = field(default_factory=dict)
    what: str = ""

    @property
    def busy(self) -> bool:
        """Whether it waits or runs."""
        return self.state in {"waiting", "running"}


@dataclass
class _Job:
    name: str
    process: subprocess.Popen[bytes] | None = None
    cancelled: bool = False
    over: bool = False


class Jobs:
    """Starts work on plans, a few at once, and knows how each stands.

    Parameters
    ----------
    worker : sequence of str
        Command to which the plan's folder and the place of work are added.
    longest_s : float
        After which it is stopped [s].
    """

    def __init__(self, worker: Sequence[str] = WORKER, longest_s: float = LONGEST_S) -> None:
        self._worker = tuple(worker)
        self._longest_s = longest_s
        self._jobs: dict[tuple[str, str], _Job] = {}
        self._pool = ThreadPoolExecutor(AT_ONCE, thread_name_prefix="job")
        self._lock = threading.Lock()

    def start(self, entry: Entry, place: str, what: str, **options: Any) -> None:
        """Begin work on a plan; work at the same place is ended first.

        Parameters
        ----------
        entry : Entry
        place : {'plan', 'headings'}
            Of the plan.
        what : {'check', 'plan', 'replan', 'headings'}
            To be done.
        options
            JSON-ready, for the worker.
        """
        self.cancel(entry, place)
        job = _Job(secrets.token_hex(4))
        for name in ("progress", "result"):
            entry.forget(f"{name}-{place}")
        entry.note(f"job-{place}", {"name": job.name, "what": what, "options": options})
        log.info("plan %s: %s is asked for", entry.id, what)
        with self._lock:
            self._jobs[entry.id, place] = job
        self._pool.submit(self._run, entry, place, job)

    def cancel(self, entry: Entry, place: str) -> None:
        """End the work at a place of a plan, if any goes on."""
        with self._lock:
            job = self._jobs.get((entry.id, place))
        if job is None or job.over:
            return
        job.cancelled = True
        if job.process is not None:
            _end(job.process)

    def status(self, entry: Entry, place: str) -> Status:
        """Return how the work at a place of a plan stands."""
        asked = entry.read(f"job-{place}")
        if not asked:
            return Status("none")
        what = str(asked.get("what", ""))
        with self._lock:
            job = self._jobs.get((entry.id, place))
        result = entry.read(f"result-{place}")
        if result.get("job") == asked.get("name"):
            bad = bool(result.get("faults") or result.get("error"))
            return Status(
                "cancelled" if result.get("cancelled") else "failed" if bad else "done", result=result, what=what
            )
        if job is None or job.over:
            return Status("stopped", what=what)
        if job.process is None:
            return Status("waiting", "waiting for another plan to be done", what=what)
        progress = entry.read(f"progress-{place}")
        return Status("running", str(progress.get("stage", "starting")), float(progress.get("share", 0.0)), what=what)

    def close(self) -> None:
        """End all work, and begin none any more."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        with self._lock:
            jobs = list(self._jobs.values())
        for job in jobs:
            job.cancelled = True
            if job.process is not None:
                _end(job.process)
        self._pool.shutdown()

    def _run(self, entry: Entry, place: str, job: _Job) -> None:
        try:
            if not job.cancelled:
                self._work(entry, place, job)
            asked, result = entry.read(f"job-{place}"), entry.read(f"result-{place}")
            if asked.get("name") == job.name and result.get("job") != job.name:
                outcome = {"cancelled": True} if job.cancelled else {"error": self._obituary(job)}
                entry.note(f"result-{place}", {"job": job.name, **outcome})
        finally:
            job.over = True
            self._note(entry, place)

    def _work(self, entry: Entry, place: str, job: _Job) -> None:
        home = str(Path(planner.__file__).parents[1])
        path = os.pathsep.join(part for part in (home, os.environ.get("PYTHONPATH", "")) if part)
        with (entry.folder / f"worker-{place}.log").open("wb") as log:
            job.process = subprocess.Popen(  # noqa: S603  (our own module, our own folder)
                [*self._worker, str(entry.folder), place],
                stdin=subprocess.PIPE,  # never written to: it closes when this process ends, by whatever
                stdout=log,
                stderr=log,
                cwd=entry.folder,
                env={**os.environ, "PYTHONPATH": path},
                start_new_session=True,
            )
        until = time.monotonic() + self._longest_s
        with job.process:
            while job.process.poll() is None:
                if job.cancelled or time.monotonic() > until:
                    _end(job.process)
                time.sleep(LOOK_EVERY_S)

    def _note(self, entry: Entry, place: str) -> None:
        """Note in the log what came of work, and what is wrong with it."""
        status = self.status(entry, place)
        log.info("plan %s: %s %s", entry.id, status.what, status.state)
        wrong = [str(Fault(**fault)) for fault in status.result.get("faults", [])]
        for words in [*wrong, *filter(None, [status.result.get("error")])]:
            log.error("plan %s: %s", entry.id, words)

    def _obituary(self, job: _Job) -> str:
        code = job.process.returncode if job.process is not None else None
        how = f"status {code}"
        if code is not None and code < 0:
            how = signal.Signals(-code).name
        return (
            f"The process that read your files ended without a word ({how}). One of them is probably damaged, most "
            "likely the forecast: fetch it again. The page itself goes on."
        )


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(timeout=2.0)
    except subprocess.TimeoutExpired:
        process.kill()
