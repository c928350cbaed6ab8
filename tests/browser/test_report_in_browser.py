"""The report as a skipper uses it, in Chromium: keys, pointer, night, phone, paper, and no network."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from planner.domain.results.bill import Rung
from planner.domain.results.plan import Plan
from planner.presentation.pages.report import render

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser
WIDTHS = (390, 768, 1280)


def make_plan() -> Plan:
    """Return the invented plan that tests/presentation holds."""
    import sys

    sys.path.insert(0, str(Path(__file__).parents[1] / "presentation"))
    from plan_fixture import make_plan as make

    return make()


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(render(make_plan()), encoding="utf-8")
    return path


@pytest.fixture
def page(browser: Browser, report: Path) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    opened.goto(report.as_uri())
    yield opened
    context.close()


def wait_until(page: Page, expression: str) -> None:
    """Ask again and again from here: the page's own policy forbids it to evaluate words."""
    for _ in range(200):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never true: {expression}")


def count_pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


def test_nothing_leaves_the_page_and_nothing_complains(browser: Browser, report: Path) -> None:
    context = browser.new_context()
    opened = context.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    opened.on("request", lambda request: asked.append(request.url))
    opened.on("console", lambda message: complaints.append(message.text))
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.goto(report.as_uri())
    opened.wait_for_timeout(200)
    assert [url for url in asked if not url.startswith("data:")] == [report.as_uri()]
    assert complaints == []
    context.close()


@pytest.mark.parametrize("width", WIDTHS)
def test_the_page_never_scrolls_sideways(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_keys_read_the_bank_at_0600_of_day_3(page: Page) -> None:
    line = page.locator("#bank .reading")
    line.focus()
    page.keyboard.press("Home")
    page.keyboard.press("PageUp")
    page.keyboard.press("PageUp")
    for _ in range(22):
        page.keyboard.press("ArrowRight")
    planned = make_plan().planned["bank_soc"].values[0]
    wanted = f"Day 3, Wed 13 May 06:00: bank {round(100 * planned[(48 + 22) * 6])}\N{NO-BREAK SPACE}%"
    assert line.text_content().startswith(wanted)  # type: ignore[union-attr]
    assert line.get_attribute("aria-valuetext") == line.text_content()


def test_keys_stop_at_both_ends(page: Page) -> None:
    line = page.locator("#power .reading")
    line.focus()
    page.keyboard.press("ArrowLeft")
    assert line.get_attribute("aria-valuenow") == "0"
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    assert line.get_attribute("aria-valuenow") == line.get_attribute("aria-valuemax")


def test_the_pointer_reads_the_hour_under_it(page: Page) -> None:
    drawing = page.locator("#bank svg.wide")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    assert box is not None
    plot_left, plot_width, paper = 48.0, 902.0, 960.0
    x = box["x"] + box["width"] * (plot_left + plot_width * 0.5) / paper
    page.mouse.move(x, box["y"] + box["height"] / 2)
    assert "Day 4, Wed 13 May 20:00" in str(page.locator("#bank .reading").text_content())
    assert page.locator("#bank svg.wide .cursor").evaluate("node => getComputedStyle(node).visibility") == "visible"


def test_the_pointer_reads_the_place_on_the_map(page: Page) -> None:
    drawing = page.locator("#map svg.wide")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    assert box is not None
    paper = [float(number) for number in str(drawing.get_attribute("viewBox")).split()[2:]]
    at = [float(str(drawing.get_attribute(key)).split()[72]) for key in ("data-x", "data-y")]
    page.mouse.move(box["x"] + box["width"] * at[0] / paper[0], box["y"] + box["height"] * at[1] / paper[1])
    assert str(page.locator("#map .reading").text_content()).startswith("Day 4, Wed 13 May 08:00")


def test_the_pointer_reads_the_loss_under_it(page: Page) -> None:
    drawing = page.locator("#losses svg.wide")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    assert box is not None
    height = float(str(drawing.get_attribute("viewBox")).split()[3])
    third = float(str(drawing.get_attribute("data-y")).split()[2])
    for share in (0.2, 0.9):
        page.mouse.move(box["x"] + share * box["width"], box["y"] + box["height"] * third / height)
        assert str(page.locator("#losses .reading").text_content()).startswith("Cloud: takes ")


def test_red_light_is_red_and_kept(page: Page) -> None:
    button = page.locator("#red-light")
    button.click()
    assert button.get_attribute("aria-pressed") == "true"
    ink = page.evaluate("getComputedStyle(document.body).color")
    red, green, blue = (int(part) for part in re.findall(r"\d+", ink)[:3])
    assert red > 2 * max(green, blue)
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"
    page.reload()
    assert page.locator("#red-light").get_attribute("aria-pressed") == "true"
    page.locator("#red-light").click()
    assert page.evaluate("document.documentElement.hasAttribute('data-red')") is False


def test_the_page_works_where_nothing_may_be_kept(browser: Browser, report: Path) -> None:
    context = browser.new_context()
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } })"
    )
    opened = context.new_page()
    opened.goto(report.as_uri())
    opened.locator("#red-light").click()
    assert opened.locator("#red-light").get_attribute("aria-pressed") == "true"
    context.close()


