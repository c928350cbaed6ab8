"""What skipping one watch's run costs later, on the passage of round figures."""

from __future__ import annotations

import pytest
from bill_case import make_case

from planner.decision.bill.skip import skipped_runs


def test_a_skipped_run_is_asked_for_again_where_no_sun_makes_it_up() -> None:
    """An hour below 65 %: at departure, and before each dawn.

    The first day's sun fills the bank with or without the first run. Before the second dawn a skipped run leaves less
    than 65 % at the next change of watch, which then asks for an hour. After the last watch comes no other.
    """
    skipped = skipped_runs(make_case(run_below_percent=65, run_min=60))
    assert {epoch: price.later_min for epoch, price in skipped.items()} == {0: 0, 5: 60, 11: 0}


def test_the_lowest_charge_of_the_day_after_is_at_dawn() -> None:
    """Loads of 200 W draw on the bank until the sun brings 400 W at 06:00."""
    case = make_case(run_below_percent=65, run_min=60)
    price = skipped_runs(case)[5]
    assert f"{case.ship_time(price.lowest_step):%H:%M}" == "06:00"
    drawn_wh = 2.0 * 200.0  # from 04:00 to 06:00
    before = case.planned_soc[case.epoch_steps(5).start]
    assert (before - price.lowest_soc) * 400.0 * 13.2 == pytest.approx(drawn_wh, rel=0.03)


def test_only_watches_with_a_run_are_skipped() -> None:
    assert skipped_runs(make_case(run_below_percent=0)) == {}
