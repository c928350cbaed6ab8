"""Requests and what is done for each: the shelf, a plan, its files, its forms."""

from __future__ import annotations

import re
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from http import HTTPStatus
from pathlib import Path
from typing import BinaryIO, Final
from urllib.parse import parse_qs, quote, urlsplit

from planner.app.inputs import named_files
from planner.app.verbs.explain import TOPICS
from planner.app.written_plans import output_of, side_by_side
from planner.domain.addresses import masked
from planner.domain.errors import Fault, InputError
from planner.faces.web import pages, settings
from planner.faces.web.guard import PAGE_POLICY, REPORT_POLICY, Guard, Refusal
from planner.faces.web.jobs import Jobs
from planner.faces.web.multipart import Form, read_multipart
from planner.faces.web.settings import SECRET
from planner.faces.web.shelf import HEADINGS, OUTPUTS, PAGES, PLAN, RECONCILE, Entry, Shelf
from planner.faces.web.uploads import absent_faults, kind_faults, take_in

MOST_FORM: Final = 256 * 1024  # bytes of a form without files
NAME: Final = "[0-9a-f]{16}"
KEY: Final = "key"
"""In the address that is printed at the start."""

TEXT: Final = "text/plain; charset=utf-8"
HTML: Final = "text/html; charset=utf-8"


@dataclass(frozen=True)
class Request:
    """What is asked.

    Attributes
    ----------
    method : str
    target : str
        Path and query.
    headers : mapping of str to str
        Names in any case.
    body : binary file
    length : int
        Of the body [byte].
    """

    method: str
    target: str
    headers: dict[str, str]
    body: BinaryIO
    length: int

    @property
    def path(self) -> str:
        """The target without its query."""
        return urlsplit(self.target).path

    @property
    def query(self) -> dict[str, str]:
        """Last value of each name in the query."""
        return {name: values[-1] for name, values in parse_qs(urlsplit(self.target).query).items()}


