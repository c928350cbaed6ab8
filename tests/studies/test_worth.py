"""What panels are worth: the account closes, the next one is in proportion, pairs are told apart."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from study_case import demo_plan

from planner.domain.inputs.place import Place
from planner.presentation.words.notes import said
from planner.studies.figures import Outcome, outcome_of
from planner.studies.panels.pairs import pair_wirings
from planner.studies.panels.worth import at_bus_wh, fitted, loss_accounts, why_sums_differ, worth_aboard

ROOM = Place(name="rail", centre_m=(-6.0, 1.85, 0.95), max_length_m=2.0, max_width_m=1.5, mounting="open")


def test_each_account_adds_up_from_rating_to_bank() -> None:
    for account in loss_accounts(demo_plan()):
        assert account.rating_wh - sum(loss for _, loss in account.items) == pytest.approx(account.bank_wh)


def test_accounts_and_yields_agree_on_what_the_bus_took() -> None:
    _, taken = at_bus_wh(demo_plan())
    banked = [account.bank_wh for account in loss_accounts(demo_plan())]
    # the account turns sun away as the planned course does, the yields member by member
    assert taken[:-1].mean(axis=0) == pytest.approx(banked, rel=0.03)


def test_panels_share_all_that_the_bus_took() -> None:
    plan = demo_plan()
    _, taken = at_bus_wh(plan)
    step_h = plan.track.attrs["step_s"] / 3600.0
    solar = plan.ledger["solar_power_w"].values.sum(axis=1) * step_h
    assert taken[:-1].sum(axis=1) == pytest.approx(solar, rel=1e-9)


def test_the_next_panel_is_in_proportion_to_the_nearest_rating() -> None:
    fit = fitted(ROOM, demo_plan().boat, 50.0)
    assert not isinstance(fit, str)
    panel, controller = fit
    like = next(each for each in demo_plan().boat.panel if each.max_power_w == 100.0)
    assert panel.max_power_w == 50.0
    assert panel.max_power_v == like.max_power_v
    assert panel.max_power_a == pytest.approx(like.max_power_a / 2.0)
    assert panel.length_m * panel.width_m == pytest.approx(like.length_m * like.width_m / 2.0)
    assert panel.mass_kg == pytest.approx((like.mass_kg or 0.0) / 2.0)
    assert controller.strings == (("rail",),)


def test_a_place_that_is_too_small_says_so() -> None:
    small = ROOM.model_copy(update={"max_length_m": 0.5, "max_width_m": 0.4})
    assert "does not fit" in str(fitted(small, demo_plan().boat, 100.0))


def test_a_place_that_carries_less_says_so() -> None:
    weak = ROOM.model_copy(update={"max_mass_kg": 1.0})
    assert "more than the 1 kg that it carries" in str(fitted(weak, demo_plan().boat, 100.0))


def test_a_panel_is_laid_whichever_way_fits() -> None:
    across = ROOM.model_copy(update={"max_length_m": 0.6, "max_width_m": 1.2})
    fit = fitted(across, demo_plan().boat, 100.0)
    assert not isinstance(fit, str)
    assert fit[0].length_m < fit[0].width_m
    assert fit[0].substrings_across == "length"  # across the short side, as on the bimini


def test_pairs_are_those_of_like_current_with_their_wiring() -> None:
    pairs = {(pair.first, pair.second): pair for pair in pair_wirings(demo_plan())}
    assert pairs["arch port", "arch starboard"].wired_now == "series"
    assert pairs["bimini port", "bimini middle"].wired_now == "parallel"
    assert pairs["bimini middle", "coachroof"].wired_now == "apart"
    assert ("arch port", "coachroof") not in pairs
    gain = pairs["arch port", "arch starboard"].gain_wh
    assert gain is not None
    assert gain.planned > 0.0  # the shadows fall on one of them at a time
    as_wired = pairs["arch port", "arch starboard"].series_wh
    assert as_wired is not None
    offered, _ = at_bus_wh(demo_plan())
    assert as_wired.planned == pytest.approx(offered[-1, :2].sum(), rel=1e-3)  # what they give aboard, so wired


def test_a_panels_worth_is_by_the_day_and_square_metre() -> None:
    plan = demo_plan()
    first, panel = worth_aboard(plan, outcome_of(plan), ())[0], plan.boat.panel[0]
    days = (plan.arrival - plan.passage.departure) / timedelta(days=1)
    assert first.yield_wh is not None
    assert first.wh_per_day_m2 == pytest.approx(first.yield_wh.planned / days / (panel.length_m * panel.width_m))


def outcomes(charging_h: list[float], solar_kwh: list[float]) -> list[Outcome]:
    """Outcomes of so many hours of charging and of sun, alike in all else."""
    base = outcome_of(demo_plan())
    return [
        replace(
            base, charging_h=np.full_like(base.charging_h, hours), solar_wh=np.full_like(base.solar_wh, 1e3 * kwh)
        )
        for hours, kwh in zip(charging_h, solar_kwh, strict=True)
    ]


@pytest.mark.parametrize(
    ("charging_h", "solar_kwh", "codes", "words"),
    [
        # with all, without either, none lit
        ([2.0, 4.0, 4.0, 6.1], [12.0, 6.0, 6.0, 0.0], [], "The rows come to 4.0 h, all panels together save 4.1 h."),
        # a string goes with either: 2 x 12 = 24 kWh in the rows of the 12 kWh there are, 2 x 4 h of 4 h
        ([2.0, 6.0, 6.0, 6.0], [12.0, 0.0, 0.0, 0.0], ["sums_counted_twice"], "they hold 24.0 kWh of the 12.0 kWh"),
        # the full bank takes 3 kWh of the other then: 2 x 3 = 6 kWh of 12, 2 x 1 h of 4 h
        ([2.0, 3.0, 3.0, 6.0], [12.0, 9.0, 9.0, 0.0], ["sums_turned_away"], "rows hold 6.0 kWh of the 12.0 kWh"),
        # every Wh stands once, but 60 x 2 h / 12 kWh = 10 min a kWh in the rows, 60 x 4 h / 12 kWh = 20 min in all
        ([2.0, 3.0, 3.0, 6.0], [12.0, 6.0, 6.0, 0.0], ["sums_bank_bridges"], "runs 10 min, for one of all 20 min"),
        ([2.0, 6.0, 6.0, 6.0], [12.0, 6.0, 6.0, 0.0], ["sums_first_dear"], "runs 40 min, for one of all 20 min"),
    ],
)
def test_the_sum_of_worths_is_explained_by_its_own_figures(
    charging_h: list[float], solar_kwh: list[float], codes: list[str], words: str
) -> None:
    base, *without, unlit = outcomes(charging_h, solar_kwh)
    sums = why_sums_differ(base, without, unlit)
    assert [note.code for note in sums.then] == codes
    assert words in said(sums)
