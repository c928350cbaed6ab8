"""The demo's plan, as written to plan.nc, against a plain scalar model of the whole chain.

Agreement everywhere: 1e-6, absolute in the quantity's own units or relative, whichever is more. The reference model
(model_*.py here) is written from the equations, not from the code.
"""

from __future__ import annotations

from pathlib import Path

import model_ledger
import numpy as np
import pytest
import xarray as xr
from agreement import (
    Worst,
    compare_demand,
    compare_harvest,
    compare_ledger,
    compare_sky,
    compare_track,
    rows_of,
)
from model_bank import GRID, Bank
from model_chain import Chain
from model_tables import interp

from planner.app.inputs import read_inputs
from planner.decision.policy.by_clock import Rules, by_clock
from planner.flow.plan import plan_from
from planner.presentation.files.dataset_file import to_trajectory, write_netcdf
from planner.presentation.words.bill.terminal import render

DEMO = Path(__file__).parents[2] / "data" / "demo" / "passage.toml"
README = Path(__file__).parents[2] / "README.md"
MEMBERS = [0, 7]


@pytest.fixture(scope="module")
def inputs():
    return read_inputs(DEMO)


@pytest.fixture(scope="module")
def plan(inputs):
    return plan_from(inputs, progress=lambda _: None)


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("reference") / "plan.nc"
    write_netcdf(to_trajectory(plan), path)
    with xr.open_dataset(path, engine="netcdf4") as dataset:
        return dataset.load()


@pytest.fixture(scope="module")
def chain(inputs):
    return Chain(inputs.passage, inputs.boat, inputs.route, inputs.forecast)


def test_track_at_every_step(chain, written):
    worst = Worst()
    compare_track(worst, chain.rows, written)
    worst.assert_close()


def test_sky_at_every_step(chain, written):
    worst = Worst()
    compare_sky(worst, chain, written, MEMBERS, range(written.sizes["time"]))
    worst.assert_close()


