"""The one look that report and local page share."""

from __future__ import annotations


def stylesheet() -> str:
    """Return the report's style, for pages that stand beside it."""
    from planner.presentation.pages.look import asset

    return str(asset("report.css"))


def red_light_script() -> str:
    """Return the script behind the button for red light."""
    from planner.presentation.pages.look import asset

    return str(asset("red_light.js"))
