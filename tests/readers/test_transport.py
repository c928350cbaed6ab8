"""HTTP to one host: where it may be sent on to, what it sends of credentials, and how silence is told."""

from __future__ import annotations

import base64
import re
import socket
from collections.abc import Iterator

import pytest
from network_case import HIDDEN, Served, plain_server

from planner.domain.addresses import address_of
from planner.domain.errors import InputError
from planner.readers.network import transport
from planner.readers.network.transport import CutError, again, answer

BASIC = base64.b64encode(f"crew:{HIDDEN}@1".encode()).decode()


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr(transport, "PAUSE_S", 0.0)
    with plain_server(Served(b"body")) as each:
        yield each


def read(address: str) -> bytes:
    with answer(address_of(address, where="--fetch")) as response:
        return bytes(response.read())


def test_a_server_may_send_on_to_another_place_of_its_own(served: Served) -> None:
    served.moved_to = {"/old": "/new", "/new": f"{served.address}/newer"}
    assert read(f"{served.address}/old") == b"body"
    assert [path for path, _ in served.asked] == ["/old", "/new", "/newer"]


@pytest.mark.parametrize(
    "target",
    [
        "http://localhost:{port}/x",
        "http://127.0.0.1:1/x",
        "https://127.0.0.1:{port}/x",
        "ftp://127.0.0.1/x",
        "//127.0.0.2:{port}/x",
    ],
)
def test_it_is_not_followed_to_another_host(served: Served, target: str) -> None:
    served.moved_to = {"/old": target.format(port=served.address.rpartition(":")[2])}
    with pytest.raises(InputError, match="sends on to another host, and is not followed there"):
        read(f"{served.address}/old")
    assert [path for path, _ in served.asked] == ["/old"]


def test_a_circle_of_places_ends(served: Served) -> None:
    served.moved_to = {"/a": "/b", "/b": "/a"}
    with pytest.raises(transport.StatusError):
        read(f"{served.address}/a")


def test_a_password_is_sent_and_never_shown(served: Served) -> None:
    served.password = BASIC
    host = served.address.removeprefix("http://")
    assert read(f"http://crew:{HIDDEN}%401@{host}/f.nc?key={HIDDEN}") == b"body"
    assert served.asked[0][0] == f"/f.nc?key={HIDDEN}"
    with pytest.raises(InputError, match="a name and a password") as refused:
        read(f"http://crew:{HIDDEN}-wrong@{host}/f.nc?key={HIDDEN}")
    assert HIDDEN not in f"{refused.value!r} {refused.value}"


def test_nothing_is_sent_that_was_not_asked_for(served: Served) -> None:
    read(f"{served.address}/f.nc")
    headers = {name.lower() for name in served.asked[0][1]}
    assert headers == {"host", "connection", "user-agent", "accept-encoding"}


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("http://127.0.0.1:1/f.nc", "takes no connection"),
        ("http://no-such-host.invalid/f.nc", "no host of that name"),  # RFC 6761 keeps .invalid free
    ],
)
def test_no_connection_is_told_in_words(monkeypatch: pytest.MonkeyPatch, address: str, words: str) -> None:
    monkeypatch.setattr(transport, "PAUSE_S", 0.0)
    tries = []

    def once() -> bytes:
        tries.append(1)
        return read(address)

    with pytest.raises(InputError, match=re.escape(words)):
        again(address_of(address, where="--fetch"), once)
    assert len(tries) == transport.TRIES


def test_silence_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transport, "PATIENCE_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as mute, pytest.raises(CutError, match="nothing came for 0 s"):
        read(f"http://127.0.0.1:{mute.getsockname()[1]}/f.nc")
