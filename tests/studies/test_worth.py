"""What panels are worth: the account closes, the next one is in proportion, pairs are told apart."""

from __future__ import annotations

import pytest
from study_case import demo_plan

from planner.domain.inputs.place import Place
from planner.studies.panels.pairs import pair_wirings
from planner.studies.panels.worth import at_bus_wh, fitted, loss_accounts

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
