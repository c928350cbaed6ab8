"""Tables of the boat's sailing: axes rise, rows have no holes, and a boat sails at some speed."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from planner.domain.inputs.sailing import AngleTable, Polar, WindTable

WINDS, ANGLES = (6.0, 12.0), (45.0, 90.0, 150.0)
SPEEDS = ((3.0, 5.0), (4.0, 6.0), (3.5, 5.5))


def test_whole_tables_are_taken_as_they_are() -> None:
    polar = Polar(true_wind_speed_kn=WINDS, true_wind_angle_deg=ANGLES, speed_kn=SPEEDS)
    assert polar.speed_kn[1] == (4.0, 6.0)
    assert AngleTable(angle_deg=(0.0, 180.0), value=(1.0, 2.0)).value == (1.0, 2.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"true_wind_speed_kn": (12.0, 6.0)}, "wind speeds rise"),
        ({"true_wind_angle_deg": (45.0, 90.0, 190.0)}, "190 is not 0 to 180: from the bow to the stern"),
        ({"speed_kn": SPEEDS[:2]}, "2 entries for 3 wind angles"),
        ({"speed_kn": ((3.0, 5.0), (4.0,), (3.5, 5.5))}, "row at 90 degrees has 1 speeds for 2 wind speeds"),
        ({"speed_kn": ((0.0, 0.0),) * 3}, "the boat never sails"),
        ({"speed_kn": ((3.0, -5.0), (4.0, 6.0), (3.5, 5.5))}, "-5 is not 0 to 65"),
    ],
)
def test_a_polar_with_a_hole_or_out_of_order_is_refused(changes: dict[str, object], words: str) -> None:
    given = {"true_wind_speed_kn": WINDS, "true_wind_angle_deg": ANGLES, "speed_kn": SPEEDS}
    with pytest.raises(ValidationError, match=words):
        Polar.model_validate(given | changes)


def test_small_tables_keep_the_same_rules() -> None:
    with pytest.raises(ValidationError, match="1 entries for 2 wind angles"):
        AngleTable(angle_deg=(0.0, 90.0), value=(1.0,))
    with pytest.raises(ValidationError, match="wind speeds rise"):
        WindTable(wind_kn=(10.0, 10.0), value=(1.0, 1.0))
