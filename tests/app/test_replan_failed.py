"""A replan with something failed at the fix: planned on without it, and the card for the rest."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from tiny_passage import lay_out

from planner.app.inputs import read_passage
from planner.app.verbs.replan import replan
from planner.domain.inputs.failure import Failure


def test_from_the_fix_on_the_alternator_is_dead(tmp_path: Path) -> None:
    found = replan(
        read_passage(lay_out(tmp_path)),
        fix="34-50.0S 174-27.0E",
        time="day 1 14:00",
        soc=0.5,
        failed=("alternator",),
        fix_is_right=True,
    )
    plan = found.plan
    assert plan.voyage.inputs.failed == (Failure("alternator"),)
    assert plan.passage.departure == datetime(2027, 5, 9, 2, 0, tzinfo=UTC)
    assert plan.charging_hours.p90 == 0.0
    assert "planned_without" in [note.code for note in plan.warnings]
    assert "unusual" not in [note.code for note in plan.warnings]  # an alternator of 0 A is no doubt here
    card = plan.failures
    assert card is not None
    assert card.planned_with == (Failure("alternator"),)
    assert "alternator" not in [line.failure.kind for line in card.lines]
    assert {each.refuge for each in card.diversions} == {"Opua"}
