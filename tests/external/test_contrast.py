"""The report's colours against the contrast that the web's accessibility guidelines ask for."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

WCAG = (
    "W3C, Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 and 1.4.11, definition of contrast ratio"
)
TEXT = ("ink", "quiet", "warn")
GRAPHICS = ("bank", "sun-edge", "engine", "cloud", "focus")
SHEETS = ("paper", "leaf")


def palettes() -> dict[str, dict[str, str]]:
    css = (files("planner.presentation.pages") / "assets" / "report.css").read_text(encoding="utf-8")
    blocks = re.findall(r":root[^{]*\{([^}]*--paper[^}]*)\}", css)
    assert len(blocks) == 4
    return {
        name: dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{3,6})", block))
        for name, block in zip(("day", "dark", "red", "print"), blocks, strict=True)
    }


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.external(source=WCAG, kind="standard")
def test_the_ratio_is_that_of_the_standard() -> None:
    assert ratio("#000000", "#ffffff") == pytest.approx(21.0)
    assert ratio("#fff", "#767676") == pytest.approx(4.54, abs=0.01)  # the lightest grey that passes on white


@pytest.mark.external(source=WCAG, kind="standard")
@pytest.mark.parametrize("palette", ["day", "dark", "red", "print"])
@pytest.mark.parametrize("ink", TEXT)
@pytest.mark.parametrize("sheet", [*SHEETS, "sea", "night"])
def test_words_reach_4_5_to_1(palette: str, ink: str, sheet: str) -> None:
    colours = palettes()[palette]
    assert ratio(colours[ink], colours[sheet]) >= 4.5


@pytest.mark.external(source=WCAG, kind="standard")
@pytest.mark.parametrize("palette", ["day", "dark", "red", "print"])
@pytest.mark.parametrize("ink", GRAPHICS)
@pytest.mark.parametrize("sheet", ["paper", "night", "sea"])
def test_lines_reach_3_to_1(palette: str, ink: str, sheet: str) -> None:
    colours = {"focus": palettes()[palette]["engine"], **palettes()[palette]}
    assert ratio(colours[ink], colours[sheet]) >= 3.0
