"""What a study shows: its answer, its tables, a figure; as text for a terminal and as one page of HTML."""

from __future__ import annotations

from planner.presentation.pages.look import Links, asset, environment, script_source
from planner.presentation.words.cautions import AID
from planner.presentation.words.content import Page


def html_of(page: Page, links: Links = ()) -> str:
    """Return a page as HTML that needs no network."""
    script = asset("red_light.js") + asset("tables.js")
    return (
        environment()
        .get_template("studies.html.j2")
        .render(
            page=page,
            links=links,
            caution=AID,
            style=asset("report.css"),
            own_style=asset("studies.css"),
            script=script,
            script_source=script_source(script),
        )
    )
