"""Light on substrings to power at the bus, for every member, step and roll node."""

from __future__ import annotations

import numpy as np
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.physics.array.controllers import output_power_w
from planner.physics.diode import LEAST_LIGHT_W_M2, REFERENCE_W_M2, at_conditions
from planner.physics.strings import (
    COLUMNS,
    COUNT,
    DARK,
    LAST,
    LIGHT,
    SERIES,
    SHUNT,
    SLOPE,
    TAKEOVER,
    complete_row,
    parallel_peak,
    parallel_upper_peak,
    string_peak,
    string_upper_peak,
    substring_voltage_v,
)


@njit(cache=True)
def _gather(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    panels: Ints,
    substring_offsets: Ints,
    light: Floats,
    figures: Floats,
    rows: Floats,
    row_of: Ints,
) -> int:
    """Fill one string's rows, equal substrings counted together; return how many rows there are.

    ``row_of`` gets the row of each substring.
    """
    used = 0
    for p in panels:
        for s in range(substring_offsets[p], substring_offsets[p + 1]):
            suns = max(light[s], LEAST_LIGHT_W_M2) / REFERENCE_W_M2
            amps, dark, slope, series = figures[p, 0] * suns, figures[p, 1], figures[p, 2], figures[p, 3]
            shunt = figures[p, 4] * suns
            found = -1
            for r in range(used):
                if (
                    rows[r, LIGHT] == amps
                    and rows[r, DARK] == dark
                    and rows[r, SLOPE] == slope
                    and rows[r, SERIES] == series
                    and rows[r, SHUNT] == shunt
                ):
                    found = r
                    break
            if found < 0:
                found = used
                used += 1
                rows[found, LIGHT] = amps
                rows[found, DARK] = dark
                rows[found, SLOPE] = slope
                rows[found, SERIES] = series
                rows[found, SHUNT] = shunt
                rows[found, COUNT] = 0.0
                complete_row(rows, found)
            rows[found, COUNT] += 1.0
            row_of[s] = found
    return used


@njit(cache=True)
def _sort_rows(rows: Floats, ordered: Floats) -> None:
    """Copy rows into ``ordered``, rising by take-over current."""
    for r in range(rows.shape[0]):
        at = r
        while at > 0 and ordered[at - 1, TAKEOVER] > rows[r, TAKEOVER]:
            for c in range(LAST):
                ordered[at, c] = ordered[at - 1, c]
            at -= 1
        for c in range(LAST):
            ordered[at, c] = rows[r, c]


@njit(cache=True)
def _add_panels(  # noqa: PLR0917 - compiled kernels take no keyword-only arguments
    current: float,
    weight: float,
    panels: Ints,
    substring_offsets: Ints,
    rows: Floats,
    row_of: Ints,
    volts: Floats,
    panel_power: Floats,
) -> None:
    """Add what each panel of a string contributes at its current, weighted, to ``panel_power``."""
    for r in range(rows.shape[0]):
        volts[r] = substring_voltage_v(current, rows, r)
    for p in panels:
        for s in range(substring_offsets[p], substring_offsets[p + 1]):
            panel_power[p] += weight * current * volts[row_of[s]]


@njit(cache=True)
def _all_alike(rows: Floats, offsets: Ints) -> bool:
    """Return whether all strings have the same rows."""
    width = offsets[1]
    for s in range(1, offsets.size - 1):
        if offsets[s + 1] - offsets[s] != width:
            return False
        for r in range(width):
            for c in range(LAST):
                if rows[r, c] != rows[offsets[s] + r, c]:
                    return False
    return True


