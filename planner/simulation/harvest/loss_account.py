"""Where each panel's rating goes on its way to the bank, day by day.

The account walks down levels of power, each a figure of its own, and every item is the difference of two neighbours,
so the items and what reaches the bank add up to the rating exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

import numpy as np
import xarray as xr
from numba import njit

from planner.domain.arrays import Floats
from planner.domain.glossary import LOSS_ITEMS, LOSSES
from planner.domain.inputs.power import Controller, Panel
from planner.domain.schema import to_dataset
from planner.domain.units import SECONDS_PER_HOUR
from planner.physics.diode import REFERENCE_W_M2, at_conditions, peak_power_w
from planner.simulation.clock import passage_days, step_seconds
from planner.simulation.harvest.array import aged_fraction, cell_diodes

RATED_C = 25.0  # degree Celsius, standard test conditions, IEC 60904-3


def loss_account(
    track: xr.Dataset,
    harvest: xr.Dataset,
    planned: xr.Dataset,
    *,
    panels: Sequence[Panel],
    controllers: Sequence[Controller],
    days_from: datetime,
) -> xr.Dataset:
    """Return what becomes of each panel's rated power from sunrise to sunset, mean over the members.

    The items, in order: *sun angle*, to the unshaded light of a clear sky on the panel as the boat carries it;
    *cloud*; *beam shade* and *diffuse shade* of rig and deck; *incidence*, what the cover glass turns away; *age*, by
    years and by what readings showed of the panel; *dirt and salt*; *low light*, by the diode at 25 degrees and the
    panel's mean light; *heat*, by the diode at the cells' temperature; *mismatch*, from there to what the panel adds
    at its string's working point: uneven light, other panels, the voltage that the bank asks for, the tracker;
    *wiring* and *controller*, shared out by panel power; *full bank*, the part of the planned course's sun that its
    bank could not take. Before *low light*, power goes with light.

    Parameters
    ----------
    track, harvest : xarray.Dataset
        As the glossary has them.
    planned : xarray.Dataset
        Ledger of one member, on the members' mean weather.
    panels, controllers : sequence
        In boat order, those of the harvest.
    days_from : datetime
        The first departure, from which days are numbered.

    Returns
    -------
    xarray.Dataset
        ``glossary.LOSSES`` with coordinates panel, day (of the passage, from 1) and item.
    """
    step_h = step_seconds(track) / SECONDS_PER_HOUR
    day = passage_days(track["time"].values, days_from)
    first = np.flatnonzero(np.diff(day, prepend=0))
    levels = np.stack(list(_levels(track, harvest, planned, panels, controllers)))
    energy = np.add.reduceat(levels, first, axis=1).transpose(2, 1, 0) * step_h
    return to_dataset(
        {"rating_wh": energy[..., 0], "loss_wh": -np.diff(energy, axis=2), "bank_wh": energy[..., -1]},
        LOSSES,
        coords={
            "panel": [panel.name for panel in panels],
            "day": day[first],
            "item": list(LOSS_ITEMS),
        },
        door="loss account",
    )


def _levels(
    track: xr.Dataset,
    harvest: xr.Dataset,
    planned: xr.Dataset,
    panels: Sequence[Panel],
    controllers: Sequence[Controller],
) -> Iterator[Floats]:
    """Yield the levels from rating to bank, each (time, panel), mean over members [W]."""
    rating = np.array([panel.max_power_v * panel.max_power_a for panel in panels])
    up = harvest["sun_elevation_deg"].to_numpy() > 0.0
    yield up[:, None] * rating
    per_light = rating / REFERENCE_W_M2
    for light in _light(track, harvest):
        yield light * per_light
    cell_light = harvest["cell_light_w_m2"].to_numpy()
    clean = 1.0 - harvest["soiled_fraction"].to_numpy()
    aged = np.array([aged_fraction(panel) for panel in panels])
    # A panel that age or dirt has put out altogether passes what its glass lets through for all one can tell.
    passed = np.divide(cell_light, aged * clean, out=harvest["poa_w_m2"].to_numpy().copy(), where=aged * clean > 0.0)
    yield passed.mean(axis=0) * per_light
    yield (passed * aged).mean(axis=0) * per_light
    yield cell_light.mean(axis=0) * per_light
    cells = np.array([panel.cells * panel.parallel_strings for panel in panels], dtype=np.float64)
    diodes = cell_diodes(panels)
    cell_temp = harvest["cell_temp_c"].to_numpy()
    yield _own_peaks(cell_light, np.full_like(cell_temp, RATED_C), diodes, cells)
    yield _own_peaks(cell_light, cell_temp, diodes, cells)
    panel_power = harvest["panel_power_w"].to_numpy()
    yield panel_power.mean(axis=0)
    wired, delivered = _shared_out(harvest, panels, controllers)
    yield wired
    yield delivered
    solar, curtailed = (planned[name].to_numpy()[0] for name in ("solar_power_w", "curtailed_power_w"))
    offered = solar + curtailed
    taken = np.divide(solar, offered, out=np.ones_like(solar), where=offered > 0.0)
    yield delivered * taken[:, None]


def _light(track: xr.Dataset, harvest: xr.Dataset) -> Iterator[Floats]:
    """Yield the light on the panels, (time, panel), clear, cloudy, beam shaded, all shaded, mean over members."""
    from planner.physics.sky.decomposition import beam_and_diffuse
    from planner.simulation.harvest.collect import sky_light
    from planner.simulation.sky.clear_sky import clear_sky
    from planner.simulation.sky.weather import middles

    elevation = harvest["sun_elevation_deg"].to_numpy()
    open_view, sea_view = (harvest[name].to_numpy() for name in ("beam_view_fraction", "sea_view_fraction"))

    def unshaded(beam: Floats, isotropic: Floats, sea: Floats) -> Floats:
        parts = (beam, open_view), (isotropic, 1.0 - sea_view), (sea, sea_view)
        return sum((light.mean(axis=0)[:, None] * view for light, view in parts), np.zeros_like(open_view))

    _, _, ghi, extra = clear_sky(*middles(track))
    dni, dhi = beam_and_diffuse(ghi, elevation, extra)
    yield unshaded(*sky_light(track, elevation, ghi[None], dni[None], dhi[None]))
    beam, isotropic, sea = sky_light(
        track, elevation, *(harvest[name].to_numpy() for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"))
    )
    cloudy = unshaded(beam, isotropic, sea)
    yield cloudy
    lit = harvest["beam_lit_fraction"].to_numpy()[0]
    yield cloudy - beam.mean(axis=0)[:, None] * open_view * (1.0 - lit)
    yield harvest["poa_w_m2"].to_numpy().mean(axis=0)


def _shared_out(
    harvest: xr.Dataset, panels: Sequence[Panel], controllers: Sequence[Controller]
) -> tuple[Floats, Floats]:
    """Return each panel's part of what comes out of the wire, and of the controller, (time, panel) [W].

    A panel that takes from its string bears no part of the losses that the others' power meets.
    """
    names = [panel.name for panel in panels]
    power = harvest["panel_power_w"].to_numpy()
    wired, delivered = np.zeros(power.shape[1:]), np.zeros(power.shape[1:])
    for c, controller in enumerate(controllers):
        of_panel = [names.index(name) for string in controller.strings for name in string]
        own = power[..., of_panel]
        gives = np.maximum(own, 0.0)
        total = gives.sum(axis=2, keepdims=True)
        share = np.divide(gives, total, out=np.zeros_like(gives), where=total > 0.0)
        wire = harvest["wire_loss_power_w"].to_numpy()[..., c, None]
        out = harvest["controller_power_w"].to_numpy()[..., c, None]
        converter = own.sum(axis=2, keepdims=True) - wire - out
        wired[:, of_panel] = (own - share * wire).mean(axis=0)
        delivered[:, of_panel] = (own - share * (wire + converter)).mean(axis=0)
    return wired, delivered


@njit(cache=True, error_model="numpy")
def _own_peaks(light: Floats, cell_temp_c: Floats, diodes: Floats, cells: Floats) -> Floats:
    """Return the power of each panel alone, evenly lit and at its peak, (time, panel), mean over members [W]."""
    members, steps, panels = light.shape
    mean = np.zeros((steps, panels))
    for m in range(members):
        for t in range(steps):
            for p in range(panels):
                if light[m, t, p] <= 0.0:
                    continue
                suns, figures = light[m, t, p] / REFERENCE_W_M2, diodes[p]
                amps, dark, slope = at_conditions(
                    figures[0], figures[1], figures[2], figures[5], cell_temp_c[m, t, p]
                )
                own = peak_power_w(amps * suns, dark, slope, figures[3], figures[4] * suns)
                mean[t, p] += cells[p] * own / members
    return mean
