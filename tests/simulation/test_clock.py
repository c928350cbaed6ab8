"""Ship's time: watches and spans across midnight, changes of watch, watch systems with holes."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from calm_passage import SHIP_OFFSET, WATCHES, track

from planner.domain.inputs.passage import Watch
from planner.domain.inputs.watch_rules import watch_faults
from planner.simulation.clock import changes_of_watch, in_spans, step_seconds, watch_of_step


def steps_from(start: str, count: int, minutes: int) -> np.ndarray:
    return np.datetime64(start, "ns") + np.arange(count) * np.timedelta64(minutes, "m")


def test_a_step_belongs_to_the_watch_in_which_it_starts():
    time = steps_from("2027-05-09T07:50", 3, 10)  # 19:50, 20:00, 20:10 ship's time
    assert watch_of_step(time, WATCHES, SHIP_OFFSET).tolist() == [3, 0, 0]


def test_a_watch_that_passes_midnight_stands_on_both_sides_of_it():
    time = steps_from("2027-05-09T11:30", 16, 10)  # 23:30 to 02:00
    assert watch_of_step(time, WATCHES, SHIP_OFFSET).tolist() == [0] * 15 + [1]


def test_a_span_past_midnight_excludes_its_end():
    time = steps_from("2027-05-09T00:00", 24, 60)
    inside = in_spans(time, [("22:00", "06:00")], timedelta(0))
    assert np.flatnonzero(inside).tolist() == [0, 1, 2, 3, 4, 5, 22, 23]


def test_a_span_of_equal_ends_is_the_whole_day_and_no_span_is_never():
    time = steps_from("2027-05-09T00:00", 24, 60)
    assert in_spans(time, [("00:00", "00:00")], timedelta(0)).all()
    assert not in_spans(time, [], timedelta(0)).any()


def test_an_offset_of_half_an_hour_moves_the_change_by_half_an_hour():
    time = steps_from("2027-05-09T00:00", 48, 30)
    whole = in_spans(time, [("12:00", "13:00")], timedelta(hours=9))
    half = in_spans(time, [("12:00", "13:00")], timedelta(hours=9, minutes=30))
    assert np.flatnonzero(whole)[0] - np.flatnonzero(half)[0] == 1


def test_epochs_cover_every_step_and_the_first_begins_at_departure():
    sailed = track(hours=30.0)
    first, end, watch = changes_of_watch(sailed["time"].values, WATCHES, SHIP_OFFSET)
    assert first[0] == 0
    assert end[-1] == sailed.sizes["time"]
    assert np.array_equal(first[1:], end[:-1])
    assert watch.tolist() == [2, 3, 0, 1, 2, 3]  # from 10:00: deckhand, skipper, mate, skipper, deckhand, skipper
    assert ((end - first) / 6.0).tolist() == [4.0, 6.0, 6.0, 6.0, 6.0, 2.0]


def test_one_watch_round_the_clock_changes_once_a_day():
    alone = (Watch(start="08:00", end="08:00", role="skipper"),)
    first, _, _ = changes_of_watch(steps_from("2027-05-09T00:00", 72, 60), alone, timedelta(0))
    assert first.tolist() == [0, 8, 32, 56]


def test_watches_that_fill_the_day_have_no_fault():
    assert watch_faults(WATCHES, "passage.toml") == []


def test_a_gap_and_an_overlap_are_both_told_with_their_hours():
    watches = (Watch(start="22:00", end="06:00", role="mate"), Watch(start="05:00", end="20:00", role="skipper"))
    told = [str(fault) for fault in watch_faults(watches, "passage.toml")]
    assert any("2 watches overlap 05:00-06:00" in text for text in told)
    assert any("nobody is on watch 20:00-22:00" in text for text in told)
    assert len(told) == 2


def test_a_step_outside_every_watch_is_refused():
    with pytest.raises(ValueError, match="do not fill the day"):
        watch_of_step(steps_from("2027-05-09T00:00", 24, 60), WATCHES[:2], timedelta(0))


def test_the_step_is_read_from_the_times_or_the_attribute():
    sailed = track(hours=1.0)
    assert step_seconds(sailed) == 600.0
    assert step_seconds(sailed.isel(time=slice(1)).assign_attrs(step_s=300.0)) == 300.0
    with pytest.raises(ValueError, match="evenly spaced"):
        step_seconds(sailed.isel(time=[0, 1, 3]))
