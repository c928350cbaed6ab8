"""A local page over a folder of its own, and a way to ask it as a browser or an attacker would."""

from __future__ import annotations

import html
import http.client
import json
import re
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from planner.faces.web.jobs import Jobs
from planner.faces.web.server import LocalServer

DEMO = Path(__file__).parents[2] / "data" / "demo"
PATIENCE_S = 120.0  # a shared machine may be slow; nothing is timed by it
BOUNDARY = "a-boundary"
Part = tuple[str, bytes] | tuple[str, bytes, str]


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    text: str


@dataclass
class Caller:
    """Asks one page; sends what a browser would unless told otherwise."""

    server: LocalServer
    headers: dict[str, str] = field(default_factory=dict)

    @property
    def secret(self) -> str:
        return self.server.site.guard.secret

    @property
    def cookie(self) -> str:
        return f"{self.server.site.guard.cookie_name}={self.server.site.guard.key}"

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.server.server_port}"

    def ask(self, method: str, path: str, *, body: bytes = b"", **headers: str) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.server.server_port, timeout=30)
        sent = {
            "Host": self.host,
            "Cookie": self.cookie,
            **{name.replace("_", "-"): value for name, value in headers.items()},
        }
        if method == "POST":
            sent.setdefault("Content-Length", str(len(body)))
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in sent.items():
            connection.putheader(name, value)
        connection.endheaders(body or None)
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        connection.close()
        return Answer(answer.status, dict(answer.getheaders()), text)

    def get(self, path: str) -> Answer:
        return self.ask("GET", path)

    def post(self, path: str, fields: dict[str, str]) -> Answer:
        body = urlencode({"secret": self.secret, **fields}).encode()
        return self.ask("POST", path, body=body, Content_Type="application/x-www-form-urlencoded", Origin=self.origin)

    def upload(self, path: str, parts: Sequence[Part]) -> Answer:
        body = multipart([("secret", self.secret.encode()), *parts])
        kind = f"multipart/form-data; boundary={BOUNDARY}"
        return self.ask("POST", path, body=body, Content_Type=kind, Origin=self.origin)

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    def plans(self) -> list[str]:
        return [entry.id for entry in self.server.site.shelf.entries()]

    def until_done(self, plan: str, place: str = "plan") -> str:
        """Wait for the work on a plan and return its page."""
        until = time.monotonic() + PATIENCE_S
        while json.loads(self.get(f"{plan}/progress/{place}").text)["busy"]:
            assert time.monotonic() < until, "the work does not end"
            time.sleep(0.1)
        return self.get(plan).text


def multipart(parts: Sequence[Part]) -> bytes:
    body = b""
    for name, content, *file_name in parts:
        head = f'Content-Disposition: form-data; name="{name}"'
        if file_name:
            head += f'; filename="{file_name[0]}"\r\nContent-Type: application/octet-stream'
        body += f"--{BOUNDARY}\r\n{head}\r\n\r\n".encode() + content + b"\r\n"
    return body + f"--{BOUNDARY}--\r\n".encode()


def demo_parts(**changed: tuple[str, bytes]) -> list[Part]:
    """Return the demo's files as parts of a form, some of them changed to (given name, content)."""
    names = {"passage": "passage.toml", "boat": "boat.toml", "route": "route.gpx", "forecast": "forecast.nc"}
    return [
        (role, changed[role][1], changed[role][0]) if role in changed else (role, (DEMO / name).read_bytes(), name)
        for role, name in names.items()
    ]


def words_of(page: str) -> str:
    """Return a page's words without its tags, blanks joined."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page)))


@contextmanager
def serving(folder: Path, *, limit: int = 8 * 1024**2, jobs: Jobs | None = None) -> Iterator[Caller]:
    server = LocalServer(folder, port=0, demo=DEMO / "passage.toml", limit=limit, jobs=jobs)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield Caller(server)
    finally:
        server.shutdown()
        server.server_close()
        thread.join(timeout=10)
