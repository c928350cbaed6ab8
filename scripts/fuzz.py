#!/usr/bin/env python3
"""Give every reader of files damaged and odd input, and report what was neither read nor refused with a sentence.

Usage: ``scripts/fuzz [--minutes N | --inputs N] [--seed S] [--reader NAME ...]``.

Sound files are made by code, and damaged by rule: bytes are flipped, cut out, doubled, and words put in that have
troubled readers. What input a seed and a number stand for is always the same; ``--show READER NUMBER`` writes it to a
file. Each reader runs in a process of its own, under the guard of every reading. Damage makes the libraries of
NetCDF and GRIB crash or work without end; there the guard ends the process, and the command says so in a sentence.
Status 1 when anything else ended otherwise than in a reading or an ``InputError``, or took longer than ten seconds.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import mmap
import os
import queue
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import IO, Any, NamedTuple, NoReturn

import pyproj  # noqa: F401  # before GRIB's library, whose own PROJ hides the database of this one

PROJECT = Path(__file__).parents[1]
DEMO = PROJECT / "data" / "demo"
sys.path[:0] = [str(PROJECT), str(PROJECT / "scripts")]
from fuzz_corpus import grib_files, netcdf_files  # noqa: E402

HANG_S = 10.0
GUARDED_S = 120.0  # the guard counts processor time, of which a busy machine gives less
GUARDED = {
    signal.SIGABRT,
    signal.SIGSEGV,
    signal.SIGBUS,
    signal.SIGFPE,
    signal.SIGXCPU,
}  # as planner/readers/forecast/guard.py
BEGIN_S = 60.0  # until a process has imported everything
Corpus = dict[str, bytes]
"""Sound files by their names."""

# What has troubled readers of text before, beside the letters of any damage.
WORDS = (
    b"", b"0", b"-1", b"1e308", b"1e-308", b"nan", b"inf", b"-0.0", b"9" * 5000, b"1e99999", b"null", b"true", b"[]",
    b"{}", b"[" * 3000, b"{\"a\":" * 3000, b"a = " + b"[" * 3000, b"\xe9", b"\xff\xfe", b"\x00", b"\xef\xbb\xbf",
    b"\"", b"'", b"\"\"\"", b"\n", b"\r", b",", b";", b"\t", b"=", b"#", b"x" * 140_000, b"0001-01-01T00:00:00+14:00",
    b"9999-12-31T23:59:59-14:00", b"2027-02-30", b"24:00", b"[[watches]]\n", b"<rtept lat=\"1\" lon=\"2\"/>",
    b"</rte>", b"<rte>", b"&amp;", b"<!--", b"\"features\": null", b"\"coordinates\": 3", b"\"type\": [1]", b"..",
    b"180", b"-180", b"90.0001", b"361", b"1,5", b"=1+1", b"\xc2\xa0", b"\xe2\x88\x92",
)  # fmt: skip


class Reader(NamedTuple):
    """How a reader is tried: its sound files, and what reads one of them, lying in a folder with the others."""

    corpus: Callable[[], Corpus]
    read: Callable[[Path], object]
    binary: bool = False


def _passages() -> Corpus:
    return {"passage.toml": (DEMO / "passage.toml").read_bytes(), "boat.toml": (DEMO / "boat.toml").read_bytes()}


def _read_passage(path: Path) -> object:
    from planner.readers.config import read_boat, read_configuration

    return read_boat(path) if path.name == "boat.toml" else read_configuration(path)


def _polars() -> Corpus:
    rows = [["twa", "6", "10", "16"], *([str(angle), "3.1", "5.2", "6.4"] for angle in (35, 60, 90, 120, 150, 180))]
    return {"polar.csv": "\n".join(",".join(row) for row in rows).encode() + b"\n"}


def _read_polar(path: Path) -> object:
    from planner.readers.polar import read_polar

    return read_polar(path)


def _routes() -> Corpus:
    line = {"type": "LineString", "coordinates": [[174.1, -35.3], [179.9, -28.0], [-175.2, -21.1]]}
    feature = {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": line, "properties": {}}]}
    return {
        "route.gpx": (DEMO / "route.gpx").read_bytes(),
        "route.csv": b"name,lat,lon\nA,35-18.7S,174-07.4E\nB,-28.0,179.9\nC,21 08 S,175 12 W\n",
        "route.geojson": json.dumps(feature).encode(),
    }


def _read_route(path: Path) -> object:
    from planner.readers.route import read_route

    return read_route(path)


def _logs() -> Corpus:
    rows = [
        f"2027-05-09T{n // 6:02d}:{n % 6}0+12:00,{60 + n / 10:.0f},{12.8 + n / 500:.2f},{n % 9 - 4}.0,{n * 2},0"
        for n in range(60)
    ]
    heading = "time,SOC %,bank V,bank A,arch W,engine on"
    return {"log.csv": "\n".join([heading, *rows]).encode() + b"\n"}


def _read_log(path: Path) -> object:
    from datetime import timedelta

    from planner.readers.log.reader import read_logs

    return read_logs([path], controllers=["arch"], ship_offset=timedelta(hours=12))


def _small_texts() -> Corpus:
    return {
        "engine.csv": b"start,stop,fuel_l\n2027-05-09T10:00+12:00,2027-05-09T11:00+12:00,1.5\n",
        "mapping.toml": b'time_zone = "utc"\ndate_order = "day first"\n[columns]\nmeter_soc = "SOC %"\n',
    }


def _read_small_text(path: Path) -> object:
    from planner.readers.log.engine import read_engine_log
    from planner.readers.log.mapping import read_mapping

    return read_mapping(path) if path.suffix == ".toml" else read_engine_log(path)


def _plans() -> Corpus:
    plan = {
        "format": 1, "files": {"hourly.csv": "DIGEST"}, "set": ".sets/plan.json/1", "arrival": "2027-05-10T00:00:00Z",
        "engine_windows": [], "policy": [], "ship_offset_hours": 12.0, "fuel_aboard_l": 40.0,
    }  # fmt: skip
    columns = ("lat", "lon", "planned_bank_soc", "bank_soc_p10", "bank_soc_p90", "planned_solar_power_w",
               "planned_load_power_w", "planned_engine_on")  # fmt: skip
    rows = [",".join(("time", *columns)), *(f"2027-05-09T0{hour}:00:00Z" + ",0.5" * 8 for hour in range(5))]
    return {"plan.json": json.dumps(plan, indent=1).encode(), "hourly.csv": "\n".join(rows).encode()}


def _read_plan(path: Path) -> object:
    from planner.readers.last_plan import read_last_plan

    digest = hashlib.sha256((path.parent / "hourly.csv").read_bytes()).hexdigest()
    whole = path.parent / "plan.json"
    whole.write_bytes(whole.read_bytes().replace(b"DIGEST", digest.encode()))
    return read_last_plan(path.parent)


def _read_forecast(path: Path) -> object:
    from planner.readers.forecast.reader import read_forecast

    return read_forecast([path], corridor=(-30.0, -26.0, 176.0, 182.0), span=None)


READERS = {
    "passage and boat": Reader(_passages, _read_passage),
    "polar table": Reader(_polars, _read_polar),
    "route": Reader(_routes, _read_route),
    "log": Reader(_logs, _read_log),
    "engine log and mapping": Reader(_small_texts, _read_small_text),
    "plan": Reader(_plans, _read_plan),
    "NetCDF": Reader(netcdf_files, _read_forecast, binary=True),
    "GRIB": Reader(grib_files, _read_forecast, binary=True),
}


def damaged(content: bytes, rng: random.Random, *, binary: bool) -> bytes:
    """Return a file's bytes with one to four damages."""
    data = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(data) + 1)
        end = min(len(data), at + rng.choice((1, 1, 2, 8, 64, 1024)))
        kind = rng.randrange(8)
        if kind == 0:
            del data[at:end]
        elif kind == 1:
            data[at:at] = data[at:end]
        elif kind == 2:
            data[at:end] = bytes(rng.randrange(256) for _ in range(end - at))
        elif kind == 3 and rng.random() < 0.2:
            del data[at:]
        elif binary:
            place = rng.randrange(len(data)) if data else 0
            data[place : place + 1] = bytes([rng.choice((0, 1, 127, 128, 254, 255, rng.randrange(256)))])
        elif kind < 6:
            data[at:at] = rng.choice(WORDS)
        else:
            _replace_word(data, at, rng)
    return bytes(data)


