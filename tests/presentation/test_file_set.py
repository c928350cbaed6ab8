"""Sets of files: older or newer, whole, whatever happens; one writer at a time; nothing left over."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from small_sets import judge, killed_at, write

from planner.domain.errors import InputError, OutputError
from planner.presentation.files import folder_lock
from planner.presentation.files.file_set import claimed
from planner.presentation.files.whole_file import refuse_unwritable, write_text

PROJECT = Path(__file__).parents[2]
PROGRAM = [sys.executable, str(Path(__file__).with_name("small_sets.py"))]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(PROJECT)}
needs_kill = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no fork and no SIGKILL")


def run(what: str, folder: Path, count: int) -> dict[str, int]:
    done = subprocess.run(
        [*PROGRAM, what, str(folder), str(count)], capture_output=True, text=True, check=False, env=ENVIRONMENT
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, int] = json.loads(done.stdout)
    return found


@needs_kill
def test_a_kill_before_any_call_leaves_the_older_or_the_newer_set_whole(tmp_path: Path) -> None:
    found = run("at-each-call", tmp_path / "out", 200)
    assert found["older"] + found["newer"] == 200
    assert found["older"] > 0
    assert found["newer"] > 0
    assert 30 < found["points"] < 150  # every call was reached, more than once


@needs_kill
def test_a_kill_at_any_time_leaves_a_whole_set(tmp_path: Path) -> None:
    assert run("at-random", tmp_path / "out", 100)["moved"] > 0


@needs_kill
def test_of_two_writers_at_once_one_is_refused_and_no_digest_lies(tmp_path: Path) -> None:
    found = run("at-once", tmp_path / "out", 200)
    assert found["judged"] > 0
    assert found["refused"] > 0


def hold(folder: Path) -> subprocess.Popen[str]:
    holder = subprocess.Popen([*PROGRAM, "hold", str(folder)], stdout=subprocess.PIPE, text=True, env=ENVIRONMENT)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    return holder


def test_the_lock_of_a_living_process_refuses_and_that_of_a_dead_one_does_not(tmp_path: Path) -> None:
    write(tmp_path, 1)
    holder = hold(tmp_path)
    try:
        with pytest.raises(InputError, match="another planner is writing to this folder"):
            write(tmp_path, 2)
        assert judge(tmp_path) == 1
    finally:
        holder.kill()
        holder.communicate()
    write(tmp_path, 3)
    assert judge(tmp_path) == 3


def test_two_claims_in_one_process_refuse_each_other(tmp_path: Path) -> None:
    with claimed(tmp_path), pytest.raises(InputError, match="another planner"), claimed(tmp_path):
        pass


def test_a_lock_whose_file_was_removed_meanwhile_is_taken_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its holder wrote nothing and removed it, after this process had opened it: a third could make another."""
    real, removed = folder_lock._taken, []

    def overtaken(handle: int) -> bool:
        if not removed:
            removed.append(True)
            (tmp_path / ".sets" / "lock").unlink()
        return real(handle)

    monkeypatch.setattr(folder_lock, "_taken", overtaken)
    with claimed(tmp_path), pytest.raises(InputError, match="another planner"), claimed(tmp_path):
        pass


def test_copies_follow_and_only_the_named_set_is_kept(tmp_path: Path) -> None:
    for generation in (3, 4):
        write(tmp_path, generation)
    stale = tmp_path / ".sets" / "plan" / "0123456789abcdef"
    stale.mkdir()
    (stale / "page.html").write_text("of a writer that was killed")
    write(tmp_path, 5)
    manifest = json.loads((tmp_path / "plan.json").read_text())
    assert [path.name for path in (tmp_path / ".sets" / "plan").iterdir()] == [Path(manifest["set"]).name]
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        ".sets",
        "calendar.ics",
        "figures.csv",
        "page.html",
        "plan.json",
    ]
    for name in manifest["files"]:
        assert (tmp_path / name).read_bytes() == (tmp_path / manifest["set"] / name).read_bytes()


def test_sets_of_other_manifests_stay(tmp_path: Path) -> None:
    write(tmp_path, 1)
    with claimed(tmp_path) as place:
        place.write_set("weather.json", {"map.svg": lambda path: path.write_text("a map")}, {})
    write(tmp_path, 2)
    weather = json.loads((tmp_path / "weather.json").read_text())
    assert (tmp_path / weather["set"] / "map.svg").read_text() == "a map"


def test_a_manifest_that_cannot_be_read_has_nothing_swept(tmp_path: Path) -> None:
    write(tmp_path, 1)
    named = tmp_path / json.loads((tmp_path / "plan.json").read_text())["set"]
    (tmp_path / "plan.json").write_text('{"set": ')
    write(tmp_path, 2)
    assert judge(tmp_path) == 2
    write(tmp_path, 3)
    assert not named.exists()  # gone once the manifest is sound again


