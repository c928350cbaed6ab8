"""Words on a drawing: each where there is room, none over another."""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.etree import ElementTree as ET

from planner.presentation.drawing.svg import add

LETTER_PX = 7.0  # generous breadth of a letter at 13 px
LINE_PX = 15.0
AWAY_PX = 16.0  # from the point to the word, clear of the cloud ribbon at its broadest
Box = tuple[float, float, float, float]
"""left, top, right, bottom [px]."""


def breadth(words: str) -> float:
    """Return the room that words take [px], a little too much rather than too little."""
    return LETTER_PX * len(words)


@dataclass
class Lettering:
    """Places words one after another, so those that matter most come first.

    Attributes
    ----------
    sheet : tuple
        Where words may stand: left, top, right, bottom [px].
    taken : list of tuple
        Boxes that hold a word already.
    """

    sheet: Box
    taken: list[Box] = field(default_factory=list)

    def write(self, group: ET.Element, css: str, at: tuple[float, float], words: str) -> None:
        """Write words beside a point, right or left, level or lower or higher; leave them out where none is free."""
        for side in (1.0, -1.0):
            for lower in (0.0, LINE_PX, -LINE_PX):
                near = at[0] + side * AWAY_PX
                far = near + side * breadth(words)
                middle = at[1] + lower
                box = (min(near, far), middle - LINE_PX / 2, max(near, far), middle + LINE_PX / 2)
                if self._free(box):
                    self.taken.append(box)
                    place = {"x": near, "y": middle + 4.0}
                    anchor = "start" if side > 0 else "end"
                    add(group, "text", {"class": css, "text-anchor": anchor, **place}, words)
                    return

    def _free(self, box: Box) -> bool:
        left, top, right, bottom = self.sheet
        inside = box[0] >= left and box[1] >= top and box[2] <= right and box[3] <= bottom
        return inside and not any(
            box[0] < other[2] and box[2] > other[0] and box[1] < other[3] and box[3] > other[1]
            for other in self.taken
        )
