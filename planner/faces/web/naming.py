"""Files by the names that the sender gave them, in what is said of them; never in a path."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from planner.faces.web.shelf import NAMES, Entry

LONGEST: Final = 80  # letters of a name that are shown


def shown_name(given_name: str) -> str:
    """Return a given name as it is shown: its last part, without signs that cannot be seen, cut where it is long."""
    last = re.split(r"[/\\]", given_name)[-1]
    seen = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in last)
    return seen if len(seen) <= LONGEST else f"{seen[: LONGEST - 1]}\N{HORIZONTAL ELLIPSIS}"


def by_given_names(entry: Entry) -> Callable[[str], str]:
    """Return what puts the given names into words in which a plan's files have those that they are kept under."""
    given = {kept: shown_name(name) for kept, name in entry.read(NAMES).items()}
    if not given:
        return str
    homes = "|".join(re.escape(f"{folder}/") for folder in {str(entry.inputs), str(entry.inputs.resolve())})
    kept = "|".join(re.escape(name) for name in given)
    pattern = re.compile(rf"(?:{homes})?(?<![\w.-])({kept})(?![\w-]|\.\w)")
    return lambda words: pattern.sub(lambda match: given[match[1]], words)
