"""Who may ask: the host a request names, the page it comes from, the secret that our own forms carry."""

from __future__ import annotations

import hmac
import os
import re
import secrets
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path

SECRET_FILE = ".secret"  # noqa: S105  (the name of the file)
SECRET_BYTES = 24
WHOLE_SECRET = re.compile(r"[A-Za-z0-9_-]{32}")  # so many characters do 24 bytes take
NO_KEY = (
    "This page is for the one who started it: open the address that the terminal printed, which holds today's key.\n"
)
PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# a report's own meta element allows its one script and no more; this closes what such an element cannot
REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Refusal(Exception):  # noqa: N818  (an answer to a request, not a failure)
    """A request that is not served.

    Parameters
    ----------
    status : HTTPStatus
        Sent to the browser.
    words : str
        Shown to the reader.
    """

    def __init__(self, status: HTTPStatus, words: str) -> None:
        super().__init__(words)
        self.status = status
        self.words = words


@dataclass(frozen=True)
class Guard:
    """What a request is held against.

    Attributes
    ----------
    port : int
        On which the page is served.
    secret : str
        In every form of ours.
    key : str
        In the address that is printed at the start, then in the browser's cookie: others who use this computer do
        not have it.

    Raises
    ------
    ValueError
        When secret or key is shorter than ``new_key`` makes them: an empty one would let everybody in.
    """

    port: int
    secret: str
    key: str

    def __post_init__(self) -> None:
        """Refuse a secret or a key that is not whole."""
        if not (WHOLE_SECRET.fullmatch(self.secret) and WHOLE_SECRET.fullmatch(self.key)):
            raise ValueError("secret and key must be whole, as new_key makes them")

    @property
    def hosts(self) -> tuple[str, ...]:
        """Names under which the page may be asked for."""
        return f"127.0.0.1:{self.port}", f"localhost:{self.port}"

    def check_host(self, headers: Mapping[str, str]) -> None:
        """Refuse a request that names another host: a name elsewhere that was turned to this machine.

        Raises
        ------
        Refusal
            421.
        """
        if headers.get("Host", "").lower() not in self.hosts:
            raise Refusal(HTTPStatus.MISDIRECTED_REQUEST, f"Ask for http://{self.hosts[0]}/ by that name.")

    @property
    def cookie_name(self) -> str:
        """Of the key's cookie; cookies are shared between ports."""
        return f"passage-energy-{self.port}"

    @property
    def cookie(self) -> str:
        """The header that leaves the key with the browser, until it is closed."""
        return f"{self.cookie_name}={self.key}; Path=/; HttpOnly; SameSite=Strict"

    def is_key(self, given: str) -> bool:
        """Return whether this is the key."""
        return hmac.compare_digest(given.encode("utf-8"), self.key.encode("utf-8"))

    def check_key(self, headers: Mapping[str, str]) -> None:
        """Refuse a request whose cookies do not hold the key.

        Raises
        ------
        Refusal
            403.
        """
        pairs = (part.strip().partition("=") for part in headers.get("Cookie", "").split(";"))
        if not any(name == self.cookie_name and self.is_key(value) for name, _, value in pairs):
            raise Refusal(HTTPStatus.FORBIDDEN, NO_KEY)

    def check_origin(self, headers: Mapping[str, str]) -> None:
        """Refuse a form that comes from a page other than ours.

        Raises
        ------
        Refusal
            403.
        """
        origin, site = headers.get("Origin"), headers.get("Sec-Fetch-Site")
        foreign = origin is not None and origin.lower() not in {f"http://{host}" for host in self.hosts}
        if foreign or site not in {None, "same-origin", "none"}:
            raise Refusal(HTTPStatus.FORBIDDEN, "This form came from another page. Nothing was done.")

    def check_secret(self, given: str) -> None:
        """Refuse a form that does not carry the folder's secret.

        Raises
        ------
        Refusal
            403.
        """
        if not hmac.compare_digest(given.encode("utf-8"), self.secret.encode("utf-8")):
            words = "This form is not one of this folder's. Open the page again and repeat. Nothing was done."
            raise Refusal(HTTPStatus.FORBIDDEN, words)


def new_key() -> str:
    """Return a key that nobody can guess, safe in an address and in a cookie."""
    return secrets.token_urlsafe(SECRET_BYTES)


def secret_of(folder: Path) -> str:
    """Return the folder's secret, readable by its owner alone; made when there is none, or no whole one.

    Parameters
    ----------
    folder : Path
        That exists.

    Returns
    -------
    str
        As ``new_key`` makes it, never empty.
    """
    path = folder / SECRET_FILE
    kept = path.read_bytes().decode("ascii", "replace").strip() if path.is_file() else ""
    if WHOLE_SECRET.fullmatch(kept):
        return kept
    secret = new_key()
    handle, scratch = tempfile.mkstemp(prefix=f"{SECRET_FILE}-", dir=folder)  # readable by its owner alone
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secret)
        file.flush()
        os.fsync(handle)
    os.replace(scratch, path)
    return secret
