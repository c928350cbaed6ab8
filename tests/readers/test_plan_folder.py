"""A folder of outputs read back: through plan.json into its set, by its digests, of a known format alone."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from planner import __version__
from planner.domain.errors import InputError
from planner.domain.file_format import FORMAT
from planner.readers import plan_folder
from planner.readers.plan_folder import read_plan_file, read_with_plan, sizes_with_plan

ROWS = b"time,lat\n"


def written(folder: Path, name: str = "a", rows: bytes = ROWS, **more: object) -> Path:
    """Write a set and a stale copy beside plan.json, as a writer leaves them that was killed before it copied."""
    place = folder / ".sets" / "plan" / name
    place.mkdir(parents=True)
    (place / "hourly.csv").write_bytes(rows)
    (folder / "hourly.csv").write_bytes(b"older\n")
    said = {"set": f".sets/plan/{name}", "files": {"hourly.csv": hashlib.sha256(rows).hexdigest()}, **more}
    (folder / "plan.json").write_text(json.dumps(said))
    return place


def refused(folder: Path) -> str:
    with pytest.raises(InputError) as error:
        read_with_plan(folder, "hourly.csv")
    assert len(error.value.faults) == 1
    return str(error.value)


def test_the_file_is_that_of_the_set_whatever_lies_beside_it(tmp_path: Path) -> None:
    written(tmp_path)
    assert read_with_plan(tmp_path, "hourly.csv")[1] == ROWS
    assert sizes_with_plan(tmp_path) == {"hourly.csv": len(ROWS)}


def test_a_copied_folder_without_its_sets_and_a_plan_from_before_them_are_read(tmp_path: Path) -> None:
    shutil.rmtree(written(tmp_path))
    (tmp_path / "hourly.csv").write_bytes(ROWS)
    assert read_with_plan(tmp_path, "hourly.csv")[1] == ROWS
    manifest = json.loads((tmp_path / "plan.json").read_text())
    del manifest["set"]
    (tmp_path / "plan.json").write_text(json.dumps(manifest))
    assert read_with_plan(tmp_path, "hourly.csv")[1] == ROWS


def test_a_file_that_was_changed_is_refused(tmp_path: Path) -> None:
    (written(tmp_path) / "hourly.csv").write_bytes(b"changed")
    assert "not the one that plan.json belongs to" in refused(tmp_path)


def test_a_set_outside_its_folder_is_not_followed(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    written(inside)
    (tmp_path / "hourly.csv").write_bytes(ROWS)
    for named in ("..", ".sets/../..", str(tmp_path)):
        manifest = json.loads((inside / "plan.json").read_text())
        (inside / "plan.json").write_text(json.dumps({**manifest, "set": named}))
        assert "not the one" in refused(inside)


def test_a_plan_that_is_switched_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written(tmp_path)
    reads = []

    def read_and_be_overtaken(folder: Path) -> dict[str, object]:
        plan = read_plan_file(folder)
        if not reads:
            shutil.rmtree(folder / ".sets")
            written(folder, "b", b"newer\n", generation=2)
        reads.append(plan)
        return plan

    monkeypatch.setattr(plan_folder, "read_plan_file", read_and_be_overtaken)
    plan, content = read_with_plan(tmp_path, "hourly.csv")
    assert (plan["generation"], content) == (2, b"newer\n")


@pytest.mark.parametrize("number", [FORMAT + 1, 0, "one", True, None, 1.5])
def test_another_format_is_refused_in_one_sentence(tmp_path: Path, number: object) -> None:
    written(tmp_path, format=number, planner_version="9.1")
    said = refused(tmp_path)
    assert (
        f"plan.json: format: {number!r} was given, written by planner 9.1, and planner {__version__} reads 1" in said
    )
    assert "Plan again with this planner" in said


def test_this_format_and_a_plan_that_says_none_are_read(tmp_path: Path) -> None:
    written(tmp_path, format=FORMAT)
    assert read_with_plan(tmp_path, "hourly.csv")[0]["format"] == FORMAT


@pytest.mark.parametrize("text", ["", "[1]", "{", '"plan"'])
def test_what_is_no_plan_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "plan.json").write_text(text)
    assert "is no plan of this program" in refused(tmp_path)
