"""Who stands the watches: a role each, or keepers who take turns, never both and never nobody."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from planner.domain.inputs.passage import Passage

HALVES = [{"start": "00:00", "end": "12:00"}, {"start": "12:00", "end": "00:00"}]


def passage(**changes: Any) -> Passage:
    given = {
        "departure": "2027-05-09T10:00:00+12:00",
        "boat": "boat.toml",
        "route": "route.gpx",
        "forecast": "forecast.nc",
        "start": {"state_of_charge": 0.9},
        "watches": HALVES,
    }
    return Passage.model_validate(given | changes)


def test_keepers_stand_watches_that_name_nobody() -> None:
    assert passage(watchkeepers=["mate", "skipper", "cook"]).roles == ("mate", "skipper", "cook")


def test_a_watch_that_nobody_stands_is_refused() -> None:
    with pytest.raises(ValidationError, match="nobody is named for the watch 00:00-12:00"):
        passage()


def test_roles_and_keepers_together_are_refused() -> None:
    with pytest.raises(ValidationError, match="watches have roles and watchkeepers take turns"):
        passage(watches=[{**half, "role": "mate"} for half in HALVES], watchkeepers=["mate"])
