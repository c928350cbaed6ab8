"""Every page that the program makes, as axe-core finds it: by day, in the dark, in red light, on a phone."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from planner.faces.cli import main
from planner.faces.web.jobs import Jobs
from planner.presentation.files.whole_file import write_text
from planner.presentation.pages.reconcile import html_of

sys.path.insert(0, str(Path(__file__).parents[1] / "faces"))
sys.path.insert(0, str(Path(__file__).parents[1] / "presentation"))
from findings_fixture import reconciliation
from logged_plan import write_log
from web_case import DEMO, Caller, demo_parts, serving

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
COARSE = {"model.points": "6", "model.roll_nodes": "1", "model.tracks": "control"}
SETS = [part for key, value in COARSE.items() for part in ("--set", f"{key}={value}")]
MORE = "\n".join(f"{key}={value}" for key, value in COARSE.items())
PHONE, LAPTOP = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
SLEEPING = (sys.executable, "-c", "import time; time.sleep(600)")
SOURCE = "axe-core 4: rules for WCAG 2.2 A and AA, and good practice"
VIEWS = {"day": LAPTOP, "day on a phone": PHONE, "dark": PHONE, "red light": PHONE}
SERVED = {
    "shelf": "Start from the demo",
    "nowhere": "Not Found",
    "understood": "What was understood",
    "faults": "What is wrong",
    "plan": "The answer",
    "report": "The bank's course",
    "headings": "Headings from Tue 11 May 10:00",
    "reconcile": "Readings against the model",
    "rest": "The answer",
    "changes": "Against the last plan",
    "beside": "Two plans side by side",
}
WRITTEN = {
    "report": "The bank's course",
    "headings": "Headings from Mon 10 May 11:00",
    "compare": "Variants",
    "panels": "panels",
    "weather": "Forecast: forecast.nc",
    "reconcile": "Readings against the model",
}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Caller]:
    with serving(tmp_path_factory.mktemp("shelf")) as caller:
        yield caller


@pytest.fixture(scope="module")
def paths(served: Caller, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The page's paths once a skipper has done all that it offers."""
    understood = served.post("/plans", {"from": "demo"}).headers["Location"]
    served.until_done(understood)
    faults = served.upload("/plans", demo_parts(forecast=("monday.nc", b"no weather"))).headers["Location"]
    served.until_done(faults)
    plan = served.post("/plans", {"from": "demo"}).headers["Location"]
    served.until_done(plan)
    form = {"departure": "2027-05-09T16:00", "offset": "+12:00", "soc": "80", "confidence": "85", "more": MORE}
    served.post(f"{plan}/run", {**form, "arrival_soc": "40", "quiet": "23:00-05:00"})
    served.until_done(plan)
    other = served.post(f"{plan}/run", {**form, "soc": "90", "arrival_soc": "40", "quiet": ""}).headers["Location"]
    served.until_done(other)
    served.post(f"{plan}/headings", {"at": "day 2 10:00", "hours": "1", "step": "45"})
    served.until_done(plan, "headings")
    entry = served.server.site.shelf.find(plan.rsplit("/", 1)[-1])
    assert entry is not None
    log = write_log(entry.folder / "out" / "plan.nc", tmp_path_factory.mktemp("log") / "display.csv", days=2.0)
    served.upload(f"{plan}/reconcile", [("log", log.read_bytes(), "display.csv"), ("clock", b"")])
    served.until_done(plan, "reconcile")
    morning = [("fix", b"-33.2 176.0"), ("time", b"day 2 08:00"), ("soc", b"61%")]
    rest = served.upload(f"{plan}/replan", morning).headers["Location"]
    served.until_done(rest)
    return {
        "shelf": "/",
        "nowhere": "/plan/nowhere",
        "understood": understood,
        "faults": faults,
        "plan": plan,
        "report": f"{plan}/report",
        "headings": f"{plan}/headings",
        "reconcile": f"{plan}/reconcile",
        "rest": rest,
        "changes": f"{rest}/changes",
        "beside": f"/beside?one={plan.rsplit('/', 1)[-1]}&other={other.rsplit('/', 1)[-1]}",
    }


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages that the command line writes."""
    folder, demo = tmp_path_factory.mktemp("pages"), str(DEMO / "passage.toml")

    def made(name: str, verb: str, *arguments: str) -> Path:
        page = folder / f"{name}.html"
        assert main([verb, demo, *arguments, "--page", str(page), *SETS, "--quiet"]) == 0
        return page

    assert main(["plan", demo, *SETS, "--set", "model.tracks=own", "--out", str(folder / "plan"), "--quiet"]) == 0
    assert main(["weather", str(DEMO / "forecast.nc"), "--out", str(folder / "weather"), "--quiet"]) == 0
    write_text(folder / "reconcile.html", html_of(reconciliation()))
    return {
        "report": folder / "plan" / "report.html",
        "weather": folder / "weather" / "weather.html",
        "headings": made("headings", "headings", "--at", "day 2 11:00", "--hours", "1", "--step", "45"),
        "compare": made("compare", "compare", "--vary", "boat.bank.capacity_ah=300,400", "--jobs", "1"),
        "panels": made("panels", "panels"),
        "reconcile": folder / "reconcile.html",
    }


def violations(browser: Browser, start: str, address: str, heading: str) -> list[str]:
    """Return what axe-core finds on the page of this heading in every view; all that may be opened stands open."""
    found = []
    for view, size in VIEWS.items():
        context = browser.new_context(viewport=size, color_scheme="dark" if view == "dark" else "light")  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(start)
        page.goto(address)
        page.get_by_role("heading", name=heading).first.wait_for()
        page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = true; })")
        if view == "red light":
            page.get_by_role("button", name="Red light").click()
        for one in Axe().run(page).response["violations"]:
            found += [f"{view}: {one['id']}: {node['html'][:150]}" for node in one["nodes"][:3]]
        context.close()
    return found


@pytest.mark.external(source=SOURCE, kind="library")
@pytest.mark.parametrize(("name", "heading"), SERVED.items())
def test_axe_finds_nothing_on_the_local_page(
    browser: Browser, served: Caller, paths: dict[str, str], name: str, heading: str
) -> None:
    assert violations(browser, served.server.url, served.origin + paths[name], heading) == []


@pytest.mark.external(source=SOURCE, kind="library")
def test_axe_finds_nothing_while_work_goes_on_and_after_its_end(browser: Browser, tmp_path: Path) -> None:
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as busy:
        plan = busy.post("/plans", {"from": "demo"}).headers["Location"]
        assert violations(browser, busy.server.url, busy.origin + plan, "Reading the files") == []
        busy.post(f"{plan}/cancel", {})
        assert violations(browser, busy.server.url, busy.origin + plan, "Cancelled") == []


@pytest.mark.external(source=SOURCE, kind="library")
@pytest.mark.parametrize(("name", "heading"), WRITTEN.items())
def test_axe_finds_nothing_on_a_written_page(
    browser: Browser, files: dict[str, Path], name: str, heading: str
) -> None:
    address = files[name].as_uri()
    assert violations(browser, address, address, heading) == []
