"""Who may speak to a network: one module, reached by one verb."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "planner"
MODULES = sorted(PACKAGE.rglob("*.py"))
OF_A_NETWORK = {
    "socket", "ssl", "http", "urllib", "requests", "urllib3", "ftplib", "smtplib", "telnetlib", "poplib", "imaplib",
    "nntplib", "xmlrpc", "socketserver", "asyncio", "webbrowser", "pydap", "aiohttp", "httpx", "fsspec",
}  # fmt: skip
HARMLESS = {"urllib.parse", "urllib.parse.quote", "http.HTTPStatus"}
ASKS = "readers/network/transport.py"
ANSWERS = {"faces/web/server.py"}  # the local page's own side of a socket, bound to this machine
VERB = "app/verbs/fetch.py"


def imported(path: Path) -> set[str]:
    """Return the dotted names of what a module imports, and of what it imports by name in a call."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_but_one_module_can_speak_to_a_network(path: Path) -> None:
    name = path.relative_to(PACKAGE).as_posix()
    found = {each for each in imported(path) if each.split(".")[0] in OF_A_NETWORK}
    found -= {each for each in found if each in HARMLESS or each.startswith("urllib.parse.")}
    if name == ASKS:
        assert found
    elif name in ANSWERS:
        assert not {each for each in found if each.split(".")[0] in {"urllib", "ssl", "requests", "pydap"}}
    elif name == "readers/network/plain_file.py":
        assert found == {"http.client.HTTPResponse"}  # a type
    else:
        assert not found, f"{name} imports {', '.join(sorted(found))}"


def test_one_verb_alone_comes_to_it() -> None:
    reach = {
        path.relative_to(PACKAGE).as_posix()
        for path in MODULES
        if any(each.startswith("planner.readers.network") for each in imported(path))
    }
    assert {each for each in reach if not each.startswith("readers/network/")} == {VERB}
    callers = {
        path.relative_to(PACKAGE).as_posix()
        for path in MODULES
        if any(each.startswith("planner.app.verbs.fetch") for each in imported(path))
    }
    assert callers == {"app/api.py", "faces/weather_cli.py"}


def test_the_page_calls_no_such_thing() -> None:
    for path in (PACKAGE / "faces" / "web").glob("*.py"):
        called = [
            node.func.attr
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        ]
        assert "fetch" not in called, path.name
