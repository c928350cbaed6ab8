"""What is open to a watch: whole spells, shortest runs, and driving that joins them."""

from __future__ import annotations

import numpy as np

from planner.decision.policy.choices import Choices, choices_of, open_steps, starts_of


def one_watch(
    permitted: str, driving: str | None = None, *, min_run_min: int = 30, max_run_min: int = 240
) -> Choices:
    """Return the choices of one watch of ten-minute steps, drawn as x for yes and . for no."""
    may = np.array([step == "x" for step in permitted])
    drives = np.array([step == "x" for step in driving or "." * may.size])
    watch = np.array([0]), np.array([may.size])
    allowed = open_steps(*watch, may, drives, step_s=600.0, min_run_min=min_run_min)
    return choices_of(
        *watch, allowed[None], drives[None], step_s=600.0, min_run_min=min_run_min, max_run_min=max_run_min
    )


def test_open_watch_offers_half_hours_up_to_the_longest_run() -> None:
    assert one_watch("x" * 24, max_run_min=120).minutes[0].tolist() == [0, 30, 60, 90, 120]


def test_no_run_is_longer_than_the_longest_asked_for() -> None:
    assert one_watch("x" * 24, max_run_min=119).minutes[0].tolist() == [0, 30, 60, 90]


def test_shortest_run_comes_first_and_half_hours_follow() -> None:
    assert one_watch("x" * 12, min_run_min=45).minutes[0].tolist() == [0, 50, 80, 110]


def test_spell_shorter_than_the_shortest_run_is_closed() -> None:
    choices = one_watch("xx....xxxx..")
    assert choices.minutes[0].tolist() == [0, 30]
    assert choices.allowed[0].nonzero()[0].tolist() == [6, 7, 8, 9]


def test_no_length_leaves_a_stub_in_the_second_spell() -> None:
    # 40 minutes before the quiet spell, 60 after it: 60 would leave 20 minutes alone
    assert one_watch("xxxx..xxxxxx").minutes[0].tolist() == [0, 30, 90]


def test_watch_without_a_permitted_spell_offers_nothing() -> None:
    choices = one_watch("x.x.x.x.")
    assert choices.minutes.tolist() == [[0]]
    assert not choices.allowed.any()


def test_short_spell_beside_driving_stays_open() -> None:
    choices = one_watch("xx......", "..xxxx..", min_run_min=10)
    assert choices.allowed[0].nonzero()[0].tolist() == [0, 1]
    assert one_watch("xx......", "..xxxx..").allowed[0].nonzero()[0].tolist() == [0, 1]


def test_driving_is_no_choice_but_counts_in_the_printed_minutes() -> None:
    choices = one_watch("x" * 12, "xxx.........", min_run_min=30)
    assert choices.minutes[0].tolist() == [0, 60, 90, 120]
    assert [int(choices.charging_min(0, choice)[0]) for choice in range(4)] == [0, 30, 60, 90]


def test_driving_after_the_run_is_not_printed() -> None:
    choices = one_watch("x" * 12, ".........xxx", max_run_min=60)
    assert choices.minutes[0].tolist() == [0, 30, 60]


def test_run_takes_the_first_allowed_steps() -> None:
    choices = one_watch("..xxxxxxxxxx")
    assert choices.running(0, 1)[0].nonzero()[0].tolist() == [2, 3, 4]


def test_run_over_a_quiet_spell_starts_twice() -> None:
    choices = one_watch("xxxx..xxxxxx")
    starts, runs_on = starts_of(choices)
    assert starts[0, :, 0, 0].tolist() == [0, 1, 2]
    assert starts[0, :, 1, 0].tolist() == [0, 0, 1]
    assert not runs_on[0].any()


def test_run_that_joins_driving_needs_no_start_of_its_own() -> None:
    starts, runs_on = starts_of(one_watch("x" * 6, "xxx..."))
    assert starts[0, :, 0, 0].tolist() == [0, 0]
    assert runs_on[0, :, 0].tolist() == [False, True]


def test_run_carried_into_driving_saves_the_start_of_the_driving() -> None:
    starts, _ = starts_of(one_watch("......", "xxx..."))
    assert starts[0, 0, :, 0].tolist() == [0, -1]
