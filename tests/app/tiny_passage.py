"""A day's passage of one's own with weather typed by hand, coarsely computed: a whole plan in a second or two."""

from __future__ import annotations

import re
from pathlib import Path

DEMO = Path(__file__).parents[2] / "data" / "demo"
ROUTE_AND_WEATHER = """
[[waypoints]]
name = "start"
position = "35-10.0S 174-20.0E"

[[waypoints]]
name = "end"
position = "34-10.0S 174-40.0E"

[[weather]]
from = 2027-05-09T10:00:00+12:00
until = 2027-05-12T10:00:00+12:00
sky = "broken"
wind_from = "SE"
wind_kn = 16.0
air_temp_c = 20.0
rain_mm_h = 0.5

[model]
points = 6
roll_nodes = 1
lone_outcomes = 3
"""


def lay_out(folder: Path) -> Path:
    """Write the demo's boat with this route and weather into a folder and return the passage file."""
    text = (DEMO / "passage.toml").read_text(encoding="utf-8")
    text = re.sub(r"^(route|forecast) = .*\n", "", text, flags=re.MULTILINE)
    (folder / "passage.toml").write_text(text + ROUTE_AND_WEATHER, encoding="utf-8")
    (folder / "boat.toml").write_text((DEMO / "boat.toml").read_text(encoding="utf-8"), encoding="utf-8")
    return folder / "passage.toml"
