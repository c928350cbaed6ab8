"""Results as a session and a notebook show them: title, then figures; names from files stay text."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.shown import Shown


@dataclass(frozen=True, repr=False)
class Result(Shown):
    name: str

    def headline(self) -> str:
        return f"About {self.name}"

    def facts(self) -> tuple[tuple[str, str], ...]:
        return ((self.name, "1 < 2"), ("load", "3 Wh"))


def test_a_session_shows_a_title_and_a_line_a_figure() -> None:
    assert repr(Result("lamp")) == "About lamp\n  lamp: 1 < 2\n  load: 3 Wh"


def test_a_notebook_shows_a_table_whose_text_is_escaped() -> None:
    page = Result("<script>")._repr_html_()
    assert "<caption>About &lt;script&gt;</caption>" in page
    assert "<th scope='row'>&lt;script&gt;</th><td>1 &lt; 2</td>" in page
    assert "<script>" not in page
