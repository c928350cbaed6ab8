"""The loss account on the report: it adds up, and bars, readings and table say the same."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from plan_fixture import make_plan

from planner.domain.results.plan import Plan
from planner.presentation.drawing.loss_account import loss_account, loss_rows
from planner.presentation.words.wording import whole


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan()


def test_every_column_adds_up_to_what_reaches_the_bank(plan: Plan) -> None:
    _, rows = loss_rows(plan)
    sums = np.sum([values for _, values in rows[:-1]], axis=0)
    np.testing.assert_allclose(sums, rows[-1][1], rtol=1e-12)


def test_the_last_column_is_the_sum_of_the_panels(plan: Plan) -> None:
    heads, rows = loss_rows(plan)
    assert heads == (*(str(name) for name in plan.losses["panel"].values), "all panels")
    for _, values in rows:
        assert values[:-1].sum() == pytest.approx(values[-1])


def test_the_bank_gets_a_day_what_the_account_holds(plan: Plan) -> None:
    days = plan.track.sizes["time"] * plan.track.attrs["step_s"] / 86400
    wanted = float(plan.losses["bank_wh"].sum()) / days
    figure = loss_account(plan)
    assert figure.readings[-1].startswith(f"To the bank: {whole(wanted)} Wh a day")
    assert figure.table.rows[-1][-1] == whole(wanted)


def test_an_item_that_gives_is_said_and_drawn_as_given(plan: Plan) -> None:
    cold = plan.losses.copy(deep=True)
    heat = cold["item"] == "heat"
    cold["loss_wh"] = cold["loss_wh"].where(~heat, -50.0)
    cold["bank_wh"] = cold["rating_wh"] - cold["loss_wh"].sum("item")
    figure = loss_account(dataclasses.replace(plan, losses=cold))
    assert ("area solar", "given") in figure.legend
    assert any(reading.startswith("Heat: gives ") for reading in figure.readings)
    assert all('class="solar"' in drawing for drawing in figure.drawings)
    assert not any('class="solar"' in drawing for drawing in loss_account(plan).drawings)
