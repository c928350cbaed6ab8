"""Plans that have been written, read back."""

from __future__ import annotations

from pathlib import Path

from planner.domain.errors import InputError
from planner.domain.file_format import PLAN_FILE
from planner.presentation.pages.look import Links
from planner.presentation.pages.page import html_of
from planner.presentation.pages.plans_beside import page_of
from planner.readers.plan_folder import read_plan_file, read_with_plan, sizes_with_plan

__all__ = ["output_of", "output_sizes", "read_plan_file", "side_by_side"]


def output_of(folder: Path, name: str) -> bytes:
    """Return a file of the set of outputs in a folder, or plan.json itself.

    Raises
    ------
    InputError
        Where there is no plan to read, or it has none of that name.
    """
    if name == PLAN_FILE:
        read_plan_file(folder)
        return (folder / name).read_bytes()
    return read_with_plan(folder, name)[1]


def output_sizes(folder: Path) -> dict[str, int]:
    """Return the files that ``output_of`` gives, and their sizes [byte]; none where there is no plan to read."""
    try:
        return {**sizes_with_plan(folder), PLAN_FILE: (folder / PLAN_FILE).stat().st_size}
    except InputError:
        return {}


def side_by_side(first: tuple[str, Path], second: tuple[str, Path], links: Links = ()) -> str:
    """Return a page of HTML that sets two plans beside each other.

    Parameters
    ----------
    first, second : tuple of (str, Path)
        What each is called, and the folder of its outputs.
    links : sequence of (str, str)
        Address and words of the pages beside it.

    Raises
    ------
    InputError
        When a folder holds no plan, or one of another format.
    """
    (one, one_folder), (other, other_folder) = first, second
    return html_of(page_of((one, read_plan_file(one_folder)), (other, read_plan_file(other_folder))), links)
