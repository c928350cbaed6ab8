"""Passages unlike the demo, from their inputs through the one flow, against the plain scalar model.

Agreement everywhere: 1e-6, absolute in the quantity's own units or relative, whichever is more.
"""

from __future__ import annotations

from dataclasses import dataclass

import model_hand
import numpy as np
import passages
import pytest
import xarray as xr
from agreement import Worst, compare_demand, compare_harvest, compare_ledger, compare_track
from model_chain import Chain

from planner.domain.inputs.given import Inputs
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from
from planner.presentation.files.dataset_file import to_trajectory

PASSAGES = {
    made.__name__: made
    for made in (
        passages.beating_up_channel,
        passages.running_in_the_trades,
        passages.motoring_across_the_line,
        passages.by_bulletin_alone,
    )
}


@dataclass
class Case:
    name: str
    inputs: Inputs
    plan: Plan
    trajectory: xr.Dataset
    chain: Chain

    @property
    def members(self) -> list[int]:
        return list(range(self.trajectory.sizes["member"]))


@pytest.fixture(scope="module", params=PASSAGES)
def case(request) -> Case:
    inputs = PASSAGES[request.param]()
    plan = plan_from(inputs, progress=lambda _: None)
    by_hand = request.param == "by_bulletin_alone"  # the reference lays the bulletin out by itself
    forecast = model_hand.forecast_of(passages.BULLETIN) if by_hand else inputs.forecast
    chain = Chain(inputs.passage, inputs.boat, inputs.route, forecast)
    return Case(request.param, inputs, plan, to_trajectory(plan), chain)


def test_the_passage_is_what_it_claims_to_be(case: Case) -> None:
    track = case.plan.track
    angle, tack = np.abs(track["true_wind_angle_deg"].to_numpy()), track["tack"].to_numpy()
    assert 0.7 < track.sizes["time"] / 144.0 < 3.0
    if case.name == "beating_up_channel":
        assert set(tack) == {-1.0, 1.0}
        assert np.median(angle) < 60.0
        assert track["lon"].to_numpy().min() < 0.0 < track["lon"].to_numpy().max()
    if case.name == "running_in_the_trades":
        assert set(tack) == {-1.0, 1.0}
        assert np.median(angle) > 130.0
        assert case.plan.ledger["other_charge_power_w"].to_numpy().max() > 50.0
    if case.name == "by_bulletin_alone":
        assert len({round(angle) for angle in case.trajectory["true_wind_from_deg"].to_numpy()}) > 2
        assert {*np.unique(case.trajectory["cloud_cover"].to_numpy())} >= {0.375, 0.75, 1.0}
        assert case.plan.harvest["rain_mm_h"].to_numpy().max() == 2.5
    if case.name == "motoring_across_the_line":
        assert 0.0 < track["under_engine"].to_numpy().mean() < 1.0
        assert np.ptp(track["lon"].to_numpy()) > 350.0


def test_track(case: Case) -> None:
    worst = Worst()
    compare_track(worst, case.chain.rows, case.trajectory)
    worst.assert_close()


def test_sky_shade_and_array_in_sampled_daylight(case: Case) -> None:
    elevation = case.trajectory["sun_elevation_deg"].to_numpy()
    day = np.flatnonzero(elevation > 0.0)
    steps = [int(t) for t in day[:: max(len(day) // 10, 1)]]
    worst = Worst()
    compare_harvest(worst, case.chain, case.trajectory, case.members, steps)
    worst.assert_close()
    assert case.trajectory["controller_power_w"].to_numpy()[:, steps].max() > 20.0


def test_demand_and_ledger(case: Case) -> None:
    passage, boat, worst = case.inputs.passage, case.inputs.boat, Worst()
    about = {"ship_offset": case.inputs.ship_offset, "step_s": 60.0 * passage.model.step_min}
    compare_demand(worst, case.trajectory, boat=boat, watches=passage.watches, **about)
    start = passage.start.state_of_charge
    about |= {"boat": boat, "policy": case.plan.policy, "start_soc": start}
    compare_ledger(worst, case.trajectory, case.members, **about)
    worst.assert_close()
