"""What the local page shows: templates filled from the shelf."""

from __future__ import annotations

import json
import mimetypes
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from http import HTTPStatus
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from planner.app.verbs.explain import TOPICS, explain
from planner.app.written_plans import output_sizes, read_plan_file
from planner.domain.errors import Fault, InputError
from planner.faces.web import settings
from planner.faces.web.jobs import Jobs, Status
from planner.faces.web.naming import by_given_names
from planner.faces.web.shelf import (
    FORECAST_ENDINGS,
    HEADINGS,
    LOG_ENDINGS,
    OUTPUTS,
    PAGES,
    PLAN,
    RECONCILE,
    ROUTE_ENDINGS,
    Entry,
    Shelf,
)
from planner.presentation.outputs import asset, kept_briefly, text_of

if TYPE_CHECKING:
    from jinja2 import Environment

ASSETS = files("planner.faces.web") / "assets"
DOWNLOADS = {
    "report.html": "the report, one page for paper or any browser",
    "watch-bill.csv": "the watch bill as a table",
    "watch-bill.ics": "the watch bill for a calendar",
    "plan.json": "the plan's figures for other programs",
    "plan.nc": "every quantity at the inner step",
    "hourly.csv": "the same by the hour",
    "own-tracks.nc": "each forecast on its own track, at the inner step",
    "track.geojson": "the track for a chart program",
}
NOTHING: Mapping[str, str] = MappingProxyType({})
NEW_PASSAGE = {"departure": "", "offset": "+12:00", "soc": "90"}
MORNING = {"fix": "", "time": "day 2 08:00", "soc": ""}
HEADINGS_ASKED = {"at": "day 1 12:00", "hours": "4", "step_deg": "10"}
SHARED = {"look.css": "report.css", "red-light.js": "red_light.js"}  # with the report
OWN = ("pages.css", "pages.js")
REFERENCE_WIDTH = 100  # characters; a narrow screen breaks lines sooner
STATES = {
    "none": "new",
    "waiting": "waiting",
    "running": "at work",
    "done": "read, not yet planned",
    "failed": "see what is wrong",
    "cancelled": "cancelled",
    "stopped": "interrupted",
}
OPTIONS = {
    "--set": "Settings", "--fix": "Fix", "--soc": "Charge", "--time": "Time", "--at": "From",
    "--hours": "Hours", "--step": "Step",
}  # fmt: skip


