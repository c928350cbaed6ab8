"""What watches over file libraries while they read a foreign file: damage may hang or crash them."""

from __future__ import annotations

import math
import os
import pickle
import signal
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from contextvars import ContextVar
from functools import wraps
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final, ParamSpec, TypeVar

from planner.domain.errors import Fault, InputError, PlannerError

READING_S = 20.0  # s of processor time for a file, and
SLOWEST: Final = 2_000_000  # byte/s, as slow as a sound one may read
READING_MEMORY: Final = 3 * 1024**3  # bytes of address space beyond what the process has as it begins to read

Given = ParamSpec("Given")
Result = TypeVar("Result")
Guard = Callable[[Path], AbstractContextManager[None]]
"""Called with the file, it is entered before a library opens it and left when it is read."""

_GUARD: ContextVar[Guard | None] = ContextVar("guard", default=None)


def guard_with(guard: Guard) -> None:
    """Have a guard watch over every reading in this thread from now on."""
    _GUARD.set(guard)


def guarded(path: Path) -> AbstractContextManager[None]:
    """Return the context to open and read a file in, within a function that is read ``apart``."""
    guard = _GUARD.get()
    assert guard is not None, "a forecast is opened where nothing guards"
    return guard(path)


def apart(read: Callable[Given, Result]) -> Callable[Given, Result]:
    """Have a function that reads forecast files called in a process of its own, unless a guard is set in this one.

    The process is a fresh one: a fork of a program that has threads may lock up. Arguments and result are pickled.

    Parameters
    ----------
    read : callable
        Of a module's top level; opens files in ``guarded``.

    Raises
    ------
    InputError
        Of the function called, and of the file that ended the process.
    """

    @wraps(read)
    def called(*given: Given.args, **named: Given.kwargs) -> Result:
        if _GUARD.get() is not None:
            return read(*given, **named)
        result: Result = _called_apart(pickle.dumps((called, given, named)))
        return result

    return called


def _called_apart(call: bytes) -> Any:
    """Return what a pickled call gives, or raise what it raises."""
    command = [sys.executable, "-P", "-c", f"from {__name__} import answer; answer()"]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, env=environment) as process:  # noqa: S603 - all our own
        assert process.stdin is not None
        assert process.stdout is not None
        with suppress(BrokenPipeError):  # of a process that could not begin
            process.stdin.write(call)
            process.stdin.close()
        reading, came = "", None
        while came is None:
            try:
                reading, came = pickle.load(process.stdout)  # noqa: S301 - of our own process
            except EOFError:
                break
    if came is None and reading:
        raise InputError([ended_by(-process.returncode, reading)])
    if came is None:
        raise PlannerError(f"the process that reads forecasts ended with status {process.returncode}.")
    result, error = came
    if error is not None:
        raise error
    return result


def answer() -> None:
    """Do the call that standard input holds, in a process for it alone, and write to standard output what came."""
    with os.fdopen(os.dup(1), "wb") as out:
        os.dup2(2, 1)  # what a library prints is no answer

        def tell(reading: str, came: tuple[Any, Exception | None] | None = None) -> None:
            out.write(pickle.dumps((reading, came), protocol=5))
            out.flush()

        guard_with(lambda path: held_back(path, tell=tell))
        came: tuple[Any, Exception | None]
        try:
            read, given, named = pickle.load(sys.stdin.buffer)  # noqa: S301 - of the program that calls
            came = read(*given, **named), None
        except Exception as error:  # raised again where the call comes from
            if not isinstance(error, PlannerError):
                error.add_note(traceback.format_exc())
            came = None, error
        tell("", came)


def ended_by(number: int, name: str) -> Fault:
    """Return the fault of a file whose library did not survive it.

    Parameters
    ----------
    number : int
        The signal that ended the process, where the system has them.
    name : str
        The file's.
    """
    kinds = {kind.value: kind.name for kind in signal.Signals}
    named = kinds.get(number, f"status {-number}")
    how = "comes to no end with it" if named == "SIGXCPU" else f"crashed ({named})"
    return Fault(name, "", f"the library that reads it {how}.", "It is damaged; fetch it again.")


@contextmanager
def held_back(path: Path, *, tell: Callable[[str], None] = lambda _: None) -> Iterator[None]:
    """Limit memory and processor time while a file is read, where the system can.

    Parameters
    ----------
    path : Path
    tell : callable, optional
        Is given the file's name while it is read, and then an empty one.
    """
    tell(path.name)
    try:
        with _limited(path) if find_spec("resource") else nullcontext():  # Windows has none
            yield
    finally:
        tell("")


@contextmanager
def _limited(path: Path) -> Iterator[None]:
    import resource

    used = resource.getrusage(resource.RUSAGE_SELF)
    allowed_s = READING_S + (path.stat().st_size if path.is_file() else 0) / SLOWEST
    limits = {
        resource.RLIMIT_CPU: math.ceil(used.ru_utime + used.ru_stime + allowed_s),
        resource.RLIMIT_AS: _address_space() + READING_MEMORY,
        resource.RLIMIT_CORE: 0,
    }
    before = {kind: resource.getrlimit(kind) for kind in limits}
    for kind, (soft, hard) in before.items():
        if soft == resource.RLIM_INFINITY or limits[kind] < soft:
            resource.setrlimit(kind, (limits[kind], hard))
    try:
        yield
    finally:
        for kind, limit in before.items():
            resource.setrlimit(kind, limit)


def _address_space() -> int:
    """Return the size of this process's address space [byte]; where the system does not tell, none."""
    try:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return 0
