"""The process that reads foreign files and plans: the plan's folder says what to do and keeps what came of it."""

from __future__ import annotations

import importlib.util
import os
import sys
import threading
import tomllib
import traceback
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from planner.app import live
from planner.app.stages import CHECKING, HEADINGS, PLANNING, RECONCILING, REPLANNING, along
from planner.app.understand import understand
from planner.app.verbs.weather import weather_told
from planner.domain.errors import Fault, InputError, PlannerError
from planner.faces.web.settings import overrides_of
from planner.faces.web.shelf import BOAT, MAPPING, PASSAGE, POLAR, Entry
from planner.flow.progress import Progress

MOST_MEMORY: Final = 6 * 1024**3  # bytes of address space; a plan of 51 members takes under 2 GiB of it
SPARE_S: Final = 600  # s of processor time
ORPHANED: Final = 1  # exit status; nobody is left to read it
COURSES: Final = {
    "check": CHECKING,
    "plan": PLANNING,
    "replan": REPLANNING,
    "headings": HEADINGS,
    "reconcile": RECONCILING,
}


def main(folder: Path, place: str) -> None:
    """Do what the folder asks for at a place.

    Parameters
    ----------
    folder : Path
        Of the plan.
    place : str
        Whose ``job`` is read and whose ``progress`` and ``result`` are noted.
    """
    _hold_back()
    _end_with_the_page()
    entry = Entry(folder)
    job = entry.read(f"job-{place}")

    def tell(stage: str, share: float) -> None:
        entry.note(f"progress-{place}", {"stage": stage, "share": share})

    what = str(job["what"])
    try:
        result = _do(entry, what, job["options"], along(tell, COURSES[what]))
    except InputError as error:
        result = {"faults": [asdict(fault) for fault in error.faults]}
    except MemoryError:
        result = {"error": "There is not memory enough for what the files hold. Take a smaller part of the forecast."}
    except PlannerError as error:
        result = {"error": str(error)}
    except Exception:
        traceback.print_exc()
        result = {"error": "The planner failed on these files. That is our mistake; worker-plan.log says more."}
    entry.note(f"result-{place}", {"job": job["name"], **result})


def _do(entry: Entry, what: str, options: dict[str, Any], progress: Progress) -> dict[str, Any]:
    progress("reading")
    _polar_is_here(entry)
    settings, more = overrides_of(entry)
    if what == "check":
        _tell_weather(entry, settings, more)
    inputs = live.read_settings(entry.inputs / PASSAGE, settings, more)
    understood = asdict(understand(inputs))
    links = _links(entry)
    if what == "headings":
        live.headings_live(inputs, entry.folder, **options, links=links, progress=progress)
        return {}
    if what == "reconcile":
        mapping = entry.inputs / MAPPING
        answer = live.reconcile_live(
            inputs,
            entry.folder,
            logs=entry.logs(),
            mapping_file=mapping if mapping.is_file() else None,
            **options,
            links=links,
            progress=progress,
        )
        return {"answer": answer}
    entry.note("understood", understood)
    if what == "check":
        entry.note("base", understood)
        return {}
    if what == "replan":
        last = Path(options.pop("last")) if options.get("last") else None
        answer = live.replan_live(inputs, entry.folder, **options, last=last, links=links, progress=progress)
    else:
        answer = live.plan_live(inputs, entry.folder, links=links, progress=progress)
    return {"answer": answer}


def _tell_weather(entry: Entry, settings: dict[str, Any], more: tuple[str, ...]) -> None:
    """Note what the forecast holds, so that it can be looked at even where a plan is refused for it."""
    try:
        entry.note("weather", weather_told(entry.inputs / PASSAGE, settings, more))
    except InputError:  # passage, boat or route: reading them again, next, says what is wrong
        entry.forget("weather")


def _links(entry: Entry) -> live.Links:
    return ("/", "All plans"), (f"/plan/{entry.id}", "This plan")


def _polar_is_here(entry: Entry) -> None:
    """Refuse a boat file that names a polar table elsewhere on the machine."""
    try:
        boat = tomllib.loads((entry.inputs / BOAT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return  # whoever reads it next says what is wrong
    sailing = boat.get("sailing")
    named = sailing.get("polar") if isinstance(sailing, dict) else None
    if isinstance(named, str) and not (entry.inputs / POLAR).is_file():
        problem = "the boat file names a file with the polar table, which is not here."
        raise InputError([Fault(BOAT, "sailing.polar", problem, "Give that file, too.")])


def _end_with_the_page() -> None:
    """End this process when the page's process ends, even killed: standard input is a pipe from there."""
    from_page = os.dup(sys.stdin.fileno())
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, sys.stdin.fileno())  # on Windows a library that looks at it would wait for the reading thread
    os.close(nothing)

    def watch() -> None:
        while os.read(from_page, 1):
            pass
        os._exit(ORPHANED)

    threading.Thread(target=watch, daemon=True).start()


def _hold_back() -> None:
    """Limit memory and processor time where the system can; a file that asks for more ends this process alone."""
    if importlib.util.find_spec("resource") is None:  # Windows
        return
    import resource

    for kind, most in ((resource.RLIMIT_AS, MOST_MEMORY), (resource.RLIMIT_CPU, SPARE_S), (resource.RLIMIT_CORE, 0)):
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError):
            print(f"no limit on {kind}", file=sys.stderr)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
