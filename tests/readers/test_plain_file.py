"""Files fetched whole: sizes, cuts, versions, and what is kept beside the passage."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from network_case import Served, plain_server

from planner.domain.addresses import address_of
from planner.domain.errors import InputError, OutputError
from planner.readers.network import transport
from planner.readers.network.keeping import Kept
from planner.readers.network.plain_file import fetch_file

BODY = b"CDF\x01" + bytes(range(256)) * 1000
MOST = 1_000_000


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr(transport, "PAUSE_S", 0.0)
    with plain_server(Served(BODY)) as each:
        yield each


def fetched(served: Served, folder: Path, *, most: int = MOST, told: list[int | None] | None = None) -> Kept:
    where = address_of(f"{served.address}/run/f.nc", where="--fetch")
    return fetch_file(where, folder, most_bytes=most, on_size=[].append if told is None else told.append)


def test_it_comes_whole_with_its_digest_and_its_size_is_told_first(served: Served, tmp_path: Path) -> None:
    told: list[int | None] = []
    kept = fetched(served, tmp_path, told=told)
    assert kept.path == tmp_path / "f.nc"
    assert kept.path.read_bytes() == BODY
    digest = hashlib.sha256(BODY).hexdigest()
    assert (kept.sha256, kept.resumed_bytes, told) == (digest, 0, [len(BODY)])
    assert (tmp_path / "f.nc.sha256").read_text() == f"{digest}  f.nc\n"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["f.nc", "f.nc.sha256"]


def test_a_cut_in_the_middle_is_gone_on_with_at_once(served: Served, tmp_path: Path) -> None:
    served.cuts = [100_000, 50_000]
    told: list[int | None] = []
    assert fetched(served, tmp_path, told=told).path.read_bytes() == BODY
    ranges = [headers.get("Range") for _, headers in served.asked]
    assert ranges == [None, "bytes=100000-", "bytes=150000-"]
    assert {headers.get("If-Range") for _, headers in served.asked[1:]} == {'"one"'}
    assert told == [len(BODY), len(BODY) - 100_000, len(BODY) - 150_000]


def test_what_a_dead_connection_leaves_is_gone_on_with_by_the_next_call(served: Served, tmp_path: Path) -> None:
    served.cuts = [100_000, 0, 0, 0]
    with pytest.raises(InputError, match=re.escape("cut after 100 of 256 kB. 100 kB of it have come, and are kept.")):
        fetched(served, tmp_path)
    assert len(served.asked) == 1 + transport.TRIES  # the first brought something
    assert not (tmp_path / "f.nc").exists()
    served.cuts = []
    kept = fetched(served, tmp_path)
    assert kept.path.read_bytes() == BODY
    assert kept.resumed_bytes == 100_000
    assert served.asked[-1][1]["Range"] == "bytes=100000-"


def test_another_version_is_fetched_from_its_beginning(served: Served, tmp_path: Path) -> None:
    served.cuts = [100_000, 0, 0, 0]
    with pytest.raises(InputError):
        fetched(served, tmp_path)
    served.cuts, served.tag, served.body = [], '"two"', BODY[::-1].replace(b"\x01FDC", b"")
    served.body = b"CDF\x02" + served.body
    kept = fetched(served, tmp_path)
    assert kept.path.read_bytes() == served.body
    assert kept.resumed_bytes == 0


@pytest.mark.parametrize("tag", ["", 'W/"weak"'])
def test_without_what_tells_versions_apart_it_begins_anew(served: Served, tmp_path: Path, tag: str) -> None:
    served.tag, served.cuts = tag, [100_000]
    assert fetched(served, tmp_path).path.read_bytes() == BODY
    assert [headers.get("Range") for _, headers in served.asked] == [None, None]


def test_a_server_without_ranges_is_asked_for_the_whole_again(served: Served, tmp_path: Path) -> None:
    served.ranges, served.cuts = False, [100_000]
    kept = fetched(served, tmp_path)
    assert kept.path.read_bytes() == BODY
    assert kept.resumed_bytes == 0


def test_a_file_that_has_become_shorter_meanwhile_is_fetched_anew(served: Served, tmp_path: Path) -> None:
    served.cuts = [200_000, 0, 0, 0]
    with pytest.raises(InputError):
        fetched(served, tmp_path)
    served.cuts, served.body = [], BODY[:150_000]  # under the same tag: a server that errs
    assert fetched(served, tmp_path).path.read_bytes() == BODY[:150_000]


@pytest.mark.parametrize("span", ["bytes 5-9/10", "bytes */256004", "nonsense"])
def test_another_part_than_was_asked_for_is_not_taken(served: Served, tmp_path: Path, span: str) -> None:
    served.span, served.cuts = span, [100_000]
    kept = fetched(served, tmp_path)
    assert kept.path.read_bytes() == BODY
    assert [headers.get("Range") for _, headers in served.asked] == [None, "bytes=100000-", None]


def test_a_place_that_cannot_be_written_to_is_told(served: Served, tmp_path: Path) -> None:
    def as_it_begins(_size: int | None) -> None:
        if len(served.asked) == 1:
            (tmp_path / ".f.nc.part").unlink(missing_ok=True)
            (tmp_path / ".f.nc.part").mkdir()

    where = address_of(f"{served.address}/run/f.nc", where="--fetch")
    with pytest.raises(OutputError, match="could not be written"):
        fetch_file(where, tmp_path, most_bytes=MOST, on_size=as_it_begins)


@pytest.mark.parametrize("states", [True, False])
def test_too_large_a_file_is_refused_and_leaves_nothing(served: Served, tmp_path: Path, *, states: bool) -> None:
    served.states_length = states
    with pytest.raises(InputError, match=re.escape("no more than 0.1 MB are fetched. Take a smaller area")):
        fetched(served, tmp_path, most=100_000)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_size_is_told_as_such(served: Served, tmp_path: Path) -> None:
    served.states_length = False
    told: list[int | None] = []
    assert fetched(served, tmp_path, told=told).size_bytes == len(BODY)
    assert told == [None]


def test_a_log_in_page_is_refused_for_what_it_is(served: Served, tmp_path: Path) -> None:
    served.body = b"<!DOCTYPE html><title>Log in</title>"
    with pytest.raises(InputError, match="looks like a web page"):
        fetched(served, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_older_file_of_that_name_is_left_and_the_same_one_is_kept_once(served: Served, tmp_path: Path) -> None:
    (tmp_path / "f.nc").write_bytes(b"of yesterday")
    first, second = fetched(served, tmp_path), fetched(served, tmp_path)
    assert (tmp_path / "f.nc").read_bytes() == b"of yesterday"
    assert first.path == second.path == tmp_path / "f-2.nc"
    assert (first.was_there, second.was_there) == (False, True)


@pytest.mark.parametrize(
    ("status", "words"),
    [
        (404, "there is nothing at that address (404)"),
        (403, "a name and a password (403)"),
        (503, "busy, or down (503)"),
        (418, "the server gives nothing (418)"),
    ],
)
def test_what_a_server_answers_is_told_in_a_sentence(served: Served, tmp_path: Path, status: int, words: str) -> None:
    served.status = status
    with pytest.raises(InputError, match=re.escape(words)):
        fetched(served, tmp_path)
    assert list(tmp_path.iterdir()) == []
