"""Sets of files that change as one: a manifest names the set that it belongs to, and one rename switches it.

::

    DIR/plan.json                  the manifest: figures, "set", and "files" with the SHA-256 of each
    DIR/.sets/plan/<id>/hourly.csv the set that the manifest names
    DIR/hourly.csv                 a copy for people, made after the switch

Whoever wants certainty follows the manifest into the set. A process that is killed at any moment, or a disk that
fills, leaves the older set or the newer one, whole. Only the set that the manifest names is kept: writing sweeps all
else, so whoever finds a set gone reads the manifest again.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from planner.domain.errors import OutputError
from planner.domain.file_format import SETS
from planner.presentation.files.folder_lock import locked
from planner.presentation.files.json_text import as_json
from planner.presentation.files.whole_file import failures_reported, to_disk

ID_BYTES = 8
COPIES = "copies"
Writers = Mapping[str, Callable[[Path], object]]


@dataclass(frozen=True)
class OutputFolder:
    """A folder that no other process writes sets to; ``claimed`` gives it.

    Attributes
    ----------
    path : Path
    """

    path: Path

    def write_set(
        self, manifest: str, writers: Writers, content: Mapping[str, Any], *, may_lack: Sequence[str] = ()
    ) -> tuple[Path, ...]:
        """Write a set of files in place of the earlier one.

        Parameters
        ----------
        manifest : str
            Name of the JSON file that names the set; sets of manifests of different names stand beside each other.
        writers : mapping of str to callable
            Names of the files, and what writes each to a path.
        content : mapping
            What the manifest says besides the set and its files, JSON-ready.
        may_lack : sequence of str
            Files of an earlier set whose copies are removed where this set has none.

        Returns
        -------
        tuple of Path
            The copies for people, the manifest last.

        Raises
        ------
        OutputError
            When the set cannot be written, which leaves the earlier one, or when copies could not follow it.
        """
        family = self.path / SETS / manifest.removesuffix(".json")
        self._sweep(family, manifest)
        try:
            with failures_reported(self.path, lambda: self._standing(manifest)):
                files = _made(family / secrets.token_hex(ID_BYTES), writers)
                self._switch(family, manifest, files, content)
            self._copy(family, files, [name for name in may_lack if name not in writers])
        finally:
            self._sweep(family, manifest)
        return tuple(self.path / name for name in (*writers, manifest))

    def cut_short(self) -> tuple[str, ...]:
        """Return a sentence for each set whose writer was killed before it was finished."""
        families = sorted(path for path in (self.path / SETS).iterdir() if path.is_dir())
        manifests = {path: f"{path.name}.json" for path in families}
        return tuple(
            f"An earlier run into '{self.path}' was cut short. {self._standing(manifest)}"
            for path, manifest in manifests.items()
            if any(path.name != self._named(manifest) for path in path.iterdir())
        )

    def _standing(self, manifest: str) -> str:
        """Return in a sentence what set stands in the folder."""
        try:
            content = self._content(manifest)
        except (OSError, ValueError):
            return f"Whether a set stands there cannot be told: {manifest} cannot be read."
        if "set" not in content:
            return "No set of files stands there yet."
        issued = content.get("forecast_issued")
        forecast = f", on the forecast begun {issued}" if issued else ""
        leaves = f" for the departure of {content['departure']}{forecast}" if "departure" in content else ""
        return f"What stands there, whole, is the {manifest.removesuffix('.json')}{leaves}."

    def _content(self, manifest: str) -> dict[str, Any]:
        """Return what a manifest says; nothing where there is none."""
        path = self.path / manifest
        content = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        if not isinstance(content, dict):
            raise ValueError(f"{manifest} is no table")
        return content

    def _named(self, manifest: str) -> str | None:
        """Return the name of the set that a manifest names, empty of none; None where the manifest cannot be read."""
        try:
            return PurePosixPath(str(self._content(manifest).get("set", ""))).name
        except (OSError, ValueError):
            return None

    def _switch(self, family: Path, manifest: str, files: Sequence[Path], content: Mapping[str, Any]) -> None:
        digests = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files}
        named = PurePosixPath(*files[0].parent.relative_to(self.path).parts)
        draft = family / manifest
        draft.write_text(as_json({"set": str(named), "files": digests, **content}), encoding="utf-8")
        for path in (draft, *files, files[0].parent, family, family.parent):
            to_disk(path)
        os.replace(draft, self.path / manifest)
        to_disk(self.path)

    def _copy(self, family: Path, files: Sequence[Path], obsolete: Sequence[str]) -> None:
        scratch = family / COPIES
        scratch.mkdir()
        refused = []
        for path in files:
            try:
                shutil.copyfile(path, scratch / path.name)
                os.replace(scratch / path.name, self.path / path.name)
            except OSError as error:
                refused.append(f"{path.name} ({error.strerror})")
        for name in obsolete:
            try:
                (self.path / name).unlink(missing_ok=True)
            except OSError as error:
                refused.append(f"{name} ({error.strerror})")
        if refused:
            raise OutputError(
                f"the new files are whole in '{files[0].parent}', but their copies in '{self.path}' are older: "
                f"{', '.join(refused)}. Close what has them open, or free some space, and run this again."
            )

    def _sweep(self, family: Path, manifest: str) -> None:
        """Remove every set, and scratch, but the set that the manifest names; nothing where it cannot be read."""
        kept = self._named(manifest)
        if kept is None or not family.is_dir():
            return
        for path in family.iterdir():
            if path.name == kept:
                continue
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)  # what a reader has open on Windows goes the next time
            else:
                path.unlink()


@contextmanager
def claimed(folder: Path) -> Iterator[OutputFolder]:
    """Hold a folder for the outputs that are to come, so that nobody computes in vain.

    Parameters
    ----------
    folder : Path
        Made when it does not exist; removed again where nothing was written to it.

    Raises
    ------
    InputError
        When another process writes to it, it is a file, or it cannot be written to.
    """
    with locked(folder):
        yield OutputFolder(folder)


def _made(place: Path, writers: Writers) -> tuple[Path, ...]:
    place.mkdir(parents=True)
    for name, write in writers.items():
        write(place / name)
    return tuple(place / name for name in writers)
