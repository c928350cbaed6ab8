"""The ledger: what the bank does along the track, step by step, under a policy for the engine."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.glossary import LEDGER
from planner.domain.inputs.power import Bank, Engine
from planner.domain.policy import METER_READINGS, Policy, StandingOrder
from planner.domain.schema import to_dataset
from planner.domain.units import SECONDS_PER_HOUR
from planner.domain.voyage import Course
from planner.physics.bank import BankParams, bank_step, bus_v
from planner.physics.bank.meter import STEADY, MeterDrift, meter_error
from planner.physics.frames import cell_of
from planner.physics.kinetic import at_hand_rate, next_gap, spare_charge
from planner.simulation.clock import step_seconds
from planner.simulation.ledger.bank import alternator_limit_w, bank_params
from planner.simulation.ledger.bus import AtBus
from planner.simulation.ledger.sources import other_offered_w, output_over_run_a

NO_EPOCH: Final = -1
NEVER_SHOWN: Final = -1  # %, a reading that no meter shows
HOURS_PER_DAY: Final = 24.0  # h/d, exact
READING_SLACK: Final = 1e-9  # percent; rounding in a stop such as 0.29 must not shift it by a whole reading


def fuel_l(ledger: xr.Dataset, track: xr.Dataset, engine: Engine) -> Floats:
    """Return the fuel burnt in each step: at the charging rate, or at the motoring rate and what charging adds to it.

    Parameters
    ----------
    ledger, track : xarray.Dataset
        Over the same steps; the ledger, or the track, has the step.
    engine : Engine
        From the boat file.

    Returns
    -------
    array (member, time)
        [L].
    """
    dataset = ledger if "step_s" in ledger.attrs else track
    hours = step_seconds(dataset) / SECONDS_PER_HOUR
    added_l_per_h = engine.marginal_l_per_kwh * ledger["alternator_power_w"].values / 1000.0
    rate_l_per_h = np.where(
        track["under_engine"].values > 0, engine.motoring_l_per_h + added_l_per_h, engine.charging_l_per_h
    )
    burnt: Floats = ledger["engine_on"].values * rate_l_per_h * hours
    return burnt


def mean_harvest(harvest: xr.Dataset) -> xr.Dataset:
    """Return the members' mean of every variable as a dataset of one member; what has no members is unchanged.

    Parameters
    ----------
    harvest : xarray.Dataset
        Any dataset with the dimension ``member``.
    """
    return xr.Dataset(
        {
            name: variable.mean("member", keep_attrs=True).expand_dims("member").transpose(*variable.dims)
            if "member" in variable.dims
            else variable
            for name, variable in harvest.drop_vars("member", errors="ignore").data_vars.items()
        },
        attrs=harvest.attrs,
    ).assign_coords(member=[0])


def members_mean(harvest: xr.Dataset, demand: xr.Dataset) -> tuple[xr.Dataset, xr.Dataset]:
    """Return harvest and demand in the members' mean weather, each of one member, for the planned course."""
    return mean_harvest(harvest), mean_harvest(demand)


@njit(cache=True)
def meter_percent(soc: float, offset: float) -> int:
    """Return what a battery monitor shows: SOC and its error, rounded half up to a whole percent, 0 to 100.

    A figure that is not a number shows 0.

    Parameters
    ----------
    soc, offset : float
        True SOC and what the meter adds to it [0..1].
    """
    return cell_of((soc + offset) * 100.0 + 0.5, METER_READINGS)


def at_bus(course: Course, *, bank: Bank, engine: Engine) -> AtBus:
    """Return what meets at the bus along one track.

    Parameters
    ----------
    course : Course
        As the stages hand it on.
    bank, engine
        From the boat file.
    """
    track = course.track
    offered_w = np.ascontiguousarray(course.harvest["controller_power_w"].sum("controller").values, dtype=np.float64)

    def for_all(values: npt.ArrayLike) -> Floats:
        return np.broadcast_to(np.asarray(values, dtype=np.float64), offered_w.shape).copy()

    return AtBus(
        offered_w=offered_w,
        alternator_w=for_all(alternator_limit_w(track, engine, bank)),
        other_w=for_all(other_offered_w(track)),
        demand_w=for_all(course.demand["demand_power_w"].values),
        drives=for_all((track["under_engine"].values > 0) & engine.available) > 0,
        steps=np.full(offered_w.shape[0], offered_w.shape[1], dtype=np.int64),
        step_s=step_seconds(track),
    )


