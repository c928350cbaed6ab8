"""The local page as a skipper uses it, in Chromium: start, change, run, read, print, go wrong, come back."""

from __future__ import annotations

import csv
import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from planner.faces.web.jobs import Jobs

sys.path.insert(0, str(Path(__file__).parents[1] / "faces"))
from web_case import Caller, serving

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser
COARSE = "model.points=15\nmodel.roll_nodes=1"
DEPARTURE = "2027-05-09T16:00"
PATIENCE_MS = 120_000.0  # a shared machine may be slow; nothing is timed by it
SLEEPING = (sys.executable, "-c", "import time; time.sleep(600)")
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Caller]:
    with serving(tmp_path_factory.mktemp("shelf")) as caller:
        yield caller


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    opened = browser.new_context(viewport={"width": 1280, "height": 900})
    opened.set_default_timeout(PATIENCE_MS)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext, served: Caller) -> Page:
    """A page that came in by the printed address."""
    opened = context.new_page()
    opened.goto(served.server.url)
    return opened


def start_from_the_demo(page: Page, served: Caller) -> None:
    """Open the shelf, press the button and wait until the demo is understood."""
    page.goto(served.server.url)
    assert page.url == f"{served.origin}/"
    page.get_by_role("button", name="Start from the demo").click()
    page.get_by_role("heading", name="What was understood").wait_for()


def ask_for_a_plan(page: Page, departure: str = DEPARTURE) -> None:
    """Change the departure, plan coarsely, so that it is quick."""
    page.get_by_label("Departure, ship's time").fill(departure)
    page.get_by_label("Any other input").fill(COARSE)
    page.get_by_role("button", name="Plan", exact=True).click()


def wait_for_the_answer(page: Page) -> None:
    page.get_by_role("heading", name="The answer").wait_for()


@pytest.fixture(scope="module")
def planned(browser: Browser, served: Caller) -> str:
    """Where the demo lies, planned through the page six hours later than it says."""
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    start_from_the_demo(page, served)
    ask_for_a_plan(page)
    wait_for_the_answer(page)
    address = page.url
    context.close()
    return address


def count_pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


def path_of(address: str, served: Caller) -> str:
    return address.removeprefix(served.origin)


def summary(served: Caller, planned: str) -> dict[str, object]:
    content: dict[str, object] = json.loads(served.get(path_of(planned, served) + "/out/plan.json").text)
    return content


def test_the_changed_departure_is_planned(served: Caller, planned: str) -> None:
    assert summary(served, planned)["departure"] == "2027-05-09T04:00:00Z"


def test_the_chart_tells_the_charge_at_0600_of_day_3(page: Page, served: Caller, planned: str) -> None:
    page.goto(planned)
    page.get_by_role("link", name="Open the report").click()
    reading = page.get_by_role("slider", name="The bank's course")
    reading.focus()
    page.keyboard.press("Home")
    for _ in range(2):
        page.keyboard.press("PageUp")
    for _ in range(14):  # day 3 begins at 16:00
        page.keyboard.press("ArrowRight")
    said = str(reading.get_attribute("aria-valuetext"))
    hourly = csv.DictReader(served.get(path_of(planned, served) + "/out/hourly.csv").text.splitlines())
    charge = next(float(row["planned_bank_soc"]) for row in hourly if row["time"] == "2027-05-11T18:00:00Z")
    assert said.startswith(f"Day 3, Wed 12 May 06:00: bank {round(100 * charge)}\N{NO-BREAK SPACE}%")
    assert reading.text_content() == said


def test_paper_has_both_cards_and_a_watch_bill_page_for_each_day(page: Page, served: Caller, planned: str) -> None:
    page.goto(f"{planned}/report")
    days = summary(served, planned)["days"]
    assert isinstance(days, list)
    assert count_pages(page.pdf(prefer_css_page_size=True)) == 2 + len(days)  # the card and the failure card first


def test_a_bad_forecast_dropped_in_is_named_with_its_mend(page: Page, served: Caller) -> None:
    page.goto(f"{served.origin}/")
    page.get_by_role("button", name="Start from the demo").click()
    page.get_by_text("Other files: a fresh forecast").click()
    page.wait_for_load_state()
    page.evaluate(
        """() => {
            const carried = new DataTransfer();
            carried.items.add(new File(["no weather in here"], "monday.nc"));
            const form = document.querySelector("form[data-drop]");
            form.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
        }"""
    )
    assert page.get_by_label("Forecast, one file or several").evaluate("field => field.files[0].name") == "monday.nc"
    page.get_by_role("button", name="Read these files").click()
    page.get_by_role("heading", name="What is wrong").wait_for()
    said = page.locator(".faults").inner_text()
    assert "neither NetCDF nor GRIB" in said
    assert "save the forecast as NetCDF" in said
    assert page.evaluate("document.activeElement.textContent") == "What is wrong"