def _replace_word(data: bytearray, at: int, rng: random.Random) -> None:
    """Put a troublesome word in the place of what stands round a byte, up to what parts words."""
    first = last = at
    while first > 0 and data[first - 1] not in b" ,;=\n\t\"'[]{}<>":
        first -= 1
    while last < len(data) and data[last] not in b" ,;=\n\t\"'[]{}<>":
        last += 1
    data[first:last] = rng.choice(WORDS)


def written(reader: str, number: int, seed: int, folder: Path, corpus: Corpus) -> Path:
    """Write an input, with the sound files beside it, and return its path; the first of all are the sound ones."""
    rng = random.Random(f"{seed} {reader} {number}")  # noqa: S311
    names = sorted(corpus)
    name = names[number % len(names)]
    content = corpus[name]
    if number >= len(names):
        content = damaged(content, rng, binary=READERS[reader].binary)
    for other in names:
        if not READERS[reader].binary:
            (folder / other).write_bytes(corpus[other])
    (folder / name).write_bytes(content)
    return folder / name


def work(reader: str, seed: int, first: int) -> None:
    """Try inputs without end, in a child that is followed by another when an input ends it.

    A child begins with all libraries at hand, so that a crash costs a fork. A line is printed before each input and
    one after.
    """
    from planner.readers.forecast import guard

    guard.READING_S = 2.0
    guard.guard_with(guard.held_back)
    corpus = READERS[reader].corpus()
    board = mmap.mmap(-1, 8)  # shared: the number of the input at hand
    with tempfile.TemporaryDirectory() as name:
        READERS[reader].read(written(reader, 0, seed, Path(name), corpus))
        while True:
            child = os.fork()
            if child == 0:
                work_on(reader, seed, first, folder=Path(name), corpus=corpus, board=board)
            _, status = os.waitpid(child, 0)
            at = int.from_bytes(board[:], "big")
            ended = f"the process ended with {os.waitstatus_to_exitcode(status)}"
            print(json.dumps({"at": at, "ended": ended, "s": 0.0, "mib": 0}), flush=True)
            first = at + 1


