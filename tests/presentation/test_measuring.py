"""The measuring sheet asks for keys that there are, and every numbered tape is on the drawing."""

from __future__ import annotations

import re

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.reference import reference
from planner.presentation.pages.measuring import ACROSS, METERED, READ, TAPES, measuring_sheet


def test_every_key_of_the_sheet_is_one_of_the_boat_and_every_needed_measure_is_on_it() -> None:
    asked = {*(tape.key for tape in TAPES), *ACROSS, *READ, *(key for key, _ in METERED)}
    known = {entry.key: entry for entry in reference(Boat)}
    assert asked <= set(known)
    of_parts = ("rig.", "panel.NAME.", "bank.", "engine.", "length_m", "beam_m")
    elsewhere = (
        "rig.sprayhood",
        "rig.bimini",
        "rig.polygons",
        "rig.tubes",
        "rig.radomes",
        "bank.noted",
        "engine.output",
    )
    needed = {
        key
        for key, entry in known.items()
        if entry.default == "needed" and entry.unit and key.startswith(of_parts) and not key.startswith(elsewhere)
    }
    assert needed - asked == {"bank.reserve_soc", "engine.motoring_l_per_h"}  # a wish; as charging_l_per_h


def test_the_drawing_bears_the_numbers_of_the_table() -> None:
    drawing = re.search(r"<svg[^>]*sheet.*?</svg>", measuring_sheet(), re.DOTALL)
    assert drawing is not None
    assert re.findall(r">(\d+)</text>", drawing[0]) == [str(n) for n in range(1, len(TAPES) + 1)]
