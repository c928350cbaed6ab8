"""The bank and the alternator of a boat, as the ledger's kernel reads them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import xarray as xr

from planner.domain.arrays import Floats
from planner.domain.inputs.power import Bank, Engine
from planner.physics.bank import BankParams, bank_step, bus_v
from planner.physics.chemistry import REFERENCE_C, ageing_factor, chemistry, temperature_factor
from planner.simulation.ledger.sources import alternator_a

DISCHARGED: Final = -1.0  # 1, lean of the volts after hours of discharge
_INSTANT_S: Final = 1.0  # s, in which the state of charge stands still
_CHARGED: Final = (0.55, 0.65, 0.75, 0.85)  # 1, states of charge over which a run is taken to pass


def bank_params(bank: Bank) -> BankParams:
    """Return the bank as the kernel reads it: chemistry scaled to its volts, aged capacity and temperature.

    Parameters
    ----------
    bank : Bank
        From the boat file; its own figures stand before the chemistry's defaults.
    """
    kind = chemistry(bank.chemistry)
    capacity_ah = bank.capacity_ah * bank.health
    twelves = bank.nominal_v / 12.0
    per_ah = twelves / capacity_ah
    colder_c = max(REFERENCE_C - bank.temp_c, 0.0)
    aged_per_ah = per_ah * ageing_factor(bank.health)
    at_once = _or_default(bank.resistance_ohm, kind.ohmic_ohm_ah * aged_per_ah)
    ohmic = at_once + kind.polarisation_ohm_ah * aged_per_ah
    charge_factor = temperature_factor(bank.temp_c, kind.charge_resistance_per_c)
    discharge_factor = temperature_factor(bank.temp_c, kind.discharge_resistance_per_c)
    limit_c = _or_default(bank.charge_limit_c, kind.charge_limit_c)
    tail_c = _or_default(bank.tail_current_c, kind.tail_current_c)
    compensation_v = kind.charge_v_per_c * (bank.temp_c - REFERENCE_C)
    absorption_v = _or_default(bank.absorption_v, (kind.absorption_v + compensation_v) * twelves)
    month_h = 30.0 * 24.0  # h
    rest_v = kind.open_circuit_v + kind.rest_v_per_c * (bank.temp_c - REFERENCE_C)
    params = BankParams(
        capacity_ah=capacity_ah,
        open_circuit_v=rest_v * twelves,
        charge_efficiency=kind.charge_efficiency,
        charge_resistance_ohm=(ohmic + kind.charge_rise_ohm_ah * aged_per_ah) * charge_factor,
        discharge_resistance_ohm=(ohmic + kind.discharge_rise_ohm_ah * aged_per_ah) * discharge_factor,
        discharge_bend_a=kind.discharge_bend_c * capacity_ah,
        hysteresis_v=kind.hysteresis_v * twelves,
        charge_limit_a=limit_c * capacity_ah if bank.temp_c >= kind.coldest_charge_c else 0.0,
        absorption_v=absorption_v,
        alternator_v=_or_default(bank.alternator_v, absorption_v),
        float_v=_or_default(bank.float_v, (kind.float_v + compensation_v) * twelves),
        tail_current_a=tail_c * capacity_ah,
        cutoff_v=kind.cutoff_v * twelves,
        empty_soc=min(kind.withheld_per_c * colder_c, 1.0),
        available_fraction=kind.available_fraction,
        flow_per_h=kind.flow_per_h,
        self_discharge_per_h=kind.self_discharge_per_h
        if bank.self_discharge_per_month is None
        else bank.self_discharge_per_month / month_h,
    )
    if not bank.connected:
        params = params._replace(charge_limit_a=0.0, empty_soc=1.0)
    if bank.noted is None:
        return params
    shown_v, _ = on_loads(params, soc=bank.noted.state_of_charge, demand_w=bank.noted.volts * bank.noted.amps)
    return params._replace(open_circuit_v=params.open_circuit_v + bank.noted.volts - shown_v)


def on_loads(params: BankParams, *, soc: float, demand_w: float) -> tuple[float, float]:
    """Return volts and amps [V, A] of a bank that has served loads alone for hours, whatever would cut it off.

    Parameters
    ----------
    params : BankParams
        The bank.
    soc : float
        State of charge [0..1].
    demand_w : float
        What the loads draw [W].
    """
    free = params._replace(empty_soc=0.0, cutoff_v=0.5 * params.cutoff_v)
    step = bank_step(soc, 0.0, 0.0, 0.0, demand_w, _INSTANT_S, free, math.inf, DISCHARGED)
    return step.voltage_v, -step.current_a


def _or_default(given: float | None, default: float) -> float:
    return default if given is None else given


def alternator_limit_w(track: xr.Dataset, engine: Engine, bank: Bank) -> Floats:
    """Return what the alternator can put out while the engine runs, where one figure must do for a whole run.

    Its current as ``sources.alternator_a`` has it, at the mean volts that it finds where runs are, half to nine
    tenths full. The ledger has its current minute by minute, at the volts of the moment.

    Parameters
    ----------
    track : xarray.Dataset
        For ``under_engine``.
    engine, bank
        From the boat file.

    Returns
    -------
    array (time,)
        0 when the engine is not available [W].
    """
    params = bank_params(bank)
    amps = alternator_a(track["under_engine"].values > 0, engine)
    levels_a, places = np.unique(amps, return_inverse=True)
    watts = [each * float(np.mean([bus_v(soc, each, 0.0, params, 0.0) for soc in _CHARGED])) for each in levels_a]
    return np.array(watts)[places]
