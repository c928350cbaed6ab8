"""The evidence for a verdict, sentence by sentence: every figure of it comes from the facts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planner.domain.results.note import NOTHING, Note
from planner.domain.results.reconcile.findings import Interval
from planner.presentation.words.notes import said
from planner.studies.reconcile.panels.evidence import Facts, SunHours, evidence_of

FACTS = Facts(
    verdict="weak",
    panels=("arch port",),
    ratio=Interval(0.8, 0.76, 0.84),
    before=0.99,
    change_z=-6.4,
    granted=True,
    others=2,
    hours=SunHours(judged=31.2, clipped=0.0, full=0.0, shaded=0.0),
    where=NOTHING,
    in_deep=1.0,
    substring=None,
    bank_read=True,
    dead=False,
)


def words(**changes: Any) -> str:
    return said(evidence_of(replace(FACTS, **changes)))


def test_a_change_is_told_with_before_after_and_how_sure_it_is() -> None:
    assert words().startswith(
        "80% of the expected (76% to 84%) since the change, 99% before it, in 31 h of open sun under the sky that "
        "the other 2 controllers tell of; the change is 6 times its doubt."
    )


def test_a_standing_loss_is_from_the_first_reading_on() -> None:
    told = words(granted=False, others=1)
    assert "from the first reading on, in 31 h of open sun under the sky that the other controller tells of." in told
    assert "cloudless sky alone" in words(granted=False, others=0)


@pytest.mark.parametrize(
    ("panels", "ratio", "alone"),
    [
        (2, 0.75, "gives about 50%"),  # the other whole: (2 x 75 - 100) %
        (4, 0.9, "gives about 60%"),
        (2, 0.5, "more than one of them is at fault"),  # nothing would be left of it
    ],
)
def test_of_several_panels_one_alone_would_bear_all_of_the_loss(panels: int, ratio: float, alone: str) -> None:
    told = words(panels=tuple(f"p{n}" for n in range(panels)), ratio=Interval(ratio, ratio - 0.04, ratio + 0.04))
    assert f"Its {panels} panels share the controller" in told
    assert alone in told


def test_next_to_nothing_points_to_fuse_and_connectors_first() -> None:
    assert "look at fuse, connectors and wire first" in words(dead=True, panels=("a", "b"))


@pytest.mark.parametrize(("granted", "begun"), [(True, "It came as a step."), (False, "do not show.")])
def test_a_dark_substring_says_what_it_would_leave_and_whether_it_was_a_step(granted: bool, begun: str) -> None:
    told = words(verdict="substring out", substring=("arch port", 0.667), granted=granted)
    assert "One dark substring of arch port would leave 67%." in told
    assert begun in told


def test_a_shadow_says_where_the_sun_stands_and_how_it_is_elsewhere() -> None:
    port = Note("side_port", {"from_deg": 60.0, "to_deg": 90.0})
    where = Note("sun_at", {"sides": [port], "low_deg": 20.0, "high_deg": 40.0})
    told = words(verdict="shaded", where=where, in_deep=0.52, ratio=Interval(1, 0.97, 1.03))
    assert told.startswith(
        "52% of the expected with the sun 60 to 90 degrees to port, 20 to 40 degrees high; 100% of the expected (97% "
        "to 103%) with the sun elsewhere"
    )
    assert "Look for gear on deck" in told


def test_a_sound_controller_is_said_in_one_sentence() -> None:
    assert words(verdict="as expected", granted=False).endswith("tell of.")


def test_too_little_is_told_with_what_was_set_aside() -> None:
    told = words(verdict="cannot tell", hours=SunHours(judged=1.25, clipped=0.4, full=6.0, shaded=2.0))
    assert told == (
        "Only 1.2 h of open sun could be judged; set aside: 6 h with the bank full, 2 h in shade by the model, or "
        "near it."
    )
    assert words(ratio=None, hours=SunHours(0.0, 0.0, 0.0, 0.0)) == "Only 0.0 h of open sun could be judged."


def test_a_bank_that_was_not_read_is_a_caveat() -> None:
    assert words(bank_read=False).endswith("a full bank would look like a weak panel.")