def test_dark_is_followed(page: Page) -> None:
    page.emulate_media(color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(18, 24, 29)"


def test_a_phone_sees_the_narrow_drawings(page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.locator("#bank svg.narrow").is_visible()
    assert not page.locator("#bank svg.wide").is_visible()


def test_everything_is_reached_by_keys_alone(page: Page) -> None:
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.id || document.activeElement.className"))
    assert {"red-light", "print-bill", "print-all", "reading", "scroll"} <= reached


def test_printing_gives_one_page_a_day(page: Page) -> None:
    assert count_pages(page.pdf(prefer_css_page_size=True)) == len(make_plan().days)


@pytest.mark.parametrize(("watches", "rungs"), [(12, 3), (6, 5), (7, 4), (8, 4), (6, 4), (5, 5), (3, 3)])
def test_a_day_fits_its_page_with_other_watches(browser: Browser, tmp_path: Path, watches: int, rungs: int) -> None:
    plan = make_plan()
    length = timedelta(hours=24 / watches)
    ladder = tuple(
        Rung(readings, minutes) for readings, minutes in [(80, 0), (70, 30), (60, 60), (50, 90)][: rungs - 1]
    )
    rows = tuple(
        dataclasses.replace(
            plan.watches[0],
            day=1 + number // watches,
            start=plan.watches[0].start + number * length,
            end=plan.watches[0].start + (number + 1) * length,
            ladder=(*ladder, Rung(0, 120)),
        )
        for number in range(2 * watches)
    )
    path = tmp_path / "report.html"
    path.write_text(render(dataclasses.replace(plan, watches=rows)), encoding="utf-8")
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(path.as_uri())
    assert count_pages(opened.pdf(prefer_css_page_size=True)) == 2
    if watches <= 7:
        opened.emulate_media(media="print")
        smallest_px = opened.evaluate(
            "Math.min(...[...document.querySelectorAll('.bill-page .bill td span, .bill-page .bill td')]"
            ".map(cell => parseFloat(getComputedStyle(cell).fontSize)))"
        )
        assert smallest_px * 72.0 / 96.0 >= 7.5
    context.close()


def test_the_whole_report_prints_on_demand(page: Page) -> None:
    page.evaluate("window.print = () => { window.asked = document.documentElement.dataset.print; }")
    page.locator("#print-all").click()
    assert page.evaluate("window.asked") == "all"
    whole = count_pages(page.pdf(prefer_css_page_size=True))
    assert whole > len(make_plan().days) + 3


@pytest.mark.parametrize(("width", "slowed"), [(1280, 1), (390, 1), (390, 4)])
def test_the_page_is_small_and_paints(browser: Browser, report: Path, width: int, slowed: int) -> None:
    """Print how soon the first words stand on the page, a phone's processor four times slower; time gates nothing."""
    assert report.stat().st_size < 3_000_000
    context = browser.new_context(viewport={"width": width, "height": 844})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    page.goto(report.as_uri())
    wait_until(page, "performance.getEntriesByName('first-contentful-paint').length === 1")
    first_ms = page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    size_kb = report.stat().st_size / 1000
    print(f"{width} px, processor slowed {slowed} times: first paint {first_ms:.0f} ms, {size_kb:.0f} kB")
    assert first_ms > 0.0
    context.close()


def test_a_table_that_goes_on_beyond_the_edge_says_so(page: Page) -> None:
    cut = "document.querySelectorAll('#panels .scroll[data-cut]').length"
    assert page.evaluate(cut) == 0
    page.set_viewport_size({"width": 390, "height": 844})
    wait_until(page, f"{cut} === 1")
    words = page.evaluate("getComputedStyle(document.querySelector('#panels .scroll'), '::before').content")
    assert "push it sideways" in words


def test_the_ladder_is_as_large_and_dark_as_what_stands_beside_it(page: Page) -> None:
    """What to do is read first, at night, by a tired watchkeeper."""
    look = "((style) => style.fontSize + style.color)(getComputedStyle(document.querySelector('{}')))"
    for medium in ("screen", "print"):
        page.emulate_media(media=medium)  # type: ignore[arg-type]
        beside = page.evaluate(look.format('#bill .bill td[data-label="Solar, load [Wh]"]'))
        for part in (".ladder .rung > span", ".ladder .rung > b"):
            assert page.evaluate(look.format(f"#bill {part}")) == beside


def test_the_log_is_for_paper(page: Page) -> None:
    shown = "getComputedStyle(document.querySelector('#bill td.log')).display"
    assert page.evaluate(shown) == "none"
    page.emulate_media(media="print")
    assert page.evaluate(shown) == "table-cell"


@pytest.mark.parametrize("width", WIDTHS)
def test_the_fan_is_read_by_keys_and_pointer(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    line = page.locator("#headings .reading")
    line.focus()
    page.keyboard.press("End")
    last = line.text_content()
    page.keyboard.press("Home")
    assert line.text_content() != last
    shown = page.locator(f"#headings svg.fan.{'narrow' if width < 700 else 'wide'}")
    box = shown.bounding_box()
    assert box is not None
    scale = box["width"] / float((shown.get_attribute("viewBox") or "").split()[2])
    x, y = (float((shown.get_attribute(name) or "").split()[-1]) for name in ("data-x", "data-y"))
    shown.hover(position={"x": x * scale + 2.0, "y": y * scale + 2.0})
    assert line.text_content() == last