def test_a_reload_in_the_middle_loses_nothing(page: Page, served: Caller) -> None:
    start_from_the_demo(page, served)
    ask_for_a_plan(page)
    page.get_by_role("progressbar").wait_for()
    page.reload()
    page.reload()
    wait_for_the_answer(page)
    assert page.get_by_label("Departure, ship's time").input_value() == DEPARTURE


def test_work_in_the_middle_is_cancelled(browser: Browser, tmp_path: Path) -> None:
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as busy:
        page.goto(busy.server.url)
        page.get_by_role("button", name="Start from the demo").click()
        page.get_by_role("progressbar").wait_for()
        page.get_by_role("button", name="Cancel").click()
        page.get_by_role("heading", name="Cancelled").wait_for()
        context.close()


def test_two_tabs_do_not_disturb_each_other(context: BrowserContext, served: Caller) -> None:
    tabs = [context.new_page(), context.new_page()]
    departures = ["2027-05-09T08:00", "2027-05-09T20:00"]
    for tab in tabs:
        start_from_the_demo(tab, served)
    for tab, departure in zip(tabs, departures, strict=True):
        ask_for_a_plan(tab, departure)
    for tab in tabs:
        wait_for_the_answer(tab)
    assert tabs[0].url != tabs[1].url
    assert [tab.get_by_label("Departure, ship's time").input_value() for tab in tabs] == departures
    left = [summary(served, tab.url)["departure"] for tab in tabs]
    assert left == ["2027-05-08T20:00:00Z", "2027-05-09T08:00:00Z"]


@pytest.mark.parametrize("path", ["/", "{plan}", "{plan}/report", "/plan/nowhere"])
def test_a_phone_never_scrolls_sideways(page: Page, served: Caller, planned: str, path: str) -> None:
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.goto(served.origin + path.format(plan=path_of(planned, served)))
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def press_tab_until(page: Page, words: str) -> None:
    """Go by the tab key to what carries these words; a reader sees where he is all along."""
    for _ in range(80):
        page.keyboard.press("Tab")
        here = page.evaluate(
            "(() => { const at = document.activeElement; const label = at.labels && at.labels[0];"
            " return [(label || at).textContent.trim(), getComputedStyle(at).outlineStyle]; })()"
        )
        assert here[1] != "none", here[0]
        if here[0].startswith(words):
            return
    raise AssertionError(f"the tab key does not come to '{words}'")


def test_keys_alone_start_change_and_plan(page: Page, served: Caller) -> None:
    page.goto(f"{served.origin}/")
    press_tab_until(page, "Start from the demo")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What was understood").wait_for()
    press_tab_until(page, "Charge at departure")
    page.keyboard.press("Control+A")
    page.keyboard.type("71")
    press_tab_until(page, "Any other input")
    page.keyboard.type(COARSE)
    press_tab_until(page, "Plan")
    page.keyboard.press("Enter")
    wait_for_the_answer(page)
    assert page.get_by_label("Charge at departure").input_value() == "71"
    press_tab_until(page, "Open the report")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="The bank's course").wait_for()


def test_red_light_goes_with_the_watch_from_page_to_page(page: Page, served: Caller, planned: str) -> None:
    page.goto(f"{served.origin}/")
    page.get_by_role("button", name="Red light").click()
    for address in (f"{served.origin}/", planned, f"{planned}/report"):
        page.goto(address)
        assert page.get_by_role("button", name="Red light").get_attribute("aria-pressed") == "true"
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"
        red, green, blue = re.findall(r"\d+", page.evaluate("getComputedStyle(document.body).color"))[:3]
        assert int(red) > 2 * max(int(green), int(blue))


def test_no_request_leaves_the_machine_and_nothing_complains(page: Page, served: Caller, planned: str) -> None:
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    for address in (f"{served.origin}/", planned, f"{planned}/report"):
        page.goto(address, wait_until="networkidle")
    assert len(asked) >= 3
    assert [url for url in asked if not url.startswith((f"{served.origin}/", "data:"))] == []
    assert complaints == []
