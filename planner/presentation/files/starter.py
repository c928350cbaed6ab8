"""A passage and a boat of nobody's to begin with, as text: what is measured is marked, and what it means said."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal

from pydantic import BaseModel

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Passage
from planner.domain.inputs.power import Chemistry
from planner.domain.results.starter import Starter
from planner.presentation.words.content import Page
from planner.presentation.words.explained import commented_keys

RigName = Literal["sloop", "ketch", "catamaran"]
ROUTE: Final = "name,lat,lon\nOpua,-35.3120,174.1250\noff Cape Brett,-35.1400,174.3600\nnorthward,-33.0000,175.3000\n"
BANK_WH: Final[Mapping[Chemistry, float]] = MappingProxyType(
    {"lifepo4": 3600.0, "agm": 5280.0, "flooded": 5280.0, "gel": 5280.0}
)  # Wh; 300 Ah of lithium, 440 Ah of lead at 12 V
CHARGES_C: Final[Mapping[Chemistry, float]] = MappingProxyType(
    {"lifepo4": 0.3, "agm": 0.2, "flooded": 0.2, "gel": 0.16}
)  # 1/h; the alternator over the bank, under what each takes
CONTROLLER_W: Final = 720.0  # W; over both panels
MIZZEN: Final = (
    "# The mizzen stands amidships and does not swing or reef: a flat shape. Its mast and boom are tubes.",
    'polygons = [{ name = "mizzen", corners_m = [[-5.7, 0, 2.7], [-7.7, 0, 2.7], [-5.7, 0, 9.5]], '
    "transmission = 0.1 }]",
    "tubes = [",
    '    { name = "mizzen mast", from_m = [-5.6, 0, 0], to_m = [-5.6, 0, 10.0], radius_m = 0.06 },',
    '    { name = "mizzen boom", from_m = [-5.6, 0, 2.6], to_m = [-7.8, 0, 2.6], radius_m = 0.05 },',
    "]",
)


@dataclass(frozen=True)
class StarterRig:
    """What a starter's boat has by her rig; metres and degrees, keys as the boat file's."""

    words: str
    length_m: float
    beam_m: float
    i_m: float
    j_m: float
    p_m: float
    e_m: float
    boom_height_m: float
    deck_height_m: float
    arch_x_m: float
    arch_width_m: float
    heel_deg: tuple[float, ...]
    roll_deg: tuple[float, ...]
    speed: float
    more: tuple[str, ...] = ()

    @property
    def speed_kn(self) -> str:
        """The rows of the polar from the second on, as TOML."""
        rows = (
            (0, 3.6, 5.0, 5.9, 5.7), (0, 4.5, 6.0, 6.8, 7.0), (0, 4.7, 6.3, 7.3, 7.8),
            (0, 3.6, 5.4, 7.0, 8.2), (0, 2.4, 3.8, 5.8, 7.3),
        )  # fmt: skip
        return ",\n    ".join(str([round(self.speed * knots, 1) for knots in row]) for row in rows)


RIGS: Final[Mapping[RigName, StarterRig]] = MappingProxyType(
    {
        "sloop": StarterRig(
            "sloop", 11.0, 3.6, 14.0, 4.2, 12.2, 4.4, 1.9, 1.1, -6.0, 2.8, (0, 14, 20), (3, 5, 12), 0.95
        ),
        "ketch": StarterRig(
            "ketch", 12.8, 3.9, 14.5, 4.9, 12.6, 4.5, 1.9, 1.2, -7.0, 2.8, (0, 13, 19), (3, 5, 11), 0.97, MIZZEN
        ),
        "catamaran": StarterRig(
            "catamaran", 12.0, 6.6, 16.0, 4.6, 15.0, 5.6, 3.0, 1.6, -6.6, 4.0, (0, 3, 5), (2, 3, 3), 1.15
        ),
    }
)


def starter_files(
    *, rig: RigName = "sloop", bank: Chemistry = "lifepo4", volts: int = 12, whole: bool = False
) -> dict[str, str]:
    """Return the files of a starter by their names: passage, boat, route, and the schemas that an editor reads.

    Parameters
    ----------
    rig : {'sloop', 'ketch', 'catamaran'}
    bank : {'lifepo4', 'agm', 'flooded', 'gel'}
    volts : {12, 24, 48}
        Of the bank [V].
    whole : bool
        Whether every other key stands below, commented out, with its default and meaning.
    """
    capacity_ah = BANK_WH[bank] / volts
    figures: dict[str, Any] = {
        "rig": RIGS[rig],
        "bank": bank,
        "volts": volts,
        "capacity_ah": f"{capacity_ah:g}",
        "reserve_soc": 0.3 if bank == "lifepo4" else 0.5,
        "alternator_a": f"{CHARGES_C[bank] * capacity_ah:.0f}",
        "strings": '[["port", "starboard"]]' if volts == 48 else '[["port"], ["starboard"]]',
        "controller_a": f"{CONTROLLER_W / volts:.0f}",
    }
    files = {name: _filled(name, figures) for name in ("passage.toml", "boat.toml")}
    if whole:
        models: dict[str, type[BaseModel]] = {"passage.toml": Passage, "boat.toml": Boat}
        files = {name: text + commented_keys(models[name], text) for name, text in files.items()}
    schemas = {f"{name}.schema.json": schema_of(model) for name, model in (("passage", Passage), ("boat", Boat))}
    return {**files, "route.csv": ROUTE, **schemas}


def starter_page(starter: Starter) -> Page:
    """Return what was written, and what to do next."""
    passage = starter.folder / "passage.toml"
    steps = (
        f"Put your own figures into {', '.join(starter.edited)}: what is marked * is measured, or on a nameplate.",
        f"passage-energy check {passage}",
        f"passage-energy plan {passage} --out {starter.folder / 'plan'}",
    )
    return Page(f"A passage to begin with, in {starter.folder}", steps, (), ())


def schema_of(model: type[Passage] | type[Boat]) -> str:
    """Return the JSON Schema of an input file, which editors of TOML read, too."""
    return json.dumps(model.model_json_schema(), indent=1) + "\n"


def _filled(name: str, figures: Mapping[str, Any]) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(  # noqa: S701  # of TOML
        loader=PackageLoader("planner.presentation.files", "assets"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template(f"{name}.j2").render(figures)