def simulate(
    harvest: xr.Dataset,
    demand: xr.Dataset,
    track: xr.Dataset,
    *,
    bank: Bank,
    engine: Engine,
    policy: Policy,
    start_soc: float | Floats,
    meter_offset: Floats | None = None,
    drift: MeterDrift = STEADY,
) -> xr.Dataset:
    """Return the ledger of every member along one track under a policy.

    Parameters
    ----------
    harvest, demand : xarray.Dataset
        As the glossary has them, of the same members.
    track : xarray.Dataset
        For ``under_engine``, and what generators and chargers offer where it says so.
    bank, engine
        From the boat file.
    policy : Policy
        On the steps of this track.
    start_soc : float or array (member,)
        True SOC at departure [0..1].
    meter_offset : array (member,), optional
        What each member's meter adds to the true SOC at departure [0..1].
    drift : MeterDrift
        By which that grows, and where the meter is set right.

    Returns
    -------
    xarray.Dataset
        ``glossary.LEDGER``, with the step in the attribute ``step_s`` [s].
    """
    bus = at_bus(Course(track, harvest, demand), bank=bank, engine=engine)
    flows, soc, engine_on = march(
        bus,
        params=bank_params(bank),
        engine=engine,
        policy=policy,
        start_soc=start_soc,
        meter_offset=meter_offset,
        drift=drift,
    )
    arrays = dict(zip(FLOWS, flows, strict=True))
    arrays["curtailed_power_w"] = bus.offered_w - arrays["solar_power_w"]
    arrays["load_power_w"] = demand["demand_power_w"].values - arrays["unserved_power_w"]
    arrays["bank_loss_power_w"] = (
        arrays["resistive_loss_power_w"] + arrays["coulombic_loss_power_w"] + arrays["hysteresis_loss_power_w"]
    )
    ledger = to_dataset(
        {**arrays, "bank_soc": soc[:, :-1], "bank_soc_end": soc[:, -1], "engine_on": engine_on},
        LEDGER,
        coords={"member": harvest["member"].values, "time": track["time"].values},
        door="simulate",
    )
    return ledger.assign_attrs(step_s=bus.step_s)


def march(
    bus: AtBus,
    *,
    params: BankParams,
    engine: Engine,
    policy: Policy,
    start_soc: float | Floats,
    meter_offset: Floats | None = None,
    drift: MeterDrift = STEADY,
) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """Follow every member's bank under a policy, step by step.

    The crew follows the policy by the meter: read at the first step of an epoch for the minutes, and at the start of
    each running step for the stop, which ends the epoch's run. Steps under engine run whatever the policy says, and
    use up its minutes. The standing order is looked at in every step.

    Parameters
    ----------
    bus : AtBus
    params : BankParams
        The bank.
    engine, policy, start_soc, meter_offset, drift
        As for ``simulate``.

    Returns
    -------
    flows, soc, engine_on : float array (quantity, member, time), float array (member, time + 1), int array
        In the order of ``FLOWS`` [W, A, V]; [0..1]; (member, time). After arrival 0, and the SOC stays as it was.
    """
    members, steps = bus.drives.shape
    epoch_of_step = np.full(steps, NO_EPOCH, dtype=np.int64)
    for epoch, (first, end) in enumerate(zip(policy.first_step, policy.end_step, strict=True)):
        epoch_of_step[first:end] = epoch

    def for_each(flags: Bools) -> Bools:
        # a copy is writable like the rest, else the kernel is compiled once more
        return np.array(np.broadcast_to(flags & engine.available, (members, steps)), order="C")

    standing = policy.standing or StandingOrder(NEVER_SHOWN, NEVER_SHOWN, np.zeros(steps, dtype=np.bool_))
    return _march(
        np.broadcast_to(np.asarray(start_soc, dtype=np.float64), (members,)).copy(),
        bus.offered_w,
        output_over_run_a(engine, step_min=bus.step_s / 60.0),
        bus.other_w,
        bus.demand_w,
        bus.step_s,
        params,
        bus.drives,
        bus.steps,
        for_each(policy.allowed),
        epoch_of_step,
        policy.minutes,
        policy.stop_soc,
        for_each(standing.allowed),
        (standing.start_percent, standing.stop_percent),
        np.zeros(members) if meter_offset is None else np.asarray(meter_offset, dtype=np.float64),
        drift,
    )


