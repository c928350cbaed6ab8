"""Moments keep their instant between datetime, numpy and text."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np

from planner.domain.utc import from_numpy, iso_8601, to_numpy

MORNING = datetime(2027, 5, 9, 10, tzinfo=timezone(timedelta(hours=12)))


def test_a_moment_with_an_offset_is_the_same_instant_in_numpy() -> None:
    assert to_numpy(MORNING) == np.datetime64("2027-05-08T22:00", "ns")


def test_there_and_back_is_the_same_instant_in_utc() -> None:
    assert from_numpy(to_numpy(MORNING)) == MORNING
    assert from_numpy(to_numpy(MORNING)).tzinfo is UTC


def test_text_is_in_utc() -> None:
    assert iso_8601(MORNING) == "2027-05-08T22:00:00Z"
