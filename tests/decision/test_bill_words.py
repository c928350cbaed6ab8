"""Reasons, warnings and cautions: each says what the datasets hold, in ship's time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bill_case import BANK, STEPS, make_boat, make_case, make_passage

from planner.decision.bill.cautions import cautions
from planner.decision.bill.reasons import reason
from planner.decision.bill.shortfall import shortfall
from planner.decision.bill.skip import Skipped, skipped_runs
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.passage import Model
from planner.domain.inputs.power import NotedVolts
from planner.domain.results.figures import ReserveKept
from planner.domain.voyage import Voyage
from planner.presentation.words.notes import all_said, said

MOST_KEPT = ReserveKept(kept=38, members=40, low=0.86, high=0.98, confidence=0.9)
FEW_KEPT = ReserveKept(kept=16, members=40, low=0.28, high=0.53, confidence=0.9)


def reasons_of(case: Voyage) -> list[str]:
    skipped = skipped_runs(case)
    return [said(reason(case, epoch, skipped.get(epoch))) for epoch in range(case.epochs)]


def engine_out(boat: Boat) -> Boat:
    return boat.model_copy(update={"engine": boat.engine.model_copy(update={"available": False})})


def test_a_morning_watch_is_told_of_sun_and_night() -> None:
    words = reasons_of(make_case(run_below_percent=100))[0]
    assert "Today's sun brings 2000 Wh over use" in words  # (400 - 200) W from 08:00 to 18:00
    assert "the night needs 2400 Wh" in words  # 200 W from 18:00 to 06:00
    assert "Quiet 22:00 to 05:00" in words


def test_a_watch_before_dawn_is_told_of_the_rest_of_the_night() -> None:
    words = reasons_of(make_case(run_below_percent=100))[5]  # 04:00 to 08:00
    assert "The night still needs 400 Wh" in words
    assert "the sun after it brings 2400 Wh over use" in words
    assert "Quiet until 05:00" in words


def test_a_dim_day_falls_short() -> None:
    assert (
        "Today's sun falls 1000 Wh short of use"
        in reasons_of(make_case(sun_of_members=(0.25,), run_below_percent=100))[0]
    )


def test_what_happens_without_the_run_is_told_against_the_reserve() -> None:
    case = make_case(run_below_percent=100)
    step = 100
    assert "Without this run 25 % by 00:40, under the reserve of 30 %." in said(
        reason(case, 0, Skipped(30, 0.25, step))
    )
    assert "Without this run 41 % by 00:40; reserve 30 %." in said(reason(case, 0, Skipped(30, 0.41, step)))


def test_arrival_within_a_day_is_told() -> None:
    words = reasons_of(make_case(run_below_percent=100, sun_of_members=(0.3,)))
    assert "30 % is wanted on arrival at 08:00" in words[7]
    assert "arrival" not in words[0]


def test_quiet_hours_are_the_reason_not_to_run() -> None:
    assert reasons_of(make_case(run_below_percent=0))[4].startswith("Quiet hours. Bank carries the loads:")


def test_heel_is_the_reason_not_to_run() -> None:
    case = make_case(run_below_percent=0, heel_deg=np.full(STEPS, -35.0))
    case.policy.allowed[:] = False
    assert reasons_of(case)[0].startswith("Heel over 22 degrees: no charging.")


def test_an_engine_out_of_service_is_said_so() -> None:
    assert reasons_of(make_case(boat=engine_out(make_boat())))[0].startswith("Engine out of service.")


def test_motoring_charges_meanwhile() -> None:
    assert reasons_of(make_case(motoring_steps=slice(0, 24)))[0].startswith("The engine drives and charges, about ")


def test_a_watch_under_engine_says_that_its_ladder_holds_should_she_sail() -> None:
    driven = make_case(motoring_steps=slice(0, 24))
    assert reasons_of(driven)[0].endswith(" Ah.")  # closed to runs, where driving is counted on
    driven.policy.allowed[:24] = True
    assert reasons_of(driven)[0].endswith(" Ah; should she sail, charge by the meter.")
    driven.policy.minutes[0] = 0
    assert reasons_of(driven)[0].endswith(" Ah.")


def test_a_run_before_driving_says_that_this_is_not_counted_on_unless_it_is() -> None:
    words = "Driving, as forecast from 16:00, is not counted on."
    case = make_case(run_below_percent=100, motoring_steps=slice(48, 72))
    assert words in reasons_of(case)[0]
    passage = make_passage()
    control = passage.model_copy(update={"model": Model(tracks="control")})
    counted_on = make_case(passage=control, run_below_percent=100, motoring_steps=slice(48, 72))
    assert words not in reasons_of(counted_on)[0]
    assert "Driving" not in reasons_of(make_case(run_below_percent=100))[0]


def test_a_share_in_own_winds_is_warned_of_as_such() -> None:
    case = make_case(sun_of_members=(0.0, 0.0, 1.0), run_below_percent=0)
    warning, *_ = all_said(shortfall(case, replace(FEW_KEPT, wind="own")))
    assert "it was in 16 of 40 trials, each in its own wind, 90 % wanted." in warning
    assert "On the control's track 2 of 3 members fall under it" in warning


def test_sun_or_bank_carries_the_loads() -> None:
    words = reasons_of(make_case(run_below_percent=0))
    assert words[0].startswith("Sun carries the loads: bank 60 to ")
    assert words[3].startswith("Bank carries the loads: ")


def test_no_warning_where_the_reserve_is_kept() -> None:
    assert shortfall(make_case(), MOST_KEPT) == ()


def test_a_reserve_that_is_lost_is_told_with_when_how_deep_and_what_saves_it() -> None:
    case = make_case(sun_of_members=(0.45, 0.5, 0.55), run_below_percent=0)
    warning, *_ = all_said(shortfall(case, FEW_KEPT))
    worst = round(100 * min(float(case.ledger["bank_soc"].min()), float(case.ledger["bank_soc_end"].min())))
    assert "16 of 40 trials, 90 % wanted" in warning
    assert "3 of 3 members fall under it" in warning
    assert f"the worst to {worst} %" in warning
    assert "Shedding watermaker and fridge saves it, if begun by " in warning


def test_shedding_goes_no_further_in_the_boats_order_than_it_must() -> None:
    case = make_case(sun_of_members=(0.71, 0.71), run_below_percent=0)
    warning, *_ = all_said(shortfall(case, FEW_KEPT))
    assert "Shedding watermaker saves it" in warning


def test_what_shedding_cannot_save_is_said_so() -> None:
    warning, *_ = all_said(shortfall(make_case(sun_of_members=(0.0,), run_below_percent=0), FEW_KEPT))
    assert "does not save it" in warning


def test_a_boat_that_may_shed_nothing_is_told_so() -> None:
    boat = make_boat()
    bare = boat.model_copy(update={"load": tuple(x.model_copy(update={"shed_order": None}) for x in boat.load)})
    warning, *_ = all_said(shortfall(make_case(boat=bare, sun_of_members=(0.0,), run_below_percent=0), FEW_KEPT))
    assert "names no load that may be shed" in warning


def test_an_engine_out_of_service_is_named_in_the_warning() -> None:
    warning, *_ = all_said(shortfall(make_case(boat=engine_out(make_boat()), sun_of_members=(0.2,)), FEW_KEPT))
    assert "The engine is out of service." in warning


def test_fewer_members_than_can_show_what_is_asked_are_warned_of() -> None:
    (warning,) = all_said(shortfall(make_case(), replace(MOST_KEPT, kept=21, members=21)))
    assert "21 outcomes of the weather cannot show more than 87 %" in warning


def test_an_arrival_with_less_than_wanted_is_warned_of_at_the_asked_confidence() -> None:
    passage = make_passage()
    wishes = passage.wishes.model_copy(update={"arrival_soc": 0.5})
    case = make_case(passage=passage.model_copy(update={"wishes": wishes}), sun_of_members=(0.9, 1.0, 1.1, 0.5))
    arrive = [float(soc) for soc in case.ledger["bank_soc_end"]]
    assert sum(soc >= 0.5 for soc in arrive) == 3
    (warning,) = all_said(shortfall(case, MOST_KEPT))
    assert "3 of 4 outcomes arrive with the 50 % that is wanted" in warning
    surer = wishes.model_copy(update={"confidence": 0.7})
    assert not shortfall(
        make_case(passage=passage.model_copy(update={"wishes": surer}), sun_of_members=(0.9, 1.0, 1.1, 0.5)),
        MOST_KEPT,
    )


def test_fuel_that_may_not_last_is_warned_of() -> None:
    boat = make_boat()
    dry = boat.model_copy(update={"engine": boat.engine.model_copy(update={"tank_l": 31.0, "landfall_l": 30.0})})
    warnings = all_said(shortfall(make_case(boat=dry, motoring_steps=slice(0, 24)), MOST_KEPT))
    assert any(words.startswith("Fuel:") and "holds 1 L above" in words for words in warnings)


def test_cautions_of_a_chemistry_are_its_own() -> None:
    lithium = " ".join(all_said(cautions(make_case())))
    agm = make_boat().model_copy(update={"bank": BANK.model_copy(update={"chemistry": "agm"})})
    lead = " ".join(all_said(cautions(make_case(boat=agm))))
    assert "management system" in lithium
    assert "hydrogen" not in lithium
    assert "hydrogen" in lead
    assert "management system" not in lead


def test_a_lithium_bank_that_has_noted_no_volts_is_told_how_late_they_may_ring() -> None:
    told = [words for words in all_said(cautions(make_case())) if "boat.bank.noted" in words]
    assert len(told) == 1
    # 12.78 V at rest after discharge: what the highest published cells show between 5.5 and 6 %
    assert "ring at about 6 % only" in told[0]
    noted = NotedVolts(state_of_charge=0.5, volts=13.1, amps=10.0)
    boat = make_boat().model_copy(update={"bank": BANK.model_copy(update={"noted": noted})})
    assert not any("boat.bank.noted" in words for words in all_said(cautions(make_case(boat=boat))))


def test_when_the_monitor_is_set_right_and_what_it_errs_by_till_then() -> None:
    case = make_case(sun_of_members=(3.0, 3.0, 3.0))
    (words,) = (line for line in all_said(cautions(case)) if "monitor" in line)
    full = int(np.flatnonzero(case.planned_soc[1:] >= 0.98)[0])
    assert f"next on {case.ship_time(full):%a} " in words
    assert "reading errs by 2 %" in words  # hardly more than at departure
    dull = make_case(sun_of_members=(0.6,))
    (words,) = (line for line in all_said(cautions(dull)) if "monitor" in line)
    put_in = float(np.maximum(dull.planned["bank_current_a"].values, 0.0).sum()) / 6.0 / 400.0
    parts = 0.02, np.hypot(0.005, 0.01) * put_in, 0.03 * 24.0 / 400.0 * 2.0  # departure, charge counted, two days
    assert f"errs by {100.0 * np.sqrt(np.sum(np.square(parts))):.0f} % (standard deviation). A run" in words


def test_a_frozen_lithium_bank_is_flagged() -> None:
    boat = make_boat()
    frozen = boat.model_copy(update={"bank": BANK.model_copy(update={"temp_c": -4.0})})
    assert any("-4" in caution for caution in all_said(cautions(make_case(boat=frozen))))


def test_panels_whose_dark_cells_may_burn_are_named() -> None:
    boat = make_boat()
    sound, bare = (
        boat.panel[0].model_copy(update={"name": name, "bypass_diodes": fitted, "cells": 36, "substrings": 2})
        for name, fitted in (("sound", True), ("bare", False))
    )
    lone = bare.model_copy(update={"name": "lone", "bypass_diodes": True, "substrings": 1})
    boat = boat.model_copy(update={"panel": (sound, bare, lone)})
    (hot,) = (words for words in all_said(cautions(make_case(boat=boat))) if "burns" in words)
    assert "bare, lone" in hot
    assert "sound" not in hot


def test_exhaust_is_flagged_only_with_the_wind_abaft_the_beam() -> None:
    behind, ahead = np.full(STEPS, -120.0), np.full(STEPS, -60.0)
    flagged = all_said(cautions(make_case(run_below_percent=100, apparent_wind_angle_deg=behind)))[0]
    assert "exhaust" in flagged
    assert "Sun 10 May 08:00" in flagged
    assert "exhaust" not in " ".join(
        all_said(cautions(make_case(run_below_percent=100, apparent_wind_angle_deg=ahead)))
    )


def test_lead_not_filled_within_a_week_is_warned_of_unless_full_charges_are_wished(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("planner.decision.bill.shortfall.WEEK_D", 1.5)  # the case lasts two days
    boat = make_boat()
    lead = boat.model_copy(update={"bank": boat.bank.model_copy(update={"chemistry": "agm"})})
    case = make_case(boat=lead, sun_of_members=(0.5,))
    (warned,) = (note for note in shortfall(case, MOST_KEPT) if note.code == "lead_not_full")
    assert warned.figures["longest_d"] == pytest.approx(2.0)
    assert "set wishes.full_charge_every_days" in all_said([warned])[0]
    assert all(note.code != "lead_not_full" for note in shortfall(make_case(sun_of_members=(0.5,)), MOST_KEPT))
    passage = make_passage()
    wishes = passage.wishes.model_copy(update={"full_charge_every_days": 5.0})
    wished = make_case(boat=lead, passage=passage.model_copy(update={"wishes": wishes}), sun_of_members=(0.5,))
    assert all(note.code != "lead_not_full" for note in shortfall(wished, MOST_KEPT))
