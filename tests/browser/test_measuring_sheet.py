"""The measuring sheet: one side of A4 with every tape measure that its table has, and nothing outside the paper."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from planner.presentation.pages.measuring import ACROSS, METERED, READ, TAPES, measuring_sheet

pytestmark = pytest.mark.browser


def test_it_prints_on_one_side_with_every_key(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "sheet.html"
    path.write_text(measuring_sheet(), encoding="utf-8")
    page = browser.new_context().new_page()
    page.goto(path.as_uri())
    pdf = page.pdf(format="A4", prefer_css_page_size=True)
    page.context.close()
    (side,) = PdfReader(io.BytesIO(pdf)).pages
    text = "".join(side.extract_text().split())
    for key in (*(tape.key for tape in TAPES), *ACROSS, *READ, *(key for key, _ in METERED)):
        assert key in text
