"""The door for files of text: what is too large, too deep or no table is refused with a sentence and a place."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from planner.domain.errors import InputError
from planner.readers.text_file import csv_rows, parsed, read_bytes, read_xml

DEEP, LONG = 5000, 5000


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (tomllib.loads, "a = " + "[" * DEEP, "f.toml: this is no TOML: it is nested too deeply. Fetch it."),
        (json.loads, '{"a":' * 100 * DEEP, "f.toml: this is no TOML: it is nested too deeply. Fetch it."),
        (tomllib.loads, "a = " + "9" * LONG, "f.toml: this is no TOML: Exceeds the limit"),
        (json.loads, '{"a": 1\n "b": 2}', "f.toml: this is no TOML: Expecting ',' delimiter: line 2 column 2"),
    ],
)
def test_what_a_parser_does_not_take_is_refused(parse: object, text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        parsed(parse, text, "f.toml", "TOML", "Fetch it.")  # type: ignore[arg-type]
    assert str(caught.value).startswith(words)


def test_a_cell_that_swallows_the_rest_is_refused_with_its_line() -> None:
    with pytest.raises(InputError, match=r"f.csv: line 2: the cells cannot be told apart: field larger than"):
        list(csv_rows('a,b\n1,"' + "x" * 140_000, "f.csv"))


def test_a_file_that_is_too_large_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "f.csv"
    with path.open("wb") as file:
        file.truncate(5 * 1024**2)
    with pytest.raises(InputError, match=r"f.csv: it holds 5 MB; 4 MB is the most. Is this the right file\?"):
        read_bytes(path)
    with pytest.raises(InputError, match=r"gone.csv: it cannot be read: No such file or directory."):
        read_bytes(tmp_path / "gone.csv")


def test_an_encoding_that_is_none_is_taken_for_utf_8(tmp_path: Path) -> None:
    path = tmp_path / "f.gpx"
    path.write_bytes(b'<?xml version="1.0" encoding="idna"?><gpx>\xc3\xa9..</gpx>')
    assert read_xml(path).endswith("<gpx>\u00e9..</gpx>")
