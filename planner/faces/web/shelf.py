"""The folder that the user names: a sub-folder a plan, with its inputs, what was set, and what came of it."""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

ID: Final = re.compile(r"^[0-9a-f]{16}$")
ID_BYTES: Final = 8
ROUTE_ENDINGS: Final = (".gpx", ".csv", ".geojson", ".json")
FORECAST_ENDINGS: Final = (".nc", ".nc4", ".grib", ".grib2", ".grb", ".grb2", ".gb2")
LOG_ENDINGS: Final = (".csv", ".tsv", ".txt")
PASSAGE, BOAT, POLAR, MAPPING = "passage.toml", "boat.toml", "polar.csv", "log-mapping.toml"
MOST_FORECASTS, MOST_LOGS = 9, 9
NAMES: Final = "names"
"""Under which it is noted what the sender calls each file."""

OWNER_ALONE: Final = 0o700
OURS: Final = (".secret", "plans", ".incoming-")  # what stands in the folder, by its beginning

PLAN, HEADINGS, RECONCILE = "plan", "headings", "reconcile"
"""The places where work goes on beside each other."""

OUTPUTS: Final = "out"
"""Folder of a plan's files."""

PAGES: Final = {
    "report": "report-live.html",
    "changes": "changes.html",
    "headings": "headings.html",
    "reconcile": "reconcile.html",
}
"""Those that stand beside the plan's own, by their names in addresses."""


@dataclass(frozen=True)
class Entry:
    """One plan on the shelf.

    Attributes
    ----------
    folder : Path
        Its own; the name is random and says nothing.
    """

    folder: Path

    @property
    def id(self) -> str:
        """Name in addresses."""
        return self.folder.name

    @property
    def inputs(self) -> Path:
        """Folder of the files that it is made from."""
        return self.folder / "inputs"

    def read(self, name: str) -> dict[str, Any]:
        """Return what was noted under a name, nothing where nothing was."""
        try:
            content: dict[str, Any] = json.loads((self.folder / f"{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return content

    def note(self, name: str, content: Mapping[str, Any]) -> None:
        """Note something under a name, whole or not at all."""
        scratch = self.folder / f".{name}-{secrets.token_hex(4)}"
        scratch.write_text(json.dumps(content, allow_nan=False), encoding="utf-8")
        os.replace(scratch, self.folder / f"{name}.json")

    def forget(self, name: str) -> None:
        """Drop what was noted under a name."""
        (self.folder / f"{name}.json").unlink(missing_ok=True)

    def files(self) -> dict[str, Any]:
        """Return the overrides that name the input files, whatever the passage file calls them."""
        names = sorted(path.name for path in self.inputs.iterdir())
        routes = [name for name in names if name.startswith("route.")]
        forecasts = [name for name in names if name.startswith("forecast-")]
        named: dict[str, Any] = {"boat": BOAT}
        if routes:
            named["route"] = routes[0]
        if forecasts:
            named["forecast"] = forecasts
        if POLAR in names:
            named["boat.sailing.polar"] = POLAR
        return named

    def logs(self) -> list[Path]:
        """Return the logs of readings that it was given."""
        return sorted(self.inputs.glob("log-[1-9]*"))

    def keep(self, role: str, sources: list[tuple[str, Path]]) -> None:
        """Take files in under names of our own, instead of those that it had for the same use.

        Parameters
        ----------
        role : {'passage', 'boat', 'polar', 'route', 'forecast', 'log', 'mapping'}
            What they are for.
        sources : list of (str, Path)
            The name each was given, which is noted for messages and of which only a known ending is used, and where
            it lies.
        """
        several = {"route": "route.*", "forecast": "forecast-*", "log": "log-[1-9]*"}
        old = {**several, "passage": PASSAGE, "boat": BOAT, "polar": POLAR, "mapping": MAPPING}[role]
        names = self.read(NAMES)
        for path in self.inputs.glob(old):
            path.unlink()
            names.pop(path.name, None)
        for number, (given_name, source) in enumerate(sources, start=1):
            own = _own_name(role, number, given_name)
            shutil.copyfile(source, self.inputs / own)
            names[own] = given_name
        self.note(NAMES, names)


class Shelf:
    """All plans in the folder.

    Parameters
    ----------
    folder : Path
        Made when it does not exist; what is ours in it can be read by its owner alone, where the system knows owners.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._plans = folder / "plans"
        folder.mkdir(mode=OWNER_ALONE, parents=True, exist_ok=True)
        if all(path.name.startswith(OURS) for path in folder.iterdir()):  # another's folder stays as it is
            folder.chmod(OWNER_ALONE)
        self._plans.mkdir(exist_ok=True)
        self._plans.chmod(OWNER_ALONE)

    def entries(self) -> list[Entry]:
        """Return the plans, the newest first."""
        found = [Entry(path) for path in self._plans.iterdir() if ID.match(path.name) and path.is_dir()]
        return sorted(found, key=lambda entry: (entry.read("card").get("made", 0.0), entry.id), reverse=True)

    def find(self, plan_id: str) -> Entry | None:
        """Return the plan of that name, if there is one."""
        if not ID.match(plan_id):
            return None
        folder = self._plans / plan_id
        return Entry(folder) if folder.is_dir() else None

    def new(self, *, like: Entry | None = None) -> Entry:
        """Return a new plan, with the inputs and what is known of another where one is given."""
        entry = Entry(self._plans / secrets.token_hex(ID_BYTES))
        entry.folder.mkdir(mode=OWNER_ALONE)
        if like is None:
            entry.inputs.mkdir(mode=OWNER_ALONE)
        else:
            shutil.copytree(like.inputs, entry.inputs)
            for name in ("base", "understood", "weather", "card", "orders", "settings", NAMES):
                if known := like.read(name):
                    entry.note(name, known)
        entry.note("card", {**entry.read("card"), "made": time.time(), "after": like.id if like else ""})
        return entry

    def strike(self, entry: Entry) -> None:
        """Remove a plan for good."""
        shutil.rmtree(entry.folder, ignore_errors=True)


def _own_name(role: str, number: int, given_name: str) -> str:
    ending = Path(given_name.replace("\\", "/")).suffix.lower()
    if role == "route":
        return "route" + (ending if ending in ROUTE_ENDINGS else ".gpx")
    if role == "forecast":
        return f"forecast-{number}" + (ending if ending in FORECAST_ENDINGS else ".nc")
    if role == "log":
        return f"log-{number}" + (ending if ending in LOG_ENDINGS else ".csv")
    return {"passage": PASSAGE, "boat": BOAT, "polar": POLAR, "mapping": MAPPING}[role]
