"""The page of evidence: what it says, that it stands alone, that no name can break it."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest
from evidence_fixture import make_evidence

from planner.presentation.charts import WIDE
from planner.presentation.evidence_page import evidence_page, trends_page
from planner.presentation.studies_page import as_text
from planner.presentation.trend_drawing import trend_drawings


def plain(page: str) -> str:
    body = re.sub(r"<(style|script)\b.*?</\1>", " ", page, flags=re.DOTALL)
    words = re.sub(r"<[^>]+>", " ", body).replace("&#39;", "'")
    return re.sub(r"\s+", " ", words)


def test_the_answer_says_how_weak_since_when_and_beside_what() -> None:
    words = plain(evidence_page(make_evidence()))
    assert "In October 2027 arch port and arch starboard gave 86 % of the expected (84\u201388 %)." in words
    assert "They lay under the expected in every month since 5 May 2027." in words
    assert "changed by \u221218.0 points (\u221222.0 to \u221214.0) a year over 10 months" in words
    assert "Under the same sky, by the same model, the panels on 'bimini' are not weak." in words


def test_days_used_and_set_aside_and_what_was_ruled_out() -> None:
    words = plain(evidence_page(make_evidence()))
    assert "160, of which 80 had hours that may be judged" in words
    assert "Days set aside 80" in words
    assert "Shadow on the panels 120 h set aside" in words
    assert "Controller at its limit 15 h" in words
    assert "Bank full, sun turned away 200 h" in words
    assert "2 boat files" in words
    assert "coachroof \u2013 \u2013 \u2013 \u2013 not judged" in words


def test_it_says_what_it_is_not_and_leaves_room_for_hands() -> None:
    words = plain(evidence_page(make_evidence()))
    for said in (
        "no laboratory measurement",
        "may err by a few percent",
        "do not tell which one is weak",
        "cover it",
    ):
        assert said in words
    page = evidence_page(make_evidence())
    for blank in ("Serial numbers", "Owner&#39;s signature", "Warranted output at this age"):
        assert f'<p class="blank">{blank}</p>' in page


def test_one_month_claims_no_trend() -> None:
    words = plain(evidence_page(make_evidence(1)))
    assert "too few for a trend" in words
    assert "cannot be called weak: the last month's interval reaches the expected" in words
    assert "line through the months" not in words


def test_the_page_stands_alone_and_escapes_names() -> None:
    page = evidence_page(make_evidence(name="<b>&'\"arch"))
    assert "<b>&" not in page
    assert not re.search(r"""(?:src|href)=["'](?!data:)""", page)
    assert "default-src 'none'" in page


@pytest.mark.parametrize("months", [1, 2, 10])
def test_the_drawing_has_a_mark_a_month_and_a_dot_a_day(months: int) -> None:
    evidence = make_evidence(months)
    for drawing in trend_drawings(evidence.trend, evidence.days, label="a label"):
        root = ET.fromstring(drawing)
        assert root.get("aria-label") == "a label"
        assert len(root.findall(".//rect[@class='mark second']")) == months
        assert len(root.findall(".//circle[@class='day-dot']")) == 8 * months
        assert bool(root.findall(".//path[@class='line planned']")) == (months > 2)
        for one in root.findall(".//text[@class='date']"):
            assert float(one.get("x", "0")) + 7.0 * len(one.text or "") <= float(root.get("viewBox", "").split()[2])


def test_marks_stand_where_the_ratios_are() -> None:
    evidence = make_evidence()
    root = ET.fromstring(trend_drawings(evidence.trend, evidence.days, label="")[0])
    marks = [float(one.get("y", "0")) + 5.0 for one in root.findall(".//rect[@class='mark second']")]
    level = float(root.find(".//line[@class='line load']").get("y1"))  # type: ignore[union-attr, arg-type]
    grid = sorted({float(one.get("y1", "0")) for one in root.findall(".//line[@class='grid']")})
    assert grid[0] == WIDE.top
    ten_percent = grid[1] - grid[0]
    assert marks[0] == pytest.approx(level, abs=0.1)
    assert marks[-1] == pytest.approx(level + 1.35 * ten_percent, abs=0.2)


def test_the_trends_as_text_have_a_row_a_month() -> None:
    evidence = make_evidence()
    text = as_text(trends_page([evidence.trend, *evidence.others]))
    assert "arch: lay under the expected in every month since 5 May 2027." in text
    assert len(re.findall(r"^(?:arch|bimini)?\s+2027-\d\d ", text, flags=re.MULTILINE)) == 20
    sound = as_text(trends_page(evidence.others))
    assert "No controller has grown weak." in sound
