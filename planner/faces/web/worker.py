"""The process that reads foreign files and plans: the plan's folder says what to do and keeps what came of it."""

from __future__ import annotations

import importlib.util
import logging
import os
import sys
import tomllib
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from planner.app import api
from planner.app.guarding import guard_with, held_back
from planner.app.stages import WRITING, OnStage
from planner.domain.errors import Fault, InputError, PlannerError
from planner.faces.log_file import handled
from planner.faces.watched import end_with
from planner.faces.web.settings import overrides_of
from planner.faces.web.shelf import BOAT, MAPPING, OUTPUTS, PAGES, PASSAGE, POLAR, Entry
from planner.presentation import outputs

log = logging.getLogger(__name__)

MOST_MEMORY: Final = 6 * 1024**3  # bytes of address space; a plan of 51 members takes under 2 GiB of it
SPARE_S: Final = 600  # s of processor time


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
    guard_with(held_back)
    entry = Entry(folder)
    job = entry.read(f"job-{place}")

    def on_stage(stage: str, share: float) -> None:
        entry.note(f"progress-{place}", {"stage": stage, "share": share})

    with handled(logging.StreamHandler()):
        entry.note(f"result-{place}", {"job": job["name"], **_result(entry, job, on_stage)})


def _result(entry: Entry, job: dict[str, Any], on_stage: OnStage) -> dict[str, Any]:
    """Return what comes of a job, whatever it is."""
    try:
        return _do(entry, str(job["what"]), job["options"], on_stage)
    except InputError as error:
        return {"faults": [asdict(fault) for fault in error.faults]}
    except MemoryError:
        return {"error": "There is not memory enough for what the files hold. Take a smaller part of the forecast."}
    except PlannerError as error:
        return {"error": str(error)}
    except Exception:
        log.exception("the planner failed")
        return {"error": "The planner failed on these files. That is our mistake; worker-plan.log says more."}


def _do(entry: Entry, what: str, options: dict[str, Any], on_stage: OnStage) -> dict[str, Any]:
    on_stage("reading", 0.0)
    _polar_is_here(entry)
    settings, more = overrides_of(entry)
    if what == "check":
        _note_weather(entry, settings, more)
    inputs = api.read_passage(entry.inputs / PASSAGE, settings, typed=more)
    links = (("/", "All plans"), (f"/plan/{entry.id}", "This plan"))
    if what == "headings":
        outputs.write_page(
            api.headings(inputs, **options, on_stage=on_stage), entry.folder / PAGES["headings"], links
        )
        return {}
    if what == "reconcile":
        mapping = entry.inputs / MAPPING
        found = api.reconcile(
            inputs,
            entry.logs(),
            mapping=mapping if mapping.is_file() else None,
            clock=options["clock"] or None,
            on_stage=on_stage,
        )
        on_stage("writing", WRITING)
        outputs.write_page(found, entry.folder / PAGES["reconcile"], links)
        return {"answer": outputs.answer_of(found)}
    entry.note("understood", outputs.figures_of(inputs))
    if what == "check":
        entry.note("base", outputs.figures_of(inputs))
        looked_at = api.check(entry.inputs / PASSAGE, settings, typed=more, on_stage=on_stage)
        entry.note("understood", outputs.figures_of(looked_at))
        return {}
    if what == "replan":
        rest = api.replan(inputs, **{**options, "last": options.get("last") or None}, on_stage=on_stage)
        outputs.write_page(rest, entry.folder / PAGES["changes"], links)
        plan, answer = rest.plan, outputs.answer_of(rest)
    else:
        plan = api.plan(inputs, on_stage=on_stage)
        answer = outputs.answer_of(plan)
    on_stage("writing", WRITING)
    outputs.write_page(plan, entry.folder / PAGES["report"], links)
    outputs.write(plan, entry.folder / OUTPUTS)
    return {"answer": answer}


def _note_weather(entry: Entry, settings: dict[str, Any], more: tuple[str, ...]) -> None:
    """Note what the forecast holds, so that it can be looked at even where a plan is refused for it."""
    try:
        page = outputs.weather_page(api.weather(entry.inputs / PASSAGE, settings, typed=more))
        entry.note("weather", {"answer": list(page.answer), "tables": [asdict(table) for table in page.tables]})
    except InputError:  # passage, boat or route: reading them again, next, says what is wrong
        entry.forget("weather")


def _polar_is_here(entry: Entry) -> None:
    """Refuse a boat file that names a polar table elsewhere on the machine."""
    try:
        boat = tomllib.loads((entry.inputs / BOAT).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
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
    end_with(from_page)


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