@cache
def static(name: str) -> tuple[bytes, str] | None:
    """Return a style or script and its kind, if there is one of that name."""
    if name in SHARED:
        text = str(asset(SHARED[name]))
    elif name in OWN:
        text = (ASSETS / name).read_text(encoding="utf-8")
    else:
        return None
    kind = "text/css" if name.endswith(".css") else "text/javascript"
    return text.encode("utf-8"), f"{kind}; charset=utf-8"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("planner.faces.web", "assets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@dataclass(frozen=True)
class Desk:
    """What every page of plans is made from.

    Attributes
    ----------
    shelf : Shelf
    jobs : Jobs
    secret : str
        For the forms.
    limit : int
        Largest upload [byte].
    has_demo : bool
        Whether there is a passage to start from.
    """

    shelf: Shelf
    jobs: Jobs
    secret: str
    limit: int
    has_demo: bool


def shelf_page(desk: Desk, *, faults: Sequence[Fault] = (), sent: Mapping[str, str] = NOTHING) -> str:
    """Return the page of all plans.

    Parameters
    ----------
    desk : Desk
    faults : sequence of Fault
        Of the form that was sent.
    sent : mapping of str to str
        That form, to be shown again.
    """
    return _fill(
        "shelf.html.j2",
        desk,
        faults,
        plans=[_line(entry, desk.jobs.status(entry, PLAN)) for entry in desk.shelf.entries()],
        folder=str(desk.shelf.folder),
        has_demo=desk.has_demo,
        form={**NEW_PASSAGE, **sent},
    )


def plan_page(desk: Desk, entry: Entry, *, faults: Sequence[Fault] = (), sent: Mapping[str, str] = NOTHING) -> str:
    """Return the page of one plan; arguments as for ``shelf_page``."""
    status, headings = desk.jobs.status(entry, PLAN), desk.jobs.status(entry, HEADINGS)
    planned, sizes = _is_planned(entry), output_sizes(entry.folder / OUTPUTS)
    others = [other for other in desk.shelf.entries() if other.id != entry.id and _is_planned(other)]
    return _fill(
        "plan.html.j2",
        desk,
        faults,
        entry=entry,
        name=name_of(entry),
        status=status,
        state_faults=_faults([Fault(**fault) for fault in status.result.get("faults", [])], entry),
        headings=headings,
        headings_asked={**HEADINGS_ASKED, **entry.read(f"job-{HEADINGS}").get("options", {})},
        headings_faults=_faults([Fault(**fault) for fault in headings.result.get("faults", [])], entry),
        reconciling=(reconciling := desk.jobs.status(entry, RECONCILE)),
        reconcile_faults=_faults([Fault(**fault) for fault in reconciling.result.get("faults", [])], entry),
        log_clock=entry.read(f"job-{RECONCILE}").get("options", {}).get("clock", ""),
        pages={name for name, path in PAGES.items() if planned and (entry.folder / path).is_file()},
        planned=planned,
        morning={**MORNING, **entry.read("orders"), **{key: sent[key] for key in MORNING if key in sent}},
        replannable=planned or bool(entry.read("orders")),
        facts=entry.read("understood").get("facts", []),
        odd=[warning["says"] for warning in entry.read("understood").get("warnings", [])],
        weather=_by_names(entry.read("weather"), by_given_names(entry)),
        form=settings.shown(entry, sent),
        panels=settings.panel_rows(entry, sent),
        controllers=settings.controllers(entry),
        downloads=[(name, words, _size(sizes[name])) for name, words in DOWNLOADS.items() if name in sizes],
        others=[(other.id, name_of(other)) for other in others],
    )


@cache
def reference_page(topic: str) -> str:
    """Return the page of a topic of the reference, or of what there is to ask.

    Parameters
    ----------
    topic : str
        One of ``TOPICS``; empty for all.
    """
    return (
        _environment()
        .get_template("reference.html.j2")
        .render(
            topic=topic,
            topics=TOPICS,
            text=text_of(explain(topic), REFERENCE_WIDTH) if topic else "",
        )
    )


def sorry_page(status: HTTPStatus, words: str) -> str:
    """Return the page that says why a request is not served."""
    return _environment().get_template("sorry.html.j2").render(status=status, words=words)


def progress_of(status: Status) -> str:
    """Return how work stands, as JSON for the page's script."""
    return json.dumps({"busy": status.busy, "stage": status.stage, "share": status.share})


def kind_of(name: str) -> str:
    """Return the media type of an output."""
    special = {
        ".nc": "application/x-netcdf",
        ".ics": "text/calendar; charset=utf-8",
        ".geojson": "application/geo+json",
    }
    ending = name[name.rfind(".") :]
    return special.get(ending) or mimetypes.guess_type(name)[0] or "application/octet-stream"


def _fill(template: str, desk: Desk, faults: Sequence[Fault], **values: Any) -> str:
    return (
        _environment()
        .get_template(template)
        .render(
            secret=desk.secret,
            limit=desk.limit,
            faults=_faults(faults),
            route_endings=",".join(ROUTE_ENDINGS),
            forecast_endings=",".join(FORECAST_ENDINGS),
            log_endings=",".join(LOG_ENDINGS),
            **values,
        )
    )


def _is_planned(entry: Entry) -> bool:
    return (entry.folder / OUTPUTS / "plan.json").is_file()


def name_of(entry: Entry) -> str:
    """Return what a plan is called: where to, when from, and with what charge."""
    understood = entry.read("understood")
    if not understood:
        return "A passage not yet understood"
    departure = datetime.fromisoformat(understood["passage"]["departure"])
    soc = understood["passage"]["start"]["state_of_charge"]
    words = f"{understood['title']}, {departure.day} {departure:%b %H:%M}, {soc:.0%}"
    orders = entry.read("orders")
    return f"{words}, replanned from {orders['fix']}" if orders else words


def _line(entry: Entry, status: Status) -> dict[str, Any]:
    made = datetime.fromtimestamp(entry.read("card").get("made", 0.0), UTC).astimezone()
    figures = {"lowest": "", "charges": "", "kept": ""}
    state = STATES[status.state]
    try:
        summary = read_plan_file(entry.folder / OUTPUTS) if _is_planned(entry) else {}
    except InputError as error:
        state, summary = " ".join(f"{fault.problem} {fault.remedy}" for fault in error.faults), {}
    if summary:
        state = state if status.busy else "planned"
        figures = {
            "lowest": f"{summary['min_soc']['planned']:.0%}",
            "charges": f"{summary['charging_hours']['planned']:.1f} h",
            "kept": kept_briefly(summary["reserve_kept"]),
        }
    return {
        "id": entry.id,
        "name": name_of(entry),
        "made": f"{made.day} {made:%b %H:%M}",
        "state": state,
        "figures": figures,
    }


def _faults(faults: Sequence[Fault], entry: Entry | None = None) -> list[Fault]:
    """Return faults in the page's words instead of the command's options, a plan's files by their given names."""
    named = str if entry is None else by_given_names(entry)
    return [
        Fault(OPTIONS.get(each.where) or named(each.where), each.key, named(each.problem), named(each.remedy))
        for each in faults
    ]


def _by_names(noted: Any, named: Callable[[str], str]) -> Any:
    """Return what was noted of a plan with its files by their given names in every word."""
    if isinstance(noted, str):
        return named(noted)
    if isinstance(noted, list):
        return [_by_names(each, named) for each in noted]
    return {key: _by_names(each, named) for key, each in noted.items()} if isinstance(noted, dict) else noted


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3))} kB"
