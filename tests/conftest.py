"""Shared by every test: the register of outside sources, and where open data lies."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from types import ModuleType

import pytest

# One thread for linear algebra: its matrices here are small, and threads that wait for one another on busy cores cost
# six times the processor (measured on the clock's and the bank's fits). Set before anything imports numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pyproj  # noqa: F401  # before GRIB's library, whose own PROJ hides the database of this one

sys.path.insert(0, str(Path(__file__).parent / "house"))
from stated_skips import Skips

from planner.readers.forecast.guard import guard_with

PROJECT = Path(__file__).parents[1]
EXTRACTS = PROJECT / "tests" / "external" / "data"
WHOLE_FILES = PROJECT.parent / "shared" / "data"
KINDS = {"standard", "handbook", "paper", "dataset", "library", "common practice"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--list-sources", action="store_true", help="print the outside sources of the checks and stop")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        for marker in item.iter_markers("external"):
            kind, source = marker.kwargs.get("kind"), marker.kwargs.get("source")
            if kind not in KINDS or not set(marker.kwargs) <= {"source", "kind", "recalled"} or marker.args:
                raise pytest.UsageError(f"{item.nodeid}: external needs source= and kind= of {sorted(KINDS)}")
            if bool(source) == (kind == "common practice"):
                raise pytest.UsageError(f"{item.nodeid}: a source is named unless the kind is 'common practice'")


def pytest_collection_finish(session: pytest.Session) -> None:
    if not session.config.getoption("--list-sources"):
        return
    rows = {
        (
            marker.kwargs["kind"],
            marker.kwargs.get("source", ""),
            marker.kwargs.get("recalled", False),
            item.nodeid.split("[")[0],
        )
        for item in session.items
        for marker in item.iter_markers("external")
    }
    for kind, source, recalled, check in sorted(rows):
        print(f"{kind:16} {source}{' (recalled)' if recalled else ''}\n{'':16} {check}")
    session.items.clear()


def pytest_configure(config: pytest.Config) -> None:
    guard_with(lambda path: nullcontext())  # readers are tried in this process; test_guard.py has one of their own
    if not hasattr(config, "workerinput"):  # with workers, reports come together in the process that started them
        config.pluginmanager.register(Skips(), "stated skips")


@pytest.fixture(scope="session")
def open_data() -> Path:
    """Extracts of open data, on every machine."""
    return EXTRACTS


@pytest.fixture(scope="session")
def whole_data() -> Path:
    """The whole files that extracts were cut from; a check that needs them is skipped where they are not laid out."""
    if not WHOLE_FILES.is_dir():
        pytest.skip("the whole files of open data are not beside the project")
    return WHOLE_FILES


@pytest.fixture(scope="session")
def script() -> Callable[[str], ModuleType]:
    """What loads a script by its name, so that a check scores with the very code that prints the figures."""

    def load(name: str) -> ModuleType:
        spec = importlib.util.spec_from_file_location(name, PROJECT / "scripts" / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module

    return load


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A copy of the demo passage's small files, free to be broken; the forecast is named where it lies."""
    source = PROJECT / "data" / "demo"
    for name in ("passage.toml", "boat.toml", "route.gpx"):
        text = (source / name).read_text(encoding="utf-8")
        if name == "passage.toml":
            text = text.replace('"forecast.nc"', f'"{(source / "forecast.nc").as_posix()}"')
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path / "passage.toml"
