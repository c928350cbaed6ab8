"""A file that is there whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8 in a hidden folder beside its place and move it there; missing folders are made."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".partial-", dir=path.parent) as scratch:
        made = Path(scratch) / path.name
        made.write_text(text, encoding="utf-8")
        os.replace(made, path)
