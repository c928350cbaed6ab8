"""What a key of the input, an output, or the method is: read from the models, the glossary and the method's page."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from planner.domain import glossary
from planner.domain.errors import Fault, InputError, suggest
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.reference import Entry, reference
from planner.domain.results.explained import Explained
from planner.presentation.files.starter import schema_of
from planner.presentation.words.plan_json import PLAN_JSON

BOAT: Final = "boat."
TOPICS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "passage.toml": "every key of the passage file",
        "boat.toml": "every key of the boat file",
        "passage.schema.json": "the passage file's JSON Schema, which editors of TOML read, too",
        "boat.schema.json": "the boat file's",
        "plan.nc": "every quantity of the data file",
        "plan.json": "every field of the plan for programs",
        "outputs": "what is written, and how programs and Python read it",
        "weather": "forecast files, orders and fetching; planning by a bulletin alone",
        "card": "how the crew reads the card, and the alarm in volts",
        "readings": "logs of the displays against the model, and a boat file by them",
        "method": "how the plan is made, stage by stage, and how good each was measured to be",
    }
)
SCHEMAS: Final[Mapping[str, type[Passage] | type[Boat]]] = MappingProxyType(
    {"passage.schema.json": Passage, "boat.schema.json": Boat}
)
TEXTS: Final = files("planner") / "reference"
LONGEST_EXAMPLE: Final = 60  # characters
OVER_STEP: Final = {"point": "at the start of the step", "mean": "the step's mean"}


def explain(asked: str = "") -> Explained:
    """Say what a key, an output file or the method is.

    Parameters
    ----------
    asked : str
        One of ``TOPICS``; a dotted key, whole or its end; empty for what there is to ask.

    Raises
    ------
    InputError
        When there is nothing of that name.
    """
    if not asked:
        keys = Entry("KEY", "what a key means, its unit, default and range: boat.bank.capacity_ah, or capacity_ah")
        return Explained("", (*(Entry(topic, says) for topic, says in TOPICS.items()), keys))
    if asked in SCHEMAS:
        return Explained(asked, text=schema_of(SCHEMAS[asked]))
    if asked in TOPICS and (told := TEXTS / f"{asked}.md").is_file():
        return Explained(asked, text=told.read_text(encoding="utf-8"))
    of_topic: Mapping[str, Callable[[], tuple[Entry, ...]]] = {
        "passage.toml": lambda: tuple(each for each in input_keys() if not each.key.startswith(BOAT)),
        "boat.toml": lambda: tuple(each for each in input_keys() if each.key.startswith(BOAT)),
        "plan.nc": quantities,
        "plan.json": lambda: tuple(Entry(field, says) for field, says in PLAN_JSON.items()),
    }
    entries = of_topic[asked]() if asked in of_topic else _keyed(asked)
    return Explained(asked, entries)


def input_keys() -> tuple[Entry, ...]:
    """Return every key of passage and boat, as ``--set`` takes it, with examples of the demo where it has one."""
    folder = files("planner") / "demo"
    shown = {
        before: tomllib.loads((folder / name).read_text(encoding="utf-8"))
        for before, name in (("", "passage.toml"), (BOAT, "boat.toml"))
    }
    entries = (*reference(Passage), *reference(Boat, BOAT))
    return tuple(
        replace(each, example=_in_demo(shown[BOAT if each.key.startswith(BOAT) else ""], each) or each.example)
        for each in entries
    )


def _in_demo(table: Any, entry: Entry) -> str:
    """Return what the demo writes for a key; empty where it leaves it out, or has a table there."""
    for part in entry.key.removeprefix(BOAT).split("."):
        if part == "NAME" and isinstance(table, list):
            table = table[0]
        elif isinstance(table, dict) and part in table:
            table = table[part]
        else:
            return ""
    shown = (
        table.isoformat() if isinstance(table, datetime) else f'"{table}"' if isinstance(table, str) else str(table)
    )
    return "" if isinstance(table, dict) or len(shown) > LONGEST_EXAMPLE else shown.replace("'", '"')


def quantities() -> tuple[Entry, ...]:
    """Return every quantity of plan.nc with its unit and dims."""
    tables = (glossary.TRACK, glossary.TRACK_OPTIONAL, glossary.HARVEST, glossary.DEMAND, glossary.LEDGER)
    merged = {name: quantity for table in tables for name, quantity in table.items()}
    return tuple(
        Entry(
            name,
            f"{quantity.long_name}; over {', '.join(quantity.dims)}, {OVER_STEP[quantity.over_step]}.",
            quantity.units,
        )
        for name, quantity in merged.items()
    )


def _keyed(asked: str) -> tuple[Entry, ...]:
    """Return the entries of the keys or quantities that end so, and what lies under them."""
    known = (*input_keys(), *quantities())
    found = tuple(each for each in known if re.search(rf"(^|\.){_pattern(each.key, asked)}(\.|$)", each.key))
    if found:
        return found
    near = suggest(asked.rsplit(".", 1)[-1], {each.key.rsplit(".", 1)[-1] for each in known})
    remedy = near if near.startswith("Did") else f"Topics: {', '.join(TOPICS)}."
    raise InputError([Fault("explain", "", f"there is no key and no topic '{asked}'.", remedy)])


def _pattern(key: str, asked: str) -> str:
    """Return what is looked for in a key: names of one's own panels and loads stand where it has NAME."""
    parts = asked.split(".")
    own = key.split(".")
    if len(parts) == len(own):
        parts = ["NAME" if mine == "NAME" else part for part, mine in zip(parts, own, strict=True)]
    return r"\.".join(map(re.escape, parts))
