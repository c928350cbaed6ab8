"""Tests mirror the package module by module: those of a layer come to each of its modules that has logic."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[2]
PACKAGE = PROJECT / "planner"
TESTS = PROJECT / "tests"
NOT_MIRRORED = {"browser", "external", "house", "reference"}  # run whole passages, or look at the project itself


ELSEWHERE = {
    "planner.app.written_plans": "faces/test_web_plans.py",
    "planner.faces.web.worker": "faces/test_web_end.py",  # a process of its own
    "planner.presentation.pages.plans_beside": "faces/test_web_plans.py",
    "planner.readers.last_plan": "app/test_replan.py",
    "planner.readers.log.engine": "app/test_replan.py",
    "planner.studies.replan.fix_checks": "app/test_replan_twice.py",
}
"""Modules that the tests of another layer come to, and which."""


def dotted(path: Path) -> str:
    """Return the dotted name of a file of the package."""
    parts = path.relative_to(PROJECT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {dotted(path): path for path in sorted(PACKAGE.rglob("*.py"))}


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def has_logic(path: Path) -> bool:
    """Return whether a module has a function or a method; tables of words and frozen fields alone have none."""
    return any(isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) for node in ast.walk(tree_of(path)))


def imports(path: Path) -> Iterator[tuple[str, str]]:
    """Yield each name that a file imports from the package, as (module, name); name is empty for a whole module."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names if alias.name in MODULES)
        elif isinstance(node, ast.ImportFrom) and node.module in MODULES:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield (inner, "") if inner in MODULES else (node.module, alias.name)


def home_of(module: str, name: str) -> str:
    """Return the module that a name comes from, followed through packages that hand it on."""
    if MODULES[module].name == "__init__.py":
        for source, given in imports(MODULES[module]):
            if given == name:
                return home_of(source, name)
    return module


@cache
def imported_from(folder: Path) -> frozenset[str]:
    """Return the modules that the tests under a folder import by name."""
    return frozenset(home_of(*found) for path in folder.rglob("*.py") for found in imports(path))


def with_logic() -> list[str]:
    """Return the modules below the package's own folders that have logic."""
    return [name for name, path in MODULES.items() if name.count(".") > 1 and has_logic(path)]


def reached_from(folder: Path) -> frozenset[str]:
    """Return the modules of a folder's layer that its tests import by name, and those that these import in turn."""
    layer = f"planner.{folder.name}."
    reached, fresh = set(), {name for name in imported_from(folder) if name.startswith(layer)}
    while fresh:
        reached |= fresh
        fresh = {home_of(*found) for name in fresh for found in imports(MODULES[name])}
        fresh = {name for name in fresh if name.startswith(layer)} - reached
    return frozenset(reached)


@pytest.mark.parametrize("module", with_logic())
def test_the_tests_of_a_layer_come_to_each_of_its_modules(module: str) -> None:
    folder = TESTS / module.split(".")[1]
    if module in ELSEWHERE:
        assert module not in reached_from(folder), f"{module} is reached from its own folder now"
        assert (TESTS / ELSEWHERE[module]).is_file()
        return
    assert module in reached_from(folder), f"no test under tests/{folder.name}/ comes to {module}"


def test_every_folder_of_tests_mirrors_one_of_the_package_and_every_such_folder_has_tests() -> None:
    rooms = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").is_file()}
    folders = {path.name for path in TESTS.iterdir() if any(path.glob("test_*.py"))}
    assert folders - NOT_MIRRORED == rooms
