#!/usr/bin/env python3
"""Put known faults into a copy of the project, one at a time, and report which tests notice each.

Usage: ``scripts/mutants [--list] [--sample N --seed WORD] [NAME ...]``, or this file with a Python that has the
``test`` extra. Names choose faults of the table, ``scripts/mutants.toml``; ``--sample`` takes so many of those that
are not slow, always the same for a word, as continuous integration does with each commit. An entry of the table has

    name     short and unique
    module   dotted name of the module to edit
    old      text that occurs exactly once in it
    new      what replaces it
    notices  ``file.py::test``, or a test file alone; files by their names, and the first failure ends a run.
             ``lint-imports`` stands for the layer contracts.
    slow     true where they take over five seconds of processor; may be left out

The working tree is never edited: faults go into temporary copies. All chosen tests must first pass on an unedited
copy, which also fills its cache of compiled kernels; it begins without one, but for a sample, which follows a whole
test run. For each fault that copy is copied again, the edit made, and the caches of every module that imports the
edited one, directly or through others, removed: numba does not notice that an imported kernel or constant has
changed. A fault counts as noticed when a test fails, not when one cannot be collected. The exit status is 1 when a
fault is not noticed, breaks the collection, or no longer applies.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]
TABLE = Path(__file__).with_suffix(".toml")
CONTRACTS = "lint-imports"
COPIED = ("planner", "tests", "data", "scripts", "pyproject.toml", "README.md", "DEVELOPERS.md")
PASSED, FAILED = 0, 1  # exit statuses of pytest and lint-imports; others mean that nothing was tested


@dataclass(frozen=True)
class Mutant:
    """A fault put in on purpose, and the tests that should notice it."""

    name: str
    module: str
    old: str
    new: str
    notices: tuple[str, ...]
    slow: bool = False

    def path(self, root: Path) -> Path:
        """Return the file of the module, or of the package, below a root."""
        base = root.joinpath(*self.module.split("."))
        return base / "__init__.py" if base.is_dir() else base.with_suffix(".py")

    def apply(self, root: Path) -> None:
        """Edit the module below a root.

        Raises
        ------
        ValueError
            When the module is gone or the old text does not occur in it exactly once.
        """
        path = self.path(root)
        if not path.is_file():
            raise ValueError(f"there is no module {self.module}")
        text = path.read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise ValueError(f"{self.module} has the text {text.count(self.old)} times, not once: {self.old!r}")
        path.write_text(text.replace(self.old, self.new), encoding="utf-8")


def read_table(path: Path = TABLE) -> tuple[Mutant, ...]:
    """Return the faults of the table."""
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["mutant"]
    return tuple(Mutant(**{**row, "notices": tuple(row["notices"])}) for row in rows)


def locate(notice: str, root: Path) -> str:
    """Return a test file, or a test in it, by its path below a root; files are found by their names alone.

    Raises
    ------
    ValueError
        When no such file exists.
    """
    name, *inside = notice.split("::")
    found = sorted((root / "tests").rglob(name))
    if len(found) != 1:
        raise ValueError(f"there is no test file {name}")
    return "::".join([found[0].relative_to(root).as_posix(), *inside])


def run_tests(notices: Sequence[str], root: Path) -> tuple[int, str]:
    """Run tests below a root until the first failure; return the exit status and the first test that failed."""
    tests = [locate(notice, root) for notice in notices if notice != CONTRACTS]
    commands = [[sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]] if tests else []
    if CONTRACTS in notices:
        commands.append([str(Path(sysconfig.get_path("scripts")) / CONTRACTS), "--no-cache"])
    for command in commands:
        done = subprocess.run(
            command, cwd=root, env={**os.environ, "PYTHONPATH": "."}, capture_output=True, text=True, check=False
        )
        if done.returncode != PASSED:
            failed = re.search(r"^(?:FAILED|ERROR) (.+?)(?: - |$)", done.stdout, flags=re.MULTILINE)
            return done.returncode, failed.group(1) if failed else Path(command[0]).name
    return PASSED, ""


def modules(root: Path) -> dict[str, Path]:
    """Return the files of the package below a root by dotted name."""
    found = {}
    for path in (root / "planner").rglob("*.py"):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def imported_by(path: Path) -> Iterator[str]:
    """Yield the dotted names that a file imports anywhere, those of imported names among them."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def forget_kernels(root: Path, changed: str) -> None:
    """Remove the compiled kernels of a module and of all that import it, directly or through others."""
    files = modules(root)
    imports = {name: set(imported_by(path)) for name, path in files.items()}
    stale, fresh = set(), {changed}
    while fresh:
        stale |= fresh
        fresh = {name for name, others in imports.items() if others & stale} - stale
    for name in stale:
        path = files[name]
        for cache in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
            cache.unlink()


def try_out(mutant: Mutant, base: Path, scratch: Path) -> tuple[bool, str]:
    """Return whether a fault is noticed, and by which test or why not; ``base`` is an unedited copy."""
    root = scratch / "mutant"
    shutil.copytree(base, root)
    try:
        mutant.apply(root)
        forget_kernels(root, mutant.module)
        status, where = run_tests(mutant.notices, root)
    except ValueError as error:
        return False, f"NO LONGER APPLIES: {error}"
    finally:
        shutil.rmtree(root)
    if status == PASSED:
        return False, f"NOT noticed by {', '.join(mutant.notices)}"
    if status != FAILED:
        return False, f"BREAKS the run (status {status}) at {where}"
    return True, f"noticed by {where}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Try the chosen faults and print a line each."""
    parser = argparse.ArgumentParser(description="Put known faults into a copy and see which tests notice them.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="faults to try; all unless given")
    parser.add_argument("--list", action="store_true", help="print the table and stop")
    parser.add_argument("--sample", type=int, metavar="N", help="so many of those that are not slow")
    parser.add_argument("--seed", default="", metavar="WORD", help="for the sample")
    options = parser.parse_args(arguments)
    table = read_table()
    unknown = set(options.names) - {mutant.name for mutant in table}
    if unknown:
        parser.error(f"no such fault: {', '.join(sorted(unknown))}")
    chosen = [mutant for mutant in table if not options.names or mutant.name in options.names]
    if options.sample is not None:
        quick = [mutant for mutant in chosen if not mutant.slow]
        chosen = random.Random(options.seed).sample(quick, options.sample)  # noqa: S311
    if options.list:
        for mutant in chosen:
            print(f"{mutant.name:56} {mutant.module:40} {', '.join(mutant.notices)}")
        return 0
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        scratch = Path(folder)
        base = scratch / "base"
        base.mkdir()
        left_out = shutil.ignore_patterns() if options.sample else shutil.ignore_patterns("__pycache__")
        for name in COPIED:
            source = PROJECT / name
            if source.is_dir():
                shutil.copytree(source, base / name, ignore=left_out)
            else:
                shutil.copy2(source, base / name)
        status, where = run_tests(sorted({notice for mutant in chosen for notice in mutant.notices}), base)
        if status != PASSED:
            print(f"Without any fault {where} fails (status {status}).")
            return 1
        missed = 0
        for mutant in chosen:
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            noticed, words = try_out(mutant, base, scratch)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            missed += not noticed
            took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            print(f"{mutant.name:56} {took:6.1f} s  {words}", flush=True)
    print(f"{len(chosen) - missed} of {len(chosen)} faults noticed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