def work_on(reader: str, seed: int, first: int, *, folder: Path, corpus: Corpus, board: mmap.mmap) -> NoReturn:
    """Try inputs until one ends this process."""
    import resource

    from planner.domain.errors import InputError

    for number in count(first):
        board[:] = number.to_bytes(8, "big")
        path = written(reader, number, seed, folder, corpus)
        print(json.dumps({"at": number}), flush=True)
        begun, ended = time.monotonic(), "read"
        try:
            READERS[reader].read(path)
        except InputError:
            ended = "refused"
        except Exception as error:  # which is what is looked for
            last = traceback.extract_tb(error.__traceback__)
            ours = next((one for one in reversed(last) if "planner" in Path(one.filename).parts), last[-1])
            ended = f"{type(error).__name__} at {Path(ours.filename).name}:{ours.lineno}: {str(error)[:80]}"
        mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        took = time.monotonic() - begun
        print(json.dumps({"at": number, "ended": ended, "s": took, "mib": mib}), flush=True)
    raise AssertionError("numbers do not end")


class Account:
    """What became of one reader's inputs."""

    def __init__(self, reader: str, seed: int) -> None:
        self.reader, self.seed, self.tried, self.peak_mib, self.slowest_s = reader, seed, 0, 0, 0.0
        self.ended: Counter[str] = Counter()
        self.first: dict[str, int] = {}

    def note(self, number: int, ended: str) -> None:
        """Count an input."""
        self.tried += 1
        self.ended[ended if ended in {"read", "refused"} else ended.partition(": ")[0]] += 1
        self.first.setdefault(ended.partition(": ")[0], number)
        if ended not in {"read", "refused"} and self.ended[ended.partition(": ")[0]] == 1:
            print(f"{self.reader} {number}: {ended}", flush=True)

    def run(self, until: float, inputs: int) -> None:
        """Try inputs until a moment, or so many."""
        while time.monotonic() < until and self.tried < inputs:
            for line in self._lines(until):
                if "ended" in line:
                    self.note(line["at"], line["ended"])
                    self.peak_mib, self.slowest_s = (
                        max(self.peak_mib, line["mib"]),
                        max(self.slowest_s, line["s"]),
                    )
                if self.tried >= inputs:
                    return

    def _lines(self, until: float) -> Iterator[dict[str, Any]]:
        """Start a process and yield what it says, until it ends, hangs or time is over."""
        command = [sys.executable, __file__, "--work", self.reader, str(self.seed), str(self.tried)]
        environment = os.environ | {"PYTHONPATH": str(PROJECT)}
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment, start_new_session=True
        )
        assert process.stdout is not None
        lines: queue.Queue[bytes] = queue.Queue()
        threading.Thread(target=_drain, args=(process.stdout, lines), daemon=True).start()
        wait, at = BEGIN_S, self.tried
        try:
            while time.monotonic() < until:
                said = lines.get(timeout=wait)
                if not said:
                    yield {"at": at, "ended": f"the process ended with {process.wait()}", "s": 0.0, "mib": 0}
                    return
                line = json.loads(said)
                at, wait = line["at"], GUARDED_S if READERS[self.reader].binary else HANG_S
                yield line
        except queue.Empty:
            yield {"at": at, "ended": "hang", "s": wait, "mib": 0}
        finally:
            os.killpg(process.pid, signal.SIGKILL)  # and its child
            process.wait()

    def failed(self) -> bool:
        """Tell whether anything ended as no input may."""
        allowed = {"read", "refused"}
        if READERS[self.reader].binary:
            allowed |= {f"the process ended with {-number}" for number in GUARDED}
        return bool(set(self.ended) - allowed)

    def __str__(self) -> str:
        other = {name: count for name, count in self.ended.items() if name not in {"read", "refused"}}
        hangs = other.pop("hang", 0)
        ends = sum(count for name, count in other.items() if name.startswith("the process"))
        return (
            f"{self.reader:24} {self.tried:7} {self.ended['read']:7} {self.ended['refused']:8}"
            f" {sum(other.values()) - ends:11} {ends:6} {hangs:6} {self.peak_mib:9} {self.slowest_s:9.2f}"
        )


