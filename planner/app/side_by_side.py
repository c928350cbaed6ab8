"""Two plans that have been written, side by side."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from planner.domain.errors import Fault, InputError

MANIFEST = "plan.json"
Links = tuple[tuple[str, str], ...]


def side_by_side(first: tuple[str, Path], second: tuple[str, Path], links: Links = ()) -> str:
    """Return a page of HTML that sets two plans beside each other.

    Parameters
    ----------
    first, second : tuple of (str, Path)
        What each is called, and the folder of its outputs.
    links : tuple of (str, str)
        Address and words of the pages beside it.

    Raises
    ------
    InputError
        When a folder holds no whole set of outputs.
    """
    from planner.presentation.plans_beside import page_of
    from planner.presentation.studies_page import html_of

    (one, one_folder), (other, other_folder) = first, second
    return html_of(page_of((one, _read(one_folder)), (other, _read(other_folder))), links)


def _read(folder: Path) -> dict[str, Any]:
    try:
        content: dict[str, Any] = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        problem = f"no plan can be read there ({error})."
        raise InputError([Fault(str(folder / MANIFEST), "", problem, "Plan it again.")]) from error
    return content
