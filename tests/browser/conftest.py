"""One Chromium for the tests of the pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium; where there is none, skip, but fail where tests run unattended."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("needs Chromium")
        pytest.skip("needs Chromium")
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield chromium
        chromium.close()
