"""Make the pictures in data/pictures/ from the demo's report, in Debian's Chromium.

``python scripts/make_pictures.py [REPORT.html]``; without a report the demo is planned.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

PROJECT = Path(__file__).parents[1]
PICTURES = PROJECT / "data" / "pictures"
MOST_BYTES = 150_000
SHEET = {"width": 960, "height": 900}  # a page is shown at about this breadth
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def plan_the_demo(folder: Path) -> Path:
    """Plan the demo into a folder and return its report."""
    command = [sys.executable, "-m", "planner", "plan", "data/demo/passage.toml", "--quiet", "--out", str(folder)]
    subprocess.run(command, cwd=PROJECT, check=True, stdout=subprocess.DEVNULL)
    return folder / "report.html"


def take(page: Page) -> None:
    """Take the bank's course, the map, and the card."""
    for name, first, last in (
        ("bank", "#bank figure", "#bank figure"),
        ("map", "#map figure", "#map figure"),
        ("card", "#card table.bill", "#card table.bill"),
    ):
        top, bottom = page.locator(first).bounding_box(), page.locator(last).bounding_box()
        if top is None or bottom is None:
            raise SystemExit(f"{name}: there is no {first} in the report.")
        height = bottom["y"] + bottom["height"] - top["y"]
        path = PICTURES / f"{name}.png"
        clip = {"x": top["x"], "y": top["y"], "width": top["width"], "height": height}
        page.screenshot(path=path, full_page=True, animations="disabled", clip=clip)  # type: ignore[arg-type]
        size = path.stat().st_size
        print(f"{path.relative_to(PROJECT)}: {size} bytes")
        if size >= MOST_BYTES:
            raise SystemExit(f"{path.name} is larger than {MOST_BYTES} bytes.")


def main() -> None:
    """Take the pictures of the report that is named, or of the demo planned anew."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        raise SystemExit("This needs Chromium.")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        report = Path(sys.argv[1]) if len(sys.argv) > 1 else plan_the_demo(Path(folder))
        chromium = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        page = chromium.new_page(viewport=SHEET, color_scheme="light")  # type: ignore[arg-type]
        page.goto(report.resolve().as_uri())
        take(page)
        chromium.close()


if __name__ == "__main__":
    main()