@dataclass(frozen=True)
class Response:
    """What is answered.

    Attributes
    ----------
    status : HTTPStatus
    body : bytes or Path
        Of a file, it is sent piece by piece.
    kind : str
        Media type.
    headers : dict of str to str
        Besides those that every answer has.
    """

    status: HTTPStatus
    body: bytes | Path = b""
    kind: str = HTML
    headers: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Site:
    """The local page over one folder.

    Attributes
    ----------
    shelf : Shelf
    jobs : Jobs
    guard : Guard
    demo : Path or None
        Passage file offered to start from.
    limit : int
        Largest upload [byte].
    one_by_one : lock
        Held while a form is acted on.
    """

    shelf: Shelf
    jobs: Jobs
    guard: Guard
    demo: Path | None
    limit: int
    one_by_one: threading.Lock = field(default_factory=threading.Lock)

    def answer(self, request: Request) -> Response:
        """Return the answer to a request, whatever it is."""
        try:
            self.guard.check_host(request.headers)
            if request.path == "/" and self.guard.is_key(request.query.get(KEY, "")):
                return Response(HTTPStatus.SEE_OTHER, headers={"Location": "/", "Set-Cookie": self.guard.cookie})
            try:
                self.guard.check_key(request.headers)
            except Refusal as refusal:  # a page of ours would ask for style and script, which are kept back, too
                return Response(refusal.status, refusal.words.encode(), TEXT)
            if request.method == "POST":
                self.guard.check_origin(request.headers)
                return self._post(request)
            return self._get(request)
        except Refusal as refusal:
            return _page(pages.sorry_page(refusal.status, refusal.words), refusal.status)

    def _get(self, request: Request) -> Response:
        routes: tuple[tuple[str, Callable[..., Response]], ...] = (
            ("/", lambda: _page(pages.shelf_page(self._desk))),
            ("/assets/([a-z.-]+)", self._asset),
            ("/reference(?:/([a-z.]+))?", self._reference),
            ("/beside", lambda: self._beside(request.query)),
            (f"/plan/({NAME})", lambda name: _page(pages.plan_page(self._desk, self._entry(name)))),
            (f"/plan/({NAME})/progress/(plan|headings|reconcile)", self._progress),
            (f"/plan/({NAME})/(report|changes|headings|reconcile)", self._kept_page),
            (f"/plan/({NAME})/out/([a-z.-]+)", self._download),
        )
        for pattern, act in routes:
            if match := re.fullmatch(pattern, request.path):
                return act(*match.groups())
        return self._missing()

    def _post(self, request: Request) -> Response:
        routes: dict[str, Callable[[Entry, Form], Response]] = {
            "run": self._run,
            "files": self._change_files,
            "cancel": self._cancel,
            "headings": self._headings,
            "reconcile": self._reconcile,
            "replan": self._replan,
            "strike": self._strike,
        }
        match = re.fullmatch(f"/plan/({NAME})/([a-z]+)", request.path)
        if request.path != "/plans" and (match is None or match[2] not in routes):
            return self._missing()
        entry = self._entry(match[1]) if match else None
        with tempfile.TemporaryDirectory(prefix=".incoming-", dir=self.shelf.folder) as incoming:
            form = self._form(request, Path(incoming))
            # an address is refused wherever it stands; its secrets are neither kept nor shown again
            form = replace(form, fields={name: masked(value) for name, value in form.fields.items()})
            with self.one_by_one:  # two forms of one plan, from two tabs
                return self._begin(form) if entry is None or match is None else routes[match[2]](entry, form)

    def _form(self, request: Request, incoming: Path) -> Form:
        """Read a form; nothing is kept of one without the secret, or larger than the limit."""
        kind = request.headers.get("Content-Type", "")
        if kind.lower().startswith("multipart/form-data"):
            if request.length > self.limit:
                words = (
                    f"The upload is larger than {self.limit // 1024**2} MB. Cut the forecast to the passage's area."
                )
                raise Refusal(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, words)

            def admit(name: str, value: str) -> None:
                self.guard.check_secret(value if name == SECRET else "")

            return read_multipart(
                request.body, content_type=kind, length=request.length, folder=incoming, admit=admit
            )
        if not kind.lower().startswith("application/x-www-form-urlencoded"):
            raise Refusal(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "This is no form.")
        if request.length > MOST_FORM:
            raise Refusal(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "The form is too long.")
        text = request.body.read(request.length).decode("utf-8", "replace")
        try:
            fields = parse_qs(text, keep_blank_values=True, max_num_fields=2000)
        except ValueError as error:
            raise Refusal(HTTPStatus.BAD_REQUEST, "The form has too many fields.") from error
        form = Form({name: values[-1] for name, values in fields.items()})
        self.guard.check_secret(form.fields.get(SECRET, ""))
        return form

    def _reference(self, topic: str | None) -> Response:
        """Answer with what there is to ask, or with a topic."""
        return _page(pages.reference_page(topic or "")) if not topic or topic in TOPICS else self._missing()

    def _begin(self, form: Form) -> Response:
        """Put a new plan on the shelf, from the demo or from files."""
        if form.fields.get("from") == "demo":
            if self.demo is None:
                return self._missing()
            entry = self.shelf.new()
            for role, paths in named_files(self.demo).items():
                entry.keep(role, [(path.name, path) for path in paths])
        else:
            faults = kind_faults(form) + absent_faults(form)
            if faults:
                page = pages.shelf_page(self._desk, faults=faults, sent=form.fields)
                return _page(page, HTTPStatus.UNPROCESSABLE_ENTITY)
            entry = self.shelf.new()
            take_in(entry, form)
        self.jobs.start(entry, PLAN, "check")
        return _to(entry)

    def _run(self, entry: Entry, form: Form) -> Response:
        asked, faults = settings.read_settings(entry, form.fields)
        if faults:
            return self._faulty(entry, faults, form)
        entry = self._draft(entry)
        entry.note("settings", asked)
        self._start_plan(entry)
        return _to(entry)

    def _change_files(self, entry: Entry, form: Form) -> Response:
        faults = kind_faults(form)
        if not form.files:
            faults.append(Fault("the form", "", "no file was given.", "Choose one at least."))
        if faults:
            return self._faulty(entry, faults, form)
        entry = self._draft(entry)
        take_in(entry, form)
        if "boat" in form.files:
            entry.forget("base")
            known = entry.read("settings")
            for part in ("form", "overrides"):
                known[part] = {
                    key: value
                    for key, value in known.get(part, {}).items()
                    if not key.startswith(("panel-", "boat."))
                }
            entry.note("settings", known)
        self.jobs.start(entry, PLAN, "check")
        return _to(entry)

    def _cancel(self, entry: Entry, form: Form) -> Response:
        place = form.fields.get("place", PLAN)
        self.jobs.cancel(entry, place if place in {HEADINGS, RECONCILE} else PLAN)
        return _to(entry)

    def _headings(self, entry: Entry, form: Form) -> Response:
        try:
            hours, step_deg = float(form.fields.get("hours", "")), float(form.fields.get("step", ""))
        except ValueError:
            faults = [Fault("The heading to turn", "", "hours and step are numbers.", "Give for example 4 and 10.")]
            return self._faulty(entry, faults, form)
        at = form.fields.get("at", "")
        self.jobs.start(entry, HEADINGS, "headings", at=at, hours=hours, step_deg=step_deg)
        return _to(entry, "#headings")

    def _reconcile(self, entry: Entry, form: Form) -> Response:
        faults = kind_faults(form)
        if "log" not in form.files and not entry.logs():
            faults.append(Fault("log", "", "no file was given.", "Choose the log that the display exports."))
        if faults:
            return self._faulty(entry, faults, form)
        take_in(entry, form)
        self.jobs.start(entry, RECONCILE, "reconcile", clock=form.fields.get("clock", ""))
        return _to(entry, "#reconcile")

    def _replan(self, entry: Entry, form: Form) -> Response:
        asked = {key: form.fields.get(key, "").strip() for key in ("fix", "time", "soc")}
        faults = [*kind_faults(form), *settings.morning_faults(asked)]
        if faults:
            return self._faulty(entry, faults, form)
        again = entry.read("orders") if not (entry.folder / OUTPUTS).exists() else {}
        rest = self._draft(entry) if again else self.shelf.new(like=entry)
        take_in(rest, form)
        stands_by_it = form.fields.get("fix_is_right") == "yes"
        last = again.get("last", str(entry.folder.resolve() / OUTPUTS))
        rest.note("orders", {**asked, "fix_is_right": stands_by_it, "last": last})
        self._start_plan(rest)
        return _to(rest)

    def _strike(self, entry: Entry, form: Form) -> Response:
        if form.fields.get("sure") != "yes":
            faults = [Fault("Strike off", "", "nothing was done.", "Tick the box to say that you mean it.")]
            return self._faulty(entry, faults, form)
        for place in (PLAN, HEADINGS, RECONCILE):
            self.jobs.cancel(entry, place)
        self.shelf.strike(entry)
        return Response(HTTPStatus.SEE_OTHER, headers={"Location": "/"})

    def _start_plan(self, entry: Entry) -> None:
        orders = entry.read("orders")
        self.jobs.start(entry, PLAN, "replan" if orders else "plan", **orders)

    def _draft(self, entry: Entry) -> Entry:
        """Return a plan that may still be changed: a new one like it where it is planned or at work."""
        planned = (entry.folder / OUTPUTS).exists()
        return self.shelf.new(like=entry) if planned or self.jobs.status(entry, PLAN).busy else entry

    def _beside(self, query: dict[str, str]) -> Response:
        one, other = (self._entry(query.get(key, "")) for key in ("one", "other"))
        names = [pages.name_of(entry) for entry in (one, other)]
        links = (("/", "All plans"), (f"/plan/{one.id}", "The first"), (f"/plan/{other.id}", "The second"))
        try:
            text = side_by_side((names[0], one.folder / OUTPUTS), (names[1], other.folder / OUTPUTS), links)
        except InputError as error:
            words = " ".join(fault.problem for fault in error.faults)
            raise Refusal(
                HTTPStatus.NOT_FOUND, f"Both must be planned before they stand side by side: {words}"
            ) from error
        return _page(text, policy=REPORT_POLICY)

    def _asset(self, name: str) -> Response:
        found = pages.static(name)
        return Response(HTTPStatus.OK, *found) if found else self._missing()

    def _progress(self, plan_id: str, place: str) -> Response:
        status = self.jobs.status(self._entry(plan_id), place)
        return Response(HTTPStatus.OK, pages.progress_of(status).encode(), "application/json")

    def _kept_page(self, plan_id: str, name: str) -> Response:
        path = self._entry(plan_id).folder / PAGES[name]
        if not path.is_file():
            return self._missing()
        return Response(HTTPStatus.OK, path, HTML, {"Content-Security-Policy": REPORT_POLICY})

    def _download(self, plan_id: str, name: str) -> Response:
        entry = self._entry(plan_id)
        if name not in pages.DOWNLOADS:
            return self._missing()
        try:
            content = output_of(entry.folder / OUTPUTS, name)
        except InputError:
            return self._missing()
        headers = {
            "Content-Disposition": f'attachment; filename="{quote(name)}"',
            "Content-Security-Policy": "sandbox; default-src 'none'",
        }
        return Response(HTTPStatus.OK, content, pages.kind_of(name), headers)

    def _entry(self, plan_id: str) -> Entry:
        entry = self.shelf.find(plan_id)
        if entry is None:
            raise Refusal(HTTPStatus.NOT_FOUND, "There is no such plan on the shelf; perhaps it was struck off.")
        return entry

    def _missing(self) -> Response:
        words = "There is nothing here under that address."
        return _page(pages.sorry_page(HTTPStatus.NOT_FOUND, words), HTTPStatus.NOT_FOUND)

    @property
    def _desk(self) -> pages.Desk:
        return pages.Desk(self.shelf, self.jobs, self.guard.secret, self.limit, self.demo is not None)

    def _faulty(self, entry: Entry, faults: list[Fault], form: Form) -> Response:
        page = pages.plan_page(self._desk, entry, faults=faults, sent=form.fields)
        return _page(page, HTTPStatus.UNPROCESSABLE_ENTITY)


def _page(text: str, status: HTTPStatus = HTTPStatus.OK, *, policy: str = PAGE_POLICY) -> Response:
    return Response(status, text.encode("utf-8"), HTML, {"Content-Security-Policy": policy})


def _to(entry: Entry, place: str = "") -> Response:
    return Response(HTTPStatus.SEE_OTHER, headers={"Location": f"/plan/{entry.id}{place}"})
