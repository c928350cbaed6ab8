"""The parts that all pages share: their environment, style and scripts."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from importlib.resources import files

from markupsafe import Markup

ASSETS = files("planner.presentation.pages") / "assets"

Links = Sequence[tuple[str, str]]
"""Address and words of the pages beside this one; none where a page stands alone."""


def asset(name: str) -> Markup:
    """Return a style or script of our own, which is not data and is not escaped."""
    return Markup((ASSETS / name).read_text(encoding="utf-8"))  # noqa: S704


def filled(
    template: str, content: Mapping[str, object], *, links: Links, scripts: Sequence[str], styles: Sequence[str]
) -> str:
    """Return a page of HTML that needs no network; all data in it is escaped.

    Parameters
    ----------
    template : str
        Name of its layout.
    content : mapping of str to object
        What the layout shows, its ``title`` and the sentences of its ``answer`` first; a name that is missing is a
        fault.
    links : sequence of (str, str)
        Pages beside it, where it does not stand alone.
    scripts, styles : sequence of str
        Our own, by their names; red light and the report's style are in every page.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("planner.presentation.pages", "assets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    script = Markup("").join(asset(f"{name}.js") for name in ("red_light", *scripts))
    style = Markup("").join(asset(f"{name}.css") for name in ("report", *styles))
    page = {"page_a_day": False, "first_alone": False, "answer_heading": "The answer", "links": links, **content}
    return environment.get_template(f"{template}.html.j2").render(
        page, style=style, script=script, script_source=script_source(script)
    )


def script_source(script: str) -> str:
    """Return what a content security policy names a script in the page by (Content Security Policy 3, section 2.3).

    A page that allows this one alone runs no other, whatever a boat or a waypoint is called.
    """
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"
