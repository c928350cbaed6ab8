"""What readings contradict changes the boat file; what they leave open or lies elsewhere does not."""

from __future__ import annotations

import pytest
from found_case import bank, controller, found, loads
from study_case import demo_inputs

from planner.domain.inputs.power import Load
from planner.domain.results.reconcile.findings import Interval, Verdict
from planner.presentation.words.notes import said
from planner.studies.reconcile.calibrate_boat import PART_STEPS, WATT_STEPS, calibrate_boat, rounded

WEAK = Interval(0.808, 0.76, 0.856)


def changes_of(*controllers, **more):
    return {change.key: change for change in calibrate_boat(found(*controllers, **more), demo_inputs().boat)}


def test_a_weak_controller_lowers_each_of_its_panels():
    changes = changes_of(controller("arch", ("arch port", "arch starboard"), "weak", WEAK))
    assert set(changes) == {"panel.arch port.measured_fraction", "panel.arch starboard.measured_fraction"}
    change = changes["panel.arch port.measured_fraction"]
    assert (change.before, change.after) == (1.0, 0.8)
    assert "76%" in said(change.why)
    assert "do not tell its panels apart" in said(change.why)


@pytest.mark.parametrize("verdict", ["as expected", "shaded", "clipped", "full bank", "cannot tell"])
def test_what_is_not_the_panels_fault_changes_nothing(verdict: Verdict):
    assert not changes_of(controller("coachroof", ("coachroof",), verdict, WEAK))


def test_an_interval_that_holds_the_listed_value_changes_nothing():
    assert not changes_of(controller("coachroof", ("coachroof",), "weak", Interval(0.95, 0.89, 1.01)))
    assert not changes_of(bank_found=bank(Interval(270.0, 250.0, 290.0)))
    assert not changes_of(bank_found=bank(None))
    assert not changes_of(loads_found=loads(None))


def test_a_tired_bank_lowers_its_health_and_keeps_what_the_monitor_counts_with():
    changes = changes_of(bank_found=bank(Interval(241.0, 228.0, 254.0)))
    assert changes["bank.health"].after == pytest.approx(0.8)
    assert changes["bank.health"].before == 0.95
    assert changes["bank.meter.capacity_ah"].after == 285.0


def test_a_bank_beyond_its_rating_raises_the_rating():
    changes = changes_of(bank_found=bank(Interval(331.0, 315.0, 347.0)))
    assert changes["bank.capacity_ah"].after == pytest.approx(350.0)
    assert "bank.health" not in changes


def test_an_unlisted_load_is_added_with_its_hours():
    changes = changes_of(loads_found=loads(Interval(24.4, 20.0, 29.0), spans=(("19:00", "06:00"),)))
    load = changes["load.not on the list"].after
    assert isinstance(load, Load)
    assert (load.watts, load.when, load.hours) == (25.0, "hours", (("19:00", "06:00"),))


@pytest.mark.parametrize(
    ("figure", "steps", "expected"),
    [
        (Interval(0.808, 0.76, 0.856), PART_STEPS, 0.8),
        (Interval(0.834, 0.81, 0.858), PART_STEPS, 0.84),
        (Interval(0.834, 0.832, 0.836), PART_STEPS, 0.83),
        (Interval(23.4, 18.0, 28.0), WATT_STEPS, 25.0),
        (Interval(0.4, 0.1, 0.7), WATT_STEPS, 1.0),
    ],
)
def test_rounding_stays_well_inside_the_interval(figure: Interval, steps: tuple[float, ...], expected: float):
    assert rounded(figure, steps) == pytest.approx(expected)
