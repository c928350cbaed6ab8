"""The extracts of open data are those that were cut, and what is skipped without the whole files is counted."""

from __future__ import annotations

import hashlib
from pathlib import Path

MOST_BYTES = 3_000_000


def listed(sums: Path) -> dict[str, str]:
    rows = (line.split("  ") for line in sums.read_text(encoding="utf-8").splitlines())
    return {name: digest for digest, name in rows}


def digests(folder: Path, names: object) -> dict[str, str]:
    return {name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in names}


def test_the_extracts_are_those_that_were_cut(open_data: Path) -> None:
    sums = listed(open_data / "SHA256SUMS")
    held = {path.relative_to(open_data).as_posix() for path in open_data.rglob("*") if path.is_file()}
    about = {name for name in held if name.startswith("licences/")} | {"README.md", "SHA256SUMS", "whole-SHA256SUMS"}
    assert held - about == set(sums)
    assert digests(open_data, sums) == sums
    assert sum((open_data / name).stat().st_size for name in held) < MOST_BYTES


def test_the_whole_files_are_those_that_were_cut(open_data: Path, whole_data: Path) -> None:
    sums = listed(open_data / "whole-SHA256SUMS")
    assert digests(whole_data, sums) == sums
