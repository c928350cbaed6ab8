"""A plan says which boat file it went by, and which state of it, wherever it is shown."""

from __future__ import annotations

from plan_fixture import make_plan, with_inputs

from planner.domain.results.plan import Plan
from planner.presentation.files.summary_json import summarise
from planner.presentation.pages.tables import assumed
from planner.presentation.words.bill.terminal import render

NAME, CHECKSUM = "boat-2027-05-14.toml", "0123456789abcdef" * 4


def calibrated_plan() -> Plan:
    plan = make_plan()
    passage = plan.passage.model_copy(update={"boat": f"ships/{NAME}"})
    return with_inputs(plan, passage=passage, files={**plan.voyage.inputs.files, NAME: CHECKSUM})


def test_table_report_and_summary_name_the_boat_file() -> None:
    plan = calibrated_plan()
    assert f"{NAME} (SHA-256 0123456789ab)" in " ".join(render(plan).split())
    said = dict(dict(assumed(plan))["Passage"])["Boat file"]
    assert said.replace("\N{NO-BREAK SPACE}", " ") == f"{NAME} (SHA-256 0123456789ab)"
    summary = summarise(plan)
    assert summary["boat_file"] == NAME
    assert summary["inputs"][NAME] == CHECKSUM


def test_a_boat_that_was_read_from_no_file_is_named_without_a_checksum() -> None:
    plan = with_inputs(calibrated_plan(), files={})
    assert dict(dict(assumed(plan))["Passage"])["Boat file"] == NAME
