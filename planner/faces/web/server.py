"""The server on this machine's own address, a thread a connection."""

from __future__ import annotations

import logging
import signal
import socket
import sys
import threading
import traceback
from collections.abc import Callable
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final

from planner.faces.web import pages
from planner.faces.web.guard import HEADERS, PAGE_POLICY, Guard, new_key, secret_of
from planner.faces.web.jobs import Jobs
from planner.faces.web.shelf import Shelf
from planner.faces.web.site import KEY, Request, Response, Site

log = logging.getLogger(__name__)

ADDRESS: Final = "127.0.0.1"
IDLE_S: Final = 30.0  # s that a connection may say nothing
DRAINED: Final = 1024 * 1024  # bytes of a refused body that are read, so that the browser comes to read the answer
PIECE: Final = 64 * 1024  # bytes
ENDS: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # those of them that the system has


class LocalServer(ThreadingHTTPServer):
    """The local page over a folder.

    Parameters
    ----------
    folder : Path
        Where plans are kept; made when it does not exist.
    port : int
        0 takes any that is free.
    demo : Path or None
        Passage file offered to start from.
    limit : int
        Largest upload [byte].
    jobs : Jobs, optional
        What does the work.
    """

    daemon_threads = True

    def __init__(self, folder: Path, *, port: int, demo: Path | None, limit: int, jobs: Jobs | None = None) -> None:
        shelf = Shelf(folder)
        super().__init__((ADDRESS, port), _Handler)
        self.jobs = jobs or Jobs()
        guard = Guard(port=self.server_port, secret=secret_of(folder), key=new_key())
        self.site = Site(shelf=shelf, jobs=self.jobs, guard=guard, demo=demo, limit=limit)

    @property
    def url(self) -> str:
        """Where the page is first asked for, with its key."""
        return f"http://{ADDRESS}:{self.server_port}/?{KEY}={self.site.guard.key}"

    def server_close(self) -> None:
        """Stop listening and end all work."""
        super().server_close()
        self.jobs.close()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a browser that went away; print the rest."""
        kind = sys.exc_info()[0]
        if kind is None or not issubclass(kind, ConnectionError | TimeoutError):
            super().handle_error(request, client_address)


def serve(folder: Path, *, port: int, demo: Path | None, limit: int, ready: Callable[[str], None]) -> str:
    """Serve the page until a signal asks to end; call it in the main thread.

    All work is ended first. A hang-up that is ignored as the page begins, as under ``nohup``, stays ignored.

    Parameters
    ----------
    folder, port, demo, limit
        As for ``LocalServer``.
    ready : callable
        Told the address once the page can be asked for.

    Returns
    -------
    str
        Name of the signal.
    """
    received: list[str] = []
    with LocalServer(folder, port=port, demo=demo, limit=limit) as server:

        def end(number: int, _frame: object) -> None:
            if not received:  # the loop runs in this thread, which must not wait for itself
                threading.Thread(target=server.shutdown, daemon=True).start()
            received.append(signal.Signals(number).name)

        for name in ENDS:
            number = getattr(signal, name, None)
            if number is not None and not (name == "SIGHUP" and signal.getsignal(number) is signal.SIG_IGN):
                signal.signal(number, end)
        log.info("the page is served on port %d", server.server_port)
        ready(server.url)
        server.serve_forever()
    log.info("ended by %s", received[0])
    return received[0]


class _Handler(BaseHTTPRequestHandler):
    """One connection: a request, its answer, the end."""

    server: LocalServer
    timeout = IDLE_S
    server_version = "passage-energy"
    sys_version = ""

    def do_GET(self) -> None:
        """Answer what is asked for."""
        self._answer(length=0)

    def do_HEAD(self) -> None:
        """Answer without the body."""
        self._answer(length=0)

    def do_POST(self) -> None:
        """Answer a form; one that does not say its length is not read."""
        length = self.headers.get("Content-Length", "")
        if not length.isdecimal() or "Transfer-Encoding" in self.headers:
            self._send(self._sorry(HTTPStatus.LENGTH_REQUIRED, "The form does not say how long it is."))
            return
        self._answer(length=int(length))

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002  (the library's name)
        """Say nothing of each request."""

    def _answer(self, *, length: int) -> None:
        body = _Counted(self.rfile, length)
        headers = {name.title(): value for name, value in self.headers.items()}
        request = Request(self.command, self.path, headers, body, length)  # type: ignore[arg-type]
        try:
            response = self.server.site.answer(request)
        except (ConnectionError, TimeoutError):
            raise
        except Exception:
            log.exception("a request failed")
            traceback.print_exc()
            words = "That is our mistake; the terminal says more. What was planned is still on the shelf."
            response = self._sorry(HTTPStatus.INTERNAL_SERVER_ERROR, words)
        self._send(response)
        self._drain(body)

    def _sorry(self, status: HTTPStatus, words: str) -> Response:
        page = pages.sorry_page(status, words).encode("utf-8")
        return Response(status, page, headers={"Content-Security-Policy": PAGE_POLICY})

    def _send(self, response: Response) -> None:
        body = response.body
        size = body.stat().st_size if isinstance(body, Path) else len(body)
        self.close_connection = True
        self.send_response(response.status)
        headers = {"Content-Type": response.kind, "Content-Length": str(size), "Connection": "close"}
        for name, value in {**HEADERS, **headers, **response.headers}.items():
            self.send_header(name, value)
        self.end_headers()
        if self.command == "HEAD":
            return
        if isinstance(body, Path):
            with body.open("rb") as kept:
                while piece := kept.read(PIECE):
                    self.wfile.write(piece)
        else:
            self.wfile.write(body)

    def _drain(self, body: _Counted) -> None:
        """Read a little of a body that was refused and hang up: a browser cut off at once shows no answer."""
        if not body.left:
            return
        self.wfile.flush()
        self.connection.shutdown(socket.SHUT_WR)
        self.connection.settimeout(1.0)
        most = DRAINED
        try:
            while body.left and most > 0 and (piece := body.read(min(PIECE, most))):
                most -= len(piece)
        except (ConnectionError, TimeoutError):
            return


class _Counted:
    """A body that ends where the request says."""

    def __init__(self, stream: Any, length: int) -> None:
        self._stream = stream
        self.left = length

    def read(self, size: int) -> bytes:
        """Return what has come, at most so many bytes."""
        piece: bytes = self._stream.read1(min(size, self.left)) if self.left else b""
        self.left -= len(piece)
        if not piece:
            self.left = 0
        return piece