FLOWS: Final = (
    "solar_power_w",
    "alternator_power_w",
    "other_charge_power_w",
    "unserved_power_w",
    "bank_current_a",
    "bank_voltage_v",
    "resistive_loss_power_w",
    "coulombic_loss_power_w",
    "stored_power_w",
    "hysteresis_loss_power_w",
)


@njit(cache=True)
def _record(flows, result):  # type: ignore[no-untyped-def]
    """Fill the flows of a step, (quantity,), in the order of ``FLOWS``."""
    flows[0] = result.solar_taken_w
    flows[1] = result.alternator_taken_w
    flows[2] = result.other_taken_w
    flows[3] = result.unserved_w
    flows[4] = result.current_a
    flows[5] = result.voltage_v
    flows[6] = result.resistive_loss_w
    flows[7] = result.coulombic_loss_w
    flows[8] = result.stored_w
    flows[9] = result.hysteresis_loss_w


@njit(cache=True, nogil=True)
def _march(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    start_soc: Floats,
    offered_w: Floats,
    output_a: Floats,
    other_w: Floats,
    demand_w: Floats,
    step_s: float,
    params: BankParams,
    drives: Bools,
    at_sea: Ints,
    may_charge: Bools,
    epoch_of_step: Ints,
    minutes: Ints,
    stop_soc: Floats,
    may_stand: Bools,
    standing_percent: tuple[int, int],
    meter_offset: Floats,
    drift: MeterDrift,
) -> tuple[Floats, Floats, npt.NDArray[np.int8]]:
    """Return flows, SOC and engine of every member; arguments are those of ``march`` as plain arrays."""
    members, steps = offered_w.shape
    flows = np.zeros((10, members, steps))
    soc = np.empty((members, steps + 1))
    engine_on = np.zeros((members, steps), dtype=np.int8)
    step_h = step_s / SECONDS_PER_HOUR
    share, flow_per_h = params.available_fraction, params.flow_per_h
    spare = spare_charge(share, flow_per_h)
    for member in range(members):
        soc[member, 0] = start_soc[member]
        gap = 0.0  # the wells stand level at departure
        epoch, minutes_left, stands = NO_EPOCH, 0.0, False
        throughput, days, erred = 0.0, 0.0, drift.at_start
        lean, steps_run = 0.0, 0  # between the branches at departure, engine cold
        for step in range(at_sea[member]):
            here = soc[member, step]
            grown = meter_error(throughput, days, drift, erred) / drift.at_start
            reading = meter_percent(here, meter_offset[member] * grown)
            if epoch_of_step[step] != epoch:
                epoch = epoch_of_step[step]
                minutes_left = float(minutes[epoch, reading]) if epoch != NO_EPOCH else 0.0
            stands = reading < standing_percent[1] and (stands or reading <= standing_percent[0])
            running = drives[member, step] or (may_charge[member, step] and minutes_left > 0.0)
            if running and minutes_left > 0.0:
                if reading >= stop_soc[epoch] * 100.0 - READING_SLACK:
                    minutes_left = 0.0
                    running = drives[member, step]
                else:
                    minutes_left -= step_s / 60.0
            running = running or (stands and may_stand[member, step])
            engine_on[member, step] = running
            alternator_w = 0.0
            if running:
                amps = output_a[1 if drives[member, step] else 0, min(steps_run, output_a.shape[1] - 1)]
                rest_w = offered_w[member, step] + other_w[member, step] - demand_w[member, step]
                alternator_w = amps * bus_v(here, amps, rest_w, params, lean)
            steps_run = steps_run + 1 if running else 0
            at_hand_a = params.capacity_ah * at_hand_rate(here, gap, step_h, share, flow_per_h, spare)
            result = bank_step(
                here,
                offered_w[member, step],
                alternator_w,
                other_w[member, step],
                demand_w[member, step],
                step_s,
                params,
                at_hand_a,
                lean,
            )
            lean = result.lean_next
            soc[member, step + 1] = result.soc_next
            gap = next_gap(gap, -result.current_a / params.capacity_ah, step_h, share, flow_per_h)
            throughput += max(result.current_a, 0.0) * step_h / params.capacity_ah
            days += step_h / HOURS_PER_DAY
            if result.soc_next >= drift.full_soc:
                throughput, days, erred = 0.0, 0.0, drift.at_full
            _record(flows[:, member, step], result)
        soc[member, at_sea[member] :] = soc[member, at_sea[member]]
    return flows, soc, engine_on
