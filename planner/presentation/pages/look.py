"""The parts that all pages share: their environment, style and scripts."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib.resources import files
from typing import TYPE_CHECKING

from markupsafe import Markup

if TYPE_CHECKING:
    from jinja2 import Environment

ASSETS = files("planner.presentation.pages") / "assets"

Links = Sequence[tuple[str, str]]
"""Address and words of the pages beside this one; none where a page stands alone."""


def environment() -> Environment:
    """Return what fills the templates: it escapes all data and knows no undefined names."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("planner.presentation.pages", "assets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def asset(name: str) -> Markup:
    """Return a style or script of our own, which is not data and is not escaped."""
    return Markup((ASSETS / name).read_text(encoding="utf-8"))  # noqa: S704


def script_source(script: str) -> str:
    """Return what a content security policy names a script in the page by (Content Security Policy 3, section 2.3).

    A page that allows this one alone runs no other, whatever a boat or a waypoint is called.
    """
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