def _drain(out: IO[bytes], lines: queue.Queue[bytes]) -> None:
    """Put what a process says, and last an empty line, where it can be waited for."""
    for line in out:
        lines.put(line)
    lines.put(b"")


def main() -> int:
    """Try every reader and print the account."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--minutes", type=float, default=1.0, help="in all, shared by the readers")
    parser.add_argument("--inputs", type=int, default=10**9, help="at most, of each reader")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--reader", action="append", choices=list(READERS), help="these alone")
    parser.add_argument("--show", nargs=2, metavar=("READER", "NUMBER"), help="write an input here, and stop")
    parser.add_argument("--work", nargs=3, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.work:
        work(options.work[0], int(options.work[1]), int(options.work[2]))
    if options.show:
        reader, number = options.show
        print(written(reader, int(number), options.seed, Path(), READERS[reader].corpus()))
        return 0
    chosen = options.reader or list(READERS)
    accounts = [Account(reader, options.seed) for reader in chosen]
    for account in accounts:
        account.run(time.monotonic() + 60.0 * options.minutes / len(accounts), options.inputs)
    print(f"{'reader':24} {'tried':>7} {'read':>7} {'refused':>8} tracebacks  ended  hangs  peak MiB  slowest s")
    for account in accounts:
        print(account)
    return int(any(account.failed() for account in accounts))


if __name__ == "__main__":
    sys.exit(main())
