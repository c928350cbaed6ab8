"""The measuring sheet: one side of A4 with tape measures numbered on a drawing, nameplates, and meters to read."""

from __future__ import annotations

from typing import Final, NamedTuple

from markupsafe import Markup

from planner.domain.inputs.boat import Boat
from planner.domain.inputs.reference import reference
from planner.presentation.drawing.svg import PaperPoint, markup, path, picture, stroke, words
from planner.presentation.pages.look import filled
from planner.presentation.words.cautions import AID
from planner.presentation.words.content import Column, Page, Picture, Table

SIZE: Final = (760.0, 330.0)  # px
HULL: Final = "M 70 250 L 690 244 L 668 282 L 120 286 Z"
RIG: Final[tuple[tuple[PaperPoint, PaperPoint], ...]] = (
    ((300.0, 248.0), (300.0, 14.0)),  # mast
    ((300.0, 14.0), (76.0, 248.0)),  # forestay
    ((300.0, 206.0), (500.0, 206.0)),  # boom
    ((300.0, 20.0), (500.0, 206.0)),  # leech
    ((620.0, 246.0), (620.0, 196.0)),  # arch
    ((586.0, 192.0), (654.0, 192.0)),  # panel on it
)


class Tape(NamedTuple):
    """One measure: its key and where its ends lie on the drawing, side view or plan."""

    key: str
    start: PaperPoint
    end: PaperPoint


TAPES: Final = (
    Tape("length_m", (70.0, 300.0), (690.0, 300.0)),
    Tape("rig.i_m", (286.0, 248.0), (286.0, 14.0)),
    Tape("rig.j_m", (76.0, 258.0), (300.0, 258.0)),
    Tape("rig.p_m", (312.0, 206.0), (312.0, 20.0)),
    Tape("rig.e_m", (300.0, 216.0), (500.0, 216.0)),
    Tape("rig.boom_height_m", (330.0, 248.0), (330.0, 206.0)),
    Tape("rig.deck_height_m", (230.0, 248.0), (230.0, 284.0)),
    Tape("rig.arch.x_m", (300.0, 270.0), (620.0, 270.0)),
    Tape("rig.arch.height_m", (676.0, 246.0), (676.0, 196.0)),
    Tape("panel.NAME.length_m", (586.0, 180.0), (654.0, 180.0)),
)
ACROSS: Final = ("beam_m", "rig.arch.width_m", "panel.NAME.width_m", "panel.NAME.centre_m")
"""Measured athwart, which the drawing does not show."""
READ: Final = (
    *("panel.NAME.max_power_w", "panel.NAME.max_power_v", "panel.NAME.max_power_a", "panel.NAME.open_circuit_v"),
    *("panel.NAME.short_circuit_a", "panel.NAME.cells", "panel.NAME.substrings", "controller.NAME.max_output_a"),
    *("controller.NAME.max_input_v", "controller.NAME.wire_length_m", "controller.NAME.wire_section_mm2"),
    *("bank.chemistry", "bank.nominal_v", "bank.capacity_ah", "engine.alternator_a", "engine.tank_l"),
)
"""On nameplates and data sheets."""
METERED: Final = (
    ("load.NAME.watts", "Switch on one thing at a time; volts times the monitor's amps, less what was drawn before"),
    ("load.NAME.duty", "Minutes of an hour that the fridge's compressor runs, over 60"),
    ("bank.noted.volts", "On loads alone, an hour after charging, near half charge; note charge and amps beside it"),
    ("engine.charging_l_per_h", "Sound the tank before and after some hours at charging speed"),
    ("sailing.motoring_speed_kn", "Through the water at the speed that you would motor at, in a calm"),
)


def measuring_sheet() -> str:
    """Return the sheet as one page of HTML that needs no network."""
    known = {entry.key: entry for entry in reference(Boat)}
    numbered = (Column("", "left"), Column("Key in boat.toml", "left"), Column("What", "left"), Column("Yours"))
    plain = numbered[1:]
    tapes = [*((str(n), tape.key) for n, tape in enumerate(TAPES, 1)), *(("", key) for key in ACROSS)]

    def row(mark: str, key: str, what: str = "") -> tuple[str, str, str, str]:
        entry = known[key]
        return mark, key, what or entry.meaning.split(". ")[0].rstrip("."), entry.unit

    page = Page(
        "Measuring sheet",
        ("Metres from the mast foot on deck: forward, to port and up are above 0, aft and starboard below.",),
        (Picture("Tape measures", "", (), (_drawing(),)),),
        (
            Table("By tape", numbered, tuple(row(*each) for each in tapes)),
            Table("From nameplates and data sheets", plain, tuple(row("", key)[1:] for key in READ)),
            Table("By the boat's meters", plain, tuple(row("", key, what)[1:] for key, what in METERED)),
        ),
    )
    content = {**vars(page), "first_alone": True, "caution": AID, "answer_heading": "How to measure"}
    return filled("studies", content, links=(), scripts=["tables"], styles=["studies", "measuring"])


def _drawing() -> Markup:
    """Return a boat in side view with every tape measure and its number."""
    drawn = picture(
        *SIZE, label="A boat in side view with the numbered tape measures of the table", css="chart wide sheet"
    )
    path(drawn, "barb", HULL)
    for start, end in RIG:
        stroke(drawn, "barb", start, end)
    for number, tape in enumerate(TAPES, 1):
        stroke(drawn, "edge", tape.start, tape.end)
        middle = (tape.start[0] + tape.end[0]) / 2.0, (tape.start[1] + tape.end[1]) / 2.0
        words(drawn, "tape", (middle[0] + 4.0, middle[1] - 4.0), str(number))
    return markup(drawn)
