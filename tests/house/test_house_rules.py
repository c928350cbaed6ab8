"""The house keeps its own rules: what lies where, how long, and how it is named."""

from __future__ import annotations

import ast
import hashlib
import importlib
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

import pytest

from planner.domain import glossary

PROJECT = Path(__file__).parents[2]
PACKAGE = PROJECT / "planner"
MODULES = sorted(PACKAGE.rglob("*.py"))
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "planner", "data", "scripts", "tests"}
LONGEST = 400
NOT_MIRRORED = {"app", "browser", "external", "house", "reference"}


def committed() -> list[str]:
    listing = subprocess.run(["git", "ls-files"], cwd=PROJECT, capture_output=True, text=True, check=False)
    if listing.returncode:
        pytest.skip("the project does not lie in a git work tree")
    return [name for name in listing.stdout.splitlines() if (PROJECT / name).exists()]


def test_the_top_level_holds_what_the_design_names() -> None:
    names = {name.split("/")[0] for name in committed()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_module_is_too_long(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST + 5  # about 400


def test_tests_mirror_the_package() -> None:
    rooms = {path.name for path in PACKAGE.iterdir() if path.is_dir()}
    for folder in (PROJECT / "tests").iterdir():
        if folder.is_dir() and not folder.name.startswith((".", "__")) and folder.name not in NOT_MIRRORED:
            assert folder.name in rooms, folder.name


UNIT_WORDS = {
    "degree": "_deg", "knot": "_kn", "nautical_mile": "_nm", "m": "_m", "m s-1": "_m_s", "mm h-1": "_mm_h",
    "W": "_w", "W h": "_wh", "W m-2": "_w_m2", "V": "_v", "A": "_a", "A h": "_ah", "degree_Celsius": "_c",
}  # fmt: skip
BARE = {"1", "degrees_north", "degrees_east"}  # fractions, counts and flags; lat and lon
TABLES = {name: table for name, table in vars(glossary).items() if name.isupper() and isinstance(table, Mapping)}


@pytest.mark.parametrize("table", TABLES)
def test_every_quantity_carries_its_unit_in_its_name(table: str) -> None:
    for name, quantity in TABLES[table].items():
        assert quantity.units in BARE or name.endswith(UNIT_WORDS[quantity.units]), name


def public_functions(path: Path) -> list[ast.FunctionDef]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [node for node in tree.body if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]


PHYSICS = [path for path in MODULES if path.parent.name == "physics" or path.parent.parent.name == "physics"]


@pytest.mark.parametrize("path", PHYSICS, ids=lambda path: path.stem)
def test_public_physics_says_units_in_brackets(path: Path) -> None:
    for function in public_functions(path):
        docstring = ast.get_docstring(function) or ""
        assert re.search(r"\[[^\]]+\]", docstring), f"{path.name}: {function.name} names no unit"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_public_function_passes_arguments_through(path: Path) -> None:
    for function in public_functions(path):
        assert function.args.kwarg is None, f"{path.name}: {function.name} takes **{function.args.kwarg}"


def test_no_machine_paths_are_committed() -> None:
    own = Path(__file__).relative_to(PROJECT).as_posix()
    for name in committed():
        path = PROJECT / name
        if (
            name == own
            or path.is_dir()
            or path.suffix not in {".py", ".md", ".toml", ".txt", ".sh", ".j2", ".css", ".js", ""}
        ):
            continue
        found = re.search(r"/(?:work|root|home|tmp)/\w+", path.read_text(encoding="utf-8"))
        assert found is None, f"{name}: {found.group() if found else ''}"


def test_the_demo_data_are_those_that_were_committed() -> None:
    demo = PROJECT / "data" / "demo"
    lines = (demo / "SHA256SUMS").read_text().split("\n")
    listed = dict(reversed(line.split()) for line in lines if line)
    actual = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in demo.iterdir()
        if path.name != "SHA256SUMS"
    }
    assert listed == actual


def helped(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "planner", *arguments, "--help"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


@pytest.fixture(scope="module")
def verbs() -> list[str]:
    found = re.findall(r"^    (\w+)\s{2,}\w", helped(), flags=re.MULTILINE)
    assert found
    return found


def test_every_verb_is_in_the_readme(verbs: list[str]) -> None:
    readme = (PROJECT / "README.md").read_text(encoding="utf-8")
    for verb in verbs:
        assert f"`{verb}`" in readme, verb


def test_every_verb_that_ends_speaks_to_programs_and_can_be_quiet(verbs: list[str]) -> None:
    for verb in set(verbs) - {"serve"}:
        options = set(re.findall(r"--\w+", helped(verb)))
        assert {"--json", "--quiet"} <= options, verb


def test_test_files_are_named_apart() -> None:
    """Without packages among the tests, two files of one name cannot both be imported."""
    names = Counter(path.name for path in (PROJECT / "tests").rglob("*.py") if path.name != "conftest.py")
    assert [name for name, count in names.items() if count > 1] == []


@pytest.mark.parametrize("path", sorted((PROJECT / "scripts").glob("*.py")), ids=lambda path: path.stem)
def test_scripts_import_what_there_is(path: Path) -> None:
    """No type checker reads the scripts: a module that moved would be missed on the day that one is needed."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "planner":
            module = importlib.import_module(str(node.module))
            for name in (alias.name for alias in node.names):
                if not hasattr(module, name):
                    importlib.import_module(f"{node.module}.{name}")
