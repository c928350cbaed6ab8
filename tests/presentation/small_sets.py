"""Small sets of files for tests of how sets are written; as a program, it writes them and is killed at it.

small_sets.py at-each-call FOLDER N   one set after another, each killed at the next call, until N have been killed
small_sets.py at-random FOLDER N      N writers of set after set, each killed after a random time
small_sets.py at-once FOLDER N        two writers of N sets each, judged all the while
small_sets.py hold FOLDER             claims the folder and waits
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import random
import signal
import sys
import time
from pathlib import Path

from planner.domain.errors import InputError
from planner.presentation.files.file_set import claimed

NAMES = ("figures.csv", "page.html", "calendar.ics")
CALLS = {"open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.listdir", "os.scandir", "shutil.copyfile"}
"""What the interpreter tells of before it does it; ``os.rename`` is told for ``os.replace``, too."""


def write(folder: Path, generation: int) -> None:
    """Write a set, each file of which says its generation, and every third an optional file."""
    writers = {name: lambda path: path.write_text(f"{path.name} of {generation}\n" * 40) for name in NAMES}
    if generation % 3 == 0:
        writers["optional.nc"] = lambda path: path.write_text(f"optional of {generation}\n")
    with claimed(folder) as place:
        place.write_set("plan.json", writers, {"generation": generation}, may_lack=("optional.nc",))


def judge(folder: Path) -> int:
    """Return the generation that plan.json names when its set is whole, of one generation, and as its digests say."""
    while True:
        manifest = json.loads((folder / "plan.json").read_text())
        try:
            contents = {name: (folder / manifest["set"] / name).read_bytes() for name in manifest["files"]}
            break
        except FileNotFoundError:
            assert json.loads((folder / "plan.json").read_text())["set"] != manifest["set"], "the named set is gone"
    for name, content in contents.items():
        assert hashlib.sha256(content).hexdigest() == manifest["files"][name], f"{name} is not as plan.json says"
        assert f"of {manifest['generation']}\n".encode() in content
    assert set(NAMES) <= set(contents)
    return int(manifest["generation"])


def killed_at(folder: Path, generation: int, call: int) -> bool:
    """Write a set in a process that is killed just before the given call on the folder; return whether it was."""
    child = os.fork()
    if child == 0:
        count = 0

        def kill(event: str, arguments: tuple[object, ...]) -> None:
            nonlocal count
            if event in CALLS and str(folder) in str(arguments[:1]):
                if count == call:
                    os.kill(os.getpid(), signal.SIGKILL)
                count += 1

        sys.addaudithook(kill)
        write(folder, generation)
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def at_each_call(folder: Path, kills: int) -> dict[str, int]:
    outcomes = {"older": 0, "newer": 0}
    generation, call, points = 1, 0, 0
    write(folder, generation)
    while sum(outcomes.values()) < kills:
        before, generation = judge(folder), generation + 1
        if killed_at(folder, generation, call):
            after = judge(folder)
            assert after in (before, generation)
            outcomes["newer" if after == generation else "older"] += 1
            call += 1
        else:
            assert judge(folder) == generation
            points, call = max(points, call), 0
    return {**outcomes, "points": points}


def at_random(folder: Path, kills: int) -> dict[str, int]:
    write(folder, 1)
    begun = time.perf_counter()
    write(folder, 1)
    longest = 3.0 * (time.perf_counter() - begun)
    generation, moved = 1, 0
    chance = random.Random(20270509)
    for _ in range(kills):
        child = os.fork()
        if child == 0:
            for later in range(generation + 1, generation + 1000):
                write(folder, later)
            os._exit(1)
        time.sleep(chance.uniform(0.0, longest))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        found = judge(folder)
        assert found >= generation
        moved += found > generation
        generation = found
    return {"kills": kills, "moved": moved}


def at_once(folder: Path, sets: int) -> dict[str, int]:
    write(folder, 0)
    children = []
    for writer in (1, 2):
        child = os.fork()
        if child == 0:
            refused = 0
            for number in range(sets):
                try:
                    write(folder, 2 * number + writer)
                except InputError:
                    refused += 1
            (folder / f"refused-{writer}").write_text(str(refused))
            os._exit(0)
        children.append(child)
    judged = 0
    while children:
        judge(folder)
        judged += 1
        for child in list(children):
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                assert status == 0
                children.remove(child)
    judge(folder)
    refused = sum(int((folder / f"refused-{writer}").read_text()) for writer in (1, 2))
    return {"judged": judged, "refused": refused}


def hold(folder: Path) -> None:
    with claimed(folder):
        print("held", flush=True)
        with contextlib.suppress(KeyboardInterrupt):
            time.sleep(600)


if __name__ == "__main__":
    os.fsync = lambda handle: None  # slow, and for a loss of power: a kill loses nothing that was written
    what, where = sys.argv[1], Path(sys.argv[2])
    if what == "hold":
        hold(where)
    else:
        does = {"at-each-call": at_each_call, "at-random": at_random, "at-once": at_once}[what]
        print(json.dumps(does(where, int(sys.argv[3]))))