def sampled(written) -> list[int]:
    """Daylight steps, three together: all over the passage, with low suns, both tacks and the engine."""
    elevation = written["sun_elevation_deg"].to_numpy()
    day = np.flatnonzero(elevation > 0.0)
    picked = {int(first) for first in day[:: max(len(day) // 8, 1)]}
    picked |= {int(t) for t in np.flatnonzero((elevation[1:] > 0.0) & (elevation[:-1] <= 0.0))[2:4] + 1}
    port = np.flatnonzero((written["tack"].to_numpy() < 0) & (elevation > 20.0))
    motoring = np.flatnonzero((written["under_engine"].to_numpy() > 0) & (elevation > 5.0))
    for found in (port, motoring):
        picked |= {int(t) for t in found[[len(found) // 3, 2 * len(found) // 3]]} if len(found) else set()
    steps = sorted({min(first + more, written.sizes["time"] - 1) for first in picked for more in range(3)})
    return [t for t in steps if elevation[t] > 0.0]


def test_shade_and_array_in_sampled_daylight(chain, written):
    steps = sampled(written)
    assert len(steps) >= 30
    assert {float(written["tack"][t]) for t in steps} == {-1.0, 1.0}
    assert min(float(written["sun_elevation_deg"][t]) for t in steps) < 3.0
    worst = Worst()
    compare_harvest(worst, chain, written, MEMBERS[:1], steps)
    compare_harvest(worst, chain, written, MEMBERS[1:], steps[::3])
    worst.assert_close()


def test_night_gives_nothing(written):
    night = written["sun_elevation_deg"].to_numpy() <= 0.0
    assert 0.3 < night.mean() < 0.7
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "poa_w_m2", "controller_power_w", "panel_power_w"):
        assert not written[name].to_numpy()[:, night].any()
    assert not written["solar_power_w"].to_numpy()[:, night].any()


def test_demand_of_every_member(inputs, written):
    worst = Worst()
    about = {"watches": inputs.passage.watches, "ship_offset": inputs.ship_offset, "step_s": 600.0}
    compare_demand(worst, written, boat=inputs.boat, **about)
    worst.assert_close()


def test_ledger_under_the_plans_policy(inputs, plan, written):
    worst = Worst()
    compare_ledger(
        worst,
        written,
        MEMBERS,
        boat=inputs.boat,
        policy=plan.policy,
        start_soc=inputs.passage.start.state_of_charge,
        ship_offset=inputs.ship_offset,
        step_s=600.0,
    )
    worst.assert_close()
    assert written["engine_on"].to_numpy()[MEMBERS].any()


def test_ledger_on_members_own_tracks(inputs, plan):
    """What the controllers and the loads bring there is read back from own-tracks.nc; the ladders go by the clock."""
    rules = Rules(inputs.boat.engine, inputs.passage.watches, inputs.passage.wishes, plan.ship_offset)
    tracks = plan.own_tracks.tracks
    ends = np.cumsum(tracks["row_size"].to_numpy())
    sooner = np.flatnonzero(tracks["row_size"].to_numpy() <= plan.voyage.steps)[:3]
    driven = 0
    for member in sooner.tolist():
        own = tracks.isel(obs=slice(int(ends[member] - tracks["row_size"][member]), int(ends[member])))
        own = own.swap_dims(obs="time")
        rows = rows_of(own)
        ledger = model_ledger.simulate(
            (own["solar_power_w"] + own["curtailed_power_w"]).to_numpy().tolist(),
            (own["load_power_w"] + own["unserved_power_w"]).to_numpy().tolist(),
            [row["under_engine"] for row in rows],
            [model_ledger.other_w(row, inputs.boat, inputs.ship_offset) for row in rows],
            boat=inputs.boat,
            policy=by_clock(plan.policy, own, rules),
            start_soc=inputs.passage.start.state_of_charge,
            step_s=600.0,
        )
        worst = Worst()
        for name in set(ledger[0]) - {"soc_next", "fuel_l"}:
            worst.add(name, [step[name] for step in ledger], own[name].to_numpy())
        worst.assert_close()
        driven += int((own["under_engine"] > 0).sum())
    assert len(sooner) == 3
    assert driven > 0


def test_the_ledger_closes_and_no_loss_is_a_remainder(inputs, written):
    """Stored from the open-circuit curve, losses from current, resistance and charge efficiency: all from plan.nc.

    Only the bank's constants come from the boat file. Closes to 1e-6 of each step's throughput, a watt at least.
    """
    bank, h = Bank(inputs.boat.bank), 600.0 / 3600.0
    for member in MEMBERS:
        of = {
            str(name): written[name].to_numpy()[member].tolist()
            for name in written
            if written[name].ndim == 2 and written[name].dims == ("member", "time")
        }
        ends = [*of["bank_soc"][1:], float(written["bank_soc_end"][member])]
        floated, lean = 0, 0.0
        for t, (soc, end) in enumerate(zip(of["bank_soc"], ends, strict=True)):
            current, volts = of["bank_current_a"][t], of["bank_voltage_v"][t]
            rested = soc - min(bank.lost_per_h * h, soc)
            moved_ah = (end - rested) * bank.q
            rest_v = bank.energy_wh(rested, end) / moved_ah if moved_ah else bank.ocv(rested)
            ohm = bank.off_ohm(rested, current)  # lithium's does not bend, so the sign is enough
            shift = lean * interp(GRID, bank.lean_v, rested)
            lean = bank.lean_after(lean, current, h)
            resistive, hysteresis = current * current * ohm, current * shift
            if (
                abs(volts - rest_v - shift - current * ohm) > 1e-9
            ):  # held at float: the current stands off rest by less
                floated += 1
                resistive = current * (volts - rest_v - shift)
            kept = interp(GRID, bank.efficiency, rested) if current > 0.0 else 1.0
            coulombic = (1.0 - kept) * current * rest_v + bank.energy_wh(rested, soc) / h
            sources = of["solar_power_w"][t] + of["alternator_power_w"][t] + of["other_charge_power_w"][t]
            used = of["load_power_w"][t] + bank.energy_wh(soc, end) / h + resistive + coulombic + hysteresis
            assert abs(sources - used) <= 1e-6 * max(sources, of["load_power_w"][t], 1.0)
            assert of["resistive_loss_power_w"][t] == pytest.approx(resistive, abs=1e-6)
            assert of["coulombic_loss_power_w"][t] == pytest.approx(coulombic, abs=1e-6)
            assert of["hysteresis_loss_power_w"][t] == pytest.approx(hysteresis, abs=1e-6)
        assert floated < 0.2 * len(ends)


def test_the_lines_that_the_readme_shows_are_those_of_the_demo(plan):
    shown = README.read_text(encoding="utf-8").split("```text\n")[1].split("```")[0].splitlines()
    said = render(plan).splitlines()
    assert len(shown) > 30
    assert [line for line in shown if line not in {*said, "...", ""}] == []
