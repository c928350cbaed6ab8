"""Two plans that have been written, side by side."""

from __future__ import annotations

from pathlib import Path

from planner.readers.plan_folder import read_plan_file

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
        When a folder holds no plan, or one of another format.
    """
    from planner.presentation.pages.page import html_of
    from planner.presentation.pages.plans_beside import page_of

    (one, one_folder), (other, other_folder) = first, second
    return html_of(page_of((one, read_plan_file(one_folder)), (other, read_plan_file(other_folder))), links)
