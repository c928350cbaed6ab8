"""Forms with files: parts come out as they went in, however the pieces fall."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from web_case import BOUNDARY, Part, multipart

from planner.faces.web import multipart as module
from planner.faces.web.guard import Refusal
from planner.faces.web.multipart import Form, read_multipart

KIND = f"multipart/form-data; boundary={BOUNDARY}"
tricky = st.lists(
    st.sampled_from([b"\r\n", b"--", b"\r\n--a-bound", BOUNDARY.encode(), b"\r", b"x" * 50, b"\0"])
).map(b"".join)


class InPieces(io.BytesIO):
    """Gives at most so many bytes at a time, as a slow line does."""

    most = 7

    def read(self, size: int | None = -1) -> bytes:
        return super().read(self.most if size is None or size < 0 else min(size, self.most))


def read(body: bytes, folder: Path, stream: type[io.BytesIO] = io.BytesIO) -> Form:
    return read_multipart(
        stream(body), content_type=KIND, length=len(body), folder=folder, admit=lambda _name, _value: None
    )


@settings(max_examples=80, deadline=None)
@given(st.lists(tricky.filter(lambda content: b"\r\n--" + BOUNDARY.encode() not in b"\r\n" + content), max_size=4))
def test_files_come_out_as_they_went_in(contents: list[bytes]) -> None:
    parts: list[Part] = [("secret", b"s"), *(("forecast", content, "a.nc") for content in contents)]
    with tempfile.TemporaryDirectory() as folder:
        for stream in (io.BytesIO, InPieces):
            form = read(multipart(parts), Path(folder), stream)
            assert [upload.path.read_bytes() for upload in form.files.get("forecast", [])] == contents
            assert form.fields == {"secret": "s"}


def test_a_field_that_was_left_empty_is_no_file(tmp_path: Path) -> None:
    assert read(multipart([("secret", b"s"), ("boat", b"", "")]), tmp_path).files == {}


def test_too_many_parts_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="more than 64 parts"):
        read(multipart([("field", b"")] * (module.MOST_PARTS + 1)), tmp_path)


def test_a_field_without_end_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="too long"):
        read(multipart([("field", b"x" * (module.MOST_TEXT + 1))]), tmp_path)


def test_a_head_without_end_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="too long a head"):
        read(f"--{BOUNDARY}\r\n".encode() + b"x" * (2 * module.PIECE), tmp_path)


@pytest.mark.parametrize("kind", ["multipart/form-data", "text/plain", f"multipart/form-data; boundary={'x' * 71}"])
def test_a_form_without_a_boundary_is_refused(tmp_path: Path, kind: str) -> None:
    with pytest.raises(Refusal, match="no boundary"):
        read_multipart(io.BytesIO(), content_type=kind, length=0, folder=tmp_path, admit=lambda _n, _v: None)


def test_the_first_field_decides_before_a_file_is_kept(tmp_path: Path) -> None:
    def refuse(name: str, value: str) -> None:
        raise Refusal(module.HTTPStatus.FORBIDDEN, f"{name}={value}")

    body = multipart([("boat", b"x", "boat.toml")])
    with pytest.raises(Refusal, match=r"^=$"):
        read_multipart(io.BytesIO(body), content_type=KIND, length=len(body), folder=tmp_path, admit=refuse)
    assert not list(tmp_path.iterdir())