@njit(cache=True)
def deliver(  # noqa: C901, PLR0912, PLR0915, PLR0917 - one loop, compiled; no keyword-only arguments
    beam: Floats,
    beam_gain: Floats,
    lit: Floats,
    diffuse_light: Floats,
    clean: Floats,
    cell_temp_c: Floats,
    node_weight: Floats,
    substring_offsets: Ints,
    substring_diode: Floats,
    controller_strings: Ints,
    string_panels: Ints,
    panel_order: Ints,
    load: Floats,
    efficiency: Floats,
    rated_w: Floats,
    wire_ohm: Floats,
    least_v: Floats,
    stays_upper: Bools,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return what panels contribute and controllers deliver, averaged over the roll after conversion to power.

    Parameters
    ----------
    beam : array (member, time)
        Light from the sun's direction normal to it [W/m2].
    beam_gain : array (time, node, panel)
        Beam on the cells, unshaded and clean, over ``beam`` [0..1]: incidence, glass and age.
    lit : array (time, node, substring)
        Part of the beam that reaches the substring [0..1].
    diffuse_light : array (member, time, panel)
        Light of sky and sea on the cells, clean [W/m2].
    clean : array (member, time, panel)
        Part of the light that dirt and salt leave [0..1].
    cell_temp_c : array (member, time, panel)
        [degree Celsius].
    node_weight : array (node,)
        Sums to 1.
    substring_offsets : int array (panel + 1,)
        Where each panel's substrings begin.
    substring_diode, controller_strings, string_panels, panel_order, load, efficiency, rated_w, \
    wire_ohm, least_v, stays_upper
        As in ``planner.simulation.harvest.array.Array``.

    Returns
    -------
    panel_power_w : array (member, time, panel)
        At the string's working point; negative where a panel takes from its string [W].
    controller_power_w, wire_loss_w : array (member, time, controller)
        To the bus, and heat in the wire before it [W].
    cell_light_w_m2 : array (member, time, panel)
        Light that the cells use, mean over the panel [W/m2].
    """
    members, steps = beam.shape
    nodes, panels = beam_gain.shape[1], beam_gain.shape[2]
    controllers = rated_w.size
    substrings = lit.shape[2]
    panel_power = np.zeros((members, steps, panels))
    controller_power, wire_loss = np.zeros((members, steps, controllers)), np.zeros((members, steps, controllers))
    cell_light = np.zeros((members, steps, panels))
    figures = np.empty((panels, 5))
    light = np.empty(substrings)
    rows, ordered = np.empty((substrings, COLUMNS)), np.empty((substrings, COLUMNS))
    volts, row_of = np.empty(substrings), np.empty(substrings, np.int64)
    offsets, currents = np.zeros(string_panels.size, np.int64), np.empty(string_panels.size)
    for m in range(members):
        for t in range(steps):
            if beam[m, t] <= 0.0 and np.max(diffuse_light[m, t]) <= 0.0:
                continue
            for p in range(panels):
                d = substring_diode[p]
                figures[p, 0], figures[p, 1], figures[p, 2] = at_conditions(
                    d[0], d[1], d[2], d[5], cell_temp_c[m, t, p]
                )
                figures[p, 3], figures[p, 4] = d[3], d[4]
            for node in range(nodes):
                weight = node_weight[node]
                for p in range(panels):
                    direct = beam[m, t] * beam_gain[t, node, p] * clean[m, t, p]
                    diffuse = diffuse_light[m, t, p] * clean[m, t, p]
                    share = weight / (substring_offsets[p + 1] - substring_offsets[p])
                    for s in range(substring_offsets[p], substring_offsets[p + 1]):
                        light[s] = direct * lit[t, node, s] + diffuse
                        cell_light[m, t, p] += share * light[s]
                for c in range(controllers):
                    first, last = controller_strings[c], controller_strings[c + 1]
                    used = 0
                    for s in range(first, last):
                        members_of = panel_order[string_panels[s] : string_panels[s + 1]]
                        new = _gather(members_of, substring_offsets, light, figures, rows[used:], row_of)
                        _sort_rows(rows[used : used + new], ordered[used : used + new])
                        used += new
                        offsets[s - first + 1] = used
                    strings = last - first
                    alike = strings == 1 or _all_alike(ordered, offsets[: strings + 1])
                    if alike:
                        # Equal strings share the current equally, so each sees the wire times their number.
                        wire = wire_ohm[c] * strings
                        if stays_upper[c]:
                            power, current = string_upper_peak(ordered[: offsets[1]], wire, least_v[c])
                        else:
                            power, current = string_peak(ordered[: offsets[1]], wire, least_v[c])
                        power *= strings
                        currents[:strings] = current
                    elif stays_upper[c]:
                        power = parallel_upper_peak(
                            ordered[:used], offsets[: strings + 1], wire_ohm[c], least_v[c], currents
                        )
                    else:
                        power = parallel_peak(
                            ordered[:used], offsets[: strings + 1], wire_ohm[c], least_v[c], currents
                        )
                    if power <= 0.0:
                        continue
                    controller_power[m, t, c] += weight * output_power_w(power, load[c], efficiency[c], rated_w[c])
                    total_a = currents[:strings].sum()
                    wire_loss[m, t, c] += weight * wire_ohm[c] * total_a * total_a
                    for s in range(first, last):
                        _add_panels(
                            currents[s - first],
                            weight,
                            panel_order[string_panels[s] : string_panels[s + 1]],
                            substring_offsets,
                            rows[offsets[s - first] : offsets[s - first + 1]],
                            row_of,
                            volts,
                            panel_power[m, t],
                        )
    return panel_power, controller_power, wire_loss, cell_light