@pytest.mark.skipif(sys.platform == "win32", reason="Windows opens no folder")
def test_files_and_folders_are_on_the_disk_before_the_switch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[tuple[int, int]] = []
    real = os.fsync

    def fsync(handle: int) -> None:
        found = os.fstat(handle)
        synced.append((found.st_dev, found.st_ino))
        real(handle)

    def replace(source: Path, target: Path) -> None:
        if Path(target).name == "plan.json":
            place = tmp_path / json.loads(Path(source).read_text())["set"]
            for path in (source, place, *place.iterdir(), place.parent, place.parent.parent):
                found = Path(path).stat()
                assert (found.st_dev, found.st_ino) in synced, path
            synced.clear()
        os.rename(source, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", replace)
    write(tmp_path, 3)
    assert (tmp_path.stat().st_dev, tmp_path.stat().st_ino) in synced


def fail_on(monkeypatch: pytest.MonkeyPatch, function: str, name: str, code: int) -> None:
    """Have a function of the system fail as it does on a full disk where its target has the given name."""
    real = getattr(os, function)

    def failing(source: Path, target: Path) -> None:
        if Path(target).name == name:
            raise OSError(code, os.strerror(code), str(target))
        real(source, target)

    monkeypatch.setattr(os, function, failing)


def test_a_full_disk_at_the_switch_leaves_the_older_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(tmp_path, 1)
    fail_on(monkeypatch, "replace", "plan.json", errno.ENOSPC)
    with pytest.raises(OutputError, match=r"No space left on device.*Free some space"):
        write(tmp_path, 2)
    assert judge(tmp_path) == 1
    assert len(list((tmp_path / ".sets" / "plan").iterdir())) == 1


def test_a_failure_says_what_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    about = {"departure": "2027-05-08T22:00:00Z", "forecast_issued": "2027-05-08T12:00:00Z"}
    writers = {"page.html": lambda path: path.write_text("a page")}
    fail_on(monkeypatch, "replace", "weather.json", errno.ENOSPC)
    with claimed(tmp_path) as place:
        place.write_set("plan.json", writers, about)
        with pytest.raises(OutputError, match="No set of files stands there yet"):
            place.write_set("weather.json", writers, {})
        fail_on(monkeypatch, "replace", "plan.json", errno.ENOSPC)
        stands = "What stands there, whole, is the plan for the departure of 2027-05-08T22:00:00Z, on the forecast "
        with pytest.raises(OutputError, match=f"{stands}begun 2027-05-08T12:00:00Z"):
            place.write_set("plan.json", writers, {})
        assert place.cut_short() == ()


@needs_kill
def test_the_next_writer_is_told_of_a_run_that_was_cut_short(tmp_path: Path) -> None:
    write(tmp_path, 1)
    assert killed_at(tmp_path, 2, 20)
    with claimed(tmp_path) as place:
        told = (f"An earlier run into '{tmp_path}' was cut short. What stands there, whole, is the plan.",)
        assert place.cut_short() == told
    write(tmp_path, 3)
    with claimed(tmp_path) as place:
        assert place.cut_short() == ()


def test_a_copy_that_is_held_open_is_named_and_the_new_set_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, 1)
    fail_on(monkeypatch, "replace", "figures.csv", errno.EACCES)
    with pytest.raises(OutputError, match=r"copies in .* are older: figures.csv \(Permission denied\)"):
        write(tmp_path, 2)
    assert judge(tmp_path) == 2
    assert "of 2" in (tmp_path / "page.html").read_text()
    assert "of 1" in (tmp_path / "figures.csv").read_text()


def test_a_file_or_a_folder_below_one_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    for folder in (tmp_path / "file", tmp_path / "file" / "deeper"):
        with pytest.raises(InputError, match="a file has this name"), claimed(folder):
            pass
    assert (tmp_path / "file").read_text() == "mine"


def test_a_read_only_folder_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, flags: int, mode: int = 0o777) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(InputError, match=r"cannot be written to \(Read-only file system"), claimed(tmp_path):
        pass


def test_a_claim_for_nothing_leaves_nothing(tmp_path: Path) -> None:
    with claimed(tmp_path / "new"):
        pass
    assert not (tmp_path / "new").exists()
    with claimed(tmp_path):
        pass
    assert not list(tmp_path.iterdir())


def test_a_single_file_is_whole_or_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.html"
    write_text(page, "older")
    left = tmp_path / ".partial-dead"
    left.mkdir()
    os.utime(left, (0, 0))
    with monkeypatch.context() as patch:
        fail_on(patch, "replace", "page.html", errno.ENOSPC)
        with pytest.raises(OutputError, match="No space left on device"):
            write_text(page, "newer")
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]
    assert page.read_text() == "older"


@pytest.mark.parametrize(("name", "words"), [("", "is a folder"), ("file/page.html", "is a file")])
def test_a_page_that_cannot_be_written_is_refused_before_computing(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match=words):
        refuse_unwritable(tmp_path / name, "--page")
    refuse_unwritable(tmp_path / "new" / "folders" / "page.html", "--page")
