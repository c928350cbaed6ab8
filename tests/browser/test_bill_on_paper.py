"""Each day of the bill prints on one side of A4 and of US letter, in whatever font the machine has."""

from __future__ import annotations

import dataclasses
import os
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from planner.domain.results.note import together
from planner.domain.results.plan import Plan
from planner.presentation.pages.report import render

sys.path.insert(0, str(Path(__file__).parents[1] / "presentation"))
from plan_fixture import make_plan

# A serif, a sans serif, and one that is wider than any that a reader would choose: every letter of it is 0.6 em.
FONTS = {
    "DejaVu": ("/usr/share/fonts/truetype/dejavu", "DejaVu*.ttf"),
    "Liberation": ("/usr/share/fonts/truetype/liberation", "Liberation*.ttf"),
    "wide": ("/usr/share/fonts/truetype/dejavu", "DejaVuSansMono-Bold.ttf"),
}
PAPERS = ("A4", "Letter")
LEAST_PT = 7.5  # pt, the smallest type that is read at night; as the style of the page says
# What tells a tired watchkeeper what to do is never left out.
KEPT = ("Read the meter, then charge", "Stop at the first of", "Wake skipper at", "Engine dead")


def installed(name: str) -> list[Path]:
    folder, pattern = FONTS[name]
    return sorted(Path(folder).glob(pattern))


@pytest.fixture(scope="module", params=FONTS)
def browser_with_font(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Chromium on a machine that has the fonts of one family alone."""
    chromium, fonts = shutil.which("chromium"), installed(request.param)
    if chromium is None or not fonts:
        missing = f"needs Chromium and the fonts {request.param}: scripts/install-browser"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    home = tmp_path_factory.mktemp("fonts")
    (home / "cache").mkdir()
    (home / "only").mkdir()
    for font in fonts:
        shutil.copy(font, home / "only" / font.name)
    settings = home / "fonts.conf"
    settings.write_text(
        "<?xml version='1.0'?><fontconfig>"
        f"<dir>{home / 'only'}</dir><cachedir>{home / 'cache'}</cachedir></fontconfig>",
        encoding="utf-8",
    )
    with sync_playwright() as play:
        opened = play.chromium.launch(
            executable_path=chromium, args=["--no-sandbox"], env={**os.environ, "FONTCONFIG_FILE": str(settings)}
        )
        yield opened
        opened.close()


def sheets(page: Page, paper: str) -> int:
    pdf = page.pdf(format=paper, landscape=True)
    return len(re.findall(rb"/Type\s*/Page[^s]", pdf))


def opened(browser: Browser, plan: Plan, path: Path) -> Page:
    path.write_text(render(plan), encoding="utf-8")
    page = browser.new_context().new_page()
    page.goto(path.as_uri())
    return page


def with_long_reasons(plan: Plan, times: int) -> Plan:
    return dataclasses.replace(
        plan, watches=tuple(dataclasses.replace(row, reason=together([row.reason] * times)) for row in plan.watches)
    )


@pytest.mark.parametrize("paper", PAPERS)
def test_a_day_is_one_sheet(browser_with_font: Browser, tmp_path: Path, paper: str) -> None:
    plan = make_plan()
    page = opened(browser_with_font, plan, tmp_path / "report.html")
    assert sheets(page, paper) == len(plan.days)
    sizes = page.evaluate("[...document.querySelectorAll('.bill-page')].map(s => s.style.getPropertyValue('--type'))")
    assert min(float(size.removesuffix("pt")) for size in sizes) >= LEAST_PT
    page.context.close()


def test_words_are_left_out_in_their_order_and_the_sheet_says_so(browser_with_font: Browser, tmp_path: Path) -> None:
    plan = make_plan()
    page = opened(browser_with_font, with_long_reasons(plan, 40), tmp_path / "report.html")
    assert sheets(page, "A4") == len(plan.days)
    left_out = page.evaluate("[...document.querySelectorAll('.bill-page')].map(s => s.dataset.leftOut)")
    assert any(words.split()[:1] == ["reasons"] for words in left_out)
    assert all(words.split() == ["reasons", "prices", "winds", "ranges"][: len(words.split())] for words in left_out)
    page.emulate_media(media="print")
    first = page.locator(".bill-page[data-left-out~=reasons]").first
    assert "Left out to fit one side: reasons" in first.locator(".left-out").inner_text()
    for part in KEPT:
        assert first.locator(f'.bill [data-label="{part}"]').first.is_visible(), part
    assert not first.locator(".reason").first.is_visible()
    page.context.close()


def test_type_shrinks_before_words_are_left_out(browser_with_font: Browser, tmp_path: Path) -> None:
    plan, sizes = make_plan(), []
    for times in (1, 12):
        page = opened(browser_with_font, with_long_reasons(plan, times), tmp_path / f"{times}.html")
        assert sheets(page, "A4") == len(plan.days)
        first = page.locator(".bill-page").first
        assert first.get_attribute("data-left-out") == ""
        sizes.append(float(first.evaluate("sheet => sheet.style.getPropertyValue('--type')").removesuffix("pt")))
        page.context.close()
    assert LEAST_PT <= sizes[1] < sizes[0]
