"""Words on a drawing: each where there is room, none over another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET

from planner.presentation.drawing.svg import PaperPoint, add

LETTER_PX = 7.0  # generous breadth of a letter at 13 px
LINE_PX = 15.0
AWAY_PX = 16.0  # from the point to the word, clear of the cloud ribbon at its broadest
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"
Edges = tuple[float, float, float, float]
"""left, top, right, bottom [px]."""


def breadth(words: str) -> float:
    """Return the room that words take [px], a little too much rather than too little."""
    return LETTER_PX * len(words)


def shortened(words: str, room_px: float) -> str:
    """Return words, cut where they need more room."""
    letters = int(room_px // LETTER_PX)
    return words if len(words) <= letters else words[: letters - 1] + ELLIPSIS


def about(at: PaperPoint, across: float, down: float) -> Edges:
    """Return the edges of what stands about a point, so broad and so tall."""
    return at[0] - across / 2, at[1] - down / 2, at[0] + across / 2, at[1] + down / 2


def clear(edges: Edges, others: Iterable[Edges]) -> bool:
    """Return whether nothing of the others lies within the edges."""
    left, top, right, bottom = edges
    return not any(left < other[2] and right > other[0] and top < other[3] and bottom > other[1] for other in others)


@dataclass
class Lettering:
    """Places words one after another, so those that matter most come first.

    Attributes
    ----------
    room : tuple
        Where words may stand: left, top, right, bottom [px].
    taken : list of tuple
        Edges of what stands there already.
    """

    room: Edges
    taken: list[Edges] = field(default_factory=list)

    def write(self, group: ET.Element, css: str, at: PaperPoint, words: str) -> None:
        """Write words beside a point, right or left, level or lower or higher; leave them out where none is free."""
        left, top, right, bottom = self.room
        for side in (1.0, -1.0):
            for lower in (0.0, LINE_PX, -LINE_PX):
                near, middle = at[0] + side * AWAY_PX, at[1] + lower
                edges = about((near + side * breadth(words) / 2, middle), breadth(words), LINE_PX)
                inside = edges[0] >= left and edges[1] >= top and edges[2] <= right and edges[3] <= bottom
                if inside and clear(edges, self.taken):
                    self.taken.append(edges)
                    anchor = "start" if side > 0 else "end"
                    add(group, "text", {"class": css, "text-anchor": anchor, "x": near, "y": middle + 4.0}, words)
                    return
