"""Light on cells to power at the bus, for every member and step, one voltage held over the roll."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from planner.domain.arrays import Bools, Floats, Ints
from planner.physics.array.controllers import output_power_w
from planner.physics.diode import at_conditions
from planner.physics.kernels import most_between
from planner.physics.strings import (
    AMPS,
    BYPASS_V,
    MOST_POINTS,
    VOLTS,
    add_in_parallel,
    add_in_series,
    cell_string_curve,
    held_voltage,
    voltage_near,
)
from planner.physics.strings.tables import (
    ALIKE,
    DARK,
    END_A,
    FIGURES,
    LEAST_V,
    SERIES,
    SLOPE,
)
from planner.simulation.harvest.alike import KINDS, equal_strings, group_cells, light_cells, sort_out

_NEVER_V: Final = -1e6  # V; a substring without a bypass diode never falls so far


class Wiring(NamedTuple):
    """What belongs to what, from cells up to controllers, and the cells' figures.

    Attributes
    ----------
    cell_first : int array (panel + 1,)
        Where each panel's cells begin, in the order of ``layout.cell_places``.
    substring_first : int array (panel + 1,)
        Where its substrings begin.
    strings_first : int array (substring + 1,)
        Where their strings of cells begin.
    in_series : int array (panel,)
        Cells of one of these strings.
    cell_diode : array (panel, 6)
        One cell at 1000 W/m2 and 25 C: light and saturation current, slope, series resistance, shunt conductance,
        change of light current [A, A, V, ohm, S, A/K].
    bypassed : bool array (panel,)
        Whether its substrings have bypass diodes.
    controller_strings, string_panels, panel_order : int array
        ``panel_order[string_panels[s]:string_panels[s + 1]]`` are the panels of string s;
        ``controller_strings[c]:controller_strings[c + 1]`` the strings of controller c.
    wire_ohm, least_v : array (controller,)
        Wire to it, input voltage that it needs [ohm, V].
    stays_upper, follows_roll : bool array (controller,)
        Whether it stays on the first power peak below open circuit; whether it finds the best for each node.
    """

    cell_first: Ints
    substring_first: Ints
    strings_first: Ints
    in_series: Ints
    cell_diode: Floats
    bypassed: Bools
    controller_strings: Ints
    string_panels: Ints
    panel_order: Ints
    wire_ohm: Floats
    least_v: Floats
    stays_upper: Bools
    follows_roll: Bools


@njit(cache=True)
def _is_lit(member: int, step: int, beam: Floats, sky_light: Floats, sea_light: Floats) -> bool:
    """Return whether any light falls on the boat in a step."""
    if beam[member, step] > 0.0:
        return True
    for panel in range(sky_light.shape[2]):
        if sky_light[member, step, panel] > 0.0 or sea_light[member, step, panel] > 0.0:
            return True
    return False


@njit(cache=True, error_model="numpy")
def _list_parts(n: int, s: int, wiring: Wiring, twin: Ints, parts: Floats) -> None:
    """Fill the unlike substrings of a string of panels and how many there are of each."""
    used = 0
    for place in range(wiring.string_panels[s], wiring.string_panels[s + 1]):
        p = wiring.panel_order[place]
        before = used
        for b in range(wiring.substring_first[p], wiring.substring_first[p + 1]):
            found = -1
            for entry in range(before + 1, used + 1):
                if parts[n, s, entry, 0] == twin[n, b]:
                    found = entry
            if found < 0:
                used += 1
                found = used
                parts[n, s, found, 0], parts[n, s, found, 1] = twin[n, b], 0.0
            parts[n, s, found, 1] += 1.0
    parts[n, s, 0, 0] = used


@njit(cache=True, error_model="numpy")
def deliver(  # noqa: C901, PLR0912, PLR0915, PLR0917 - one loop, compiled; no keyword-only arguments
    beam: Floats,
    beam_gain: Floats,
    cell_lit: Floats,
    sky_light: Floats,
    string_share: Floats,
    sea_light: Floats,
    clean: Floats,
    cell_temp_c: Floats,
    node_weight: Floats,
    wiring: Wiring,
    load: Floats,
    efficiency: Floats,
    rated_w: Floats,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return what panels contribute and controllers deliver, averaged over the roll after conversion to power.

    Parameters
    ----------
    beam : array (member, time)
        Light from the sun's direction normal to it [W/m2].
    beam_gain : array (time, node, panel)
        Beam on the cells, unshaded and clean, over ``beam`` [0..1]: incidence, glass and age.
    cell_lit : array (time, node, cell)
        Part of the beam that reaches the cell [0..1].
    sky_light, sea_light : array (member, time, panel)
        Light of sky and of sea on the cells, mean over the panel, clean [W/m2].
    string_share : array (time, string of cells)
        Light of the sky on the string's cells over the panel's mean [1].
    clean : array (member, time, panel)
        Part of the light that dirt and salt leave [0..1].
    cell_temp_c : array (member, time, panel)
        [degree Celsius].
    node_weight : array (node,)
        Sums to 1.
    wiring : Wiring
        Cells to controllers.
    load, efficiency : array (controller, entry)
        Input over rated output, and output over input there [1, 0..1].
    rated_w : array (controller,)
        Output limit [W].

    Returns
    -------
    panel_power_w : array (member, time, panel)
        At the string's working point; negative where a panel takes from its string [W].
    controller_power_w, wire_loss_w : array (member, time, controller)
        To the bus, and heat in the wire before it [W].
    cell_light_w_m2 : array (member, time, panel)
        Light that the cells use, mean over the panel [W/m2].
    """
    cell_first, substring_first, strings_first = wiring.cell_first, wiring.substring_first, wiring.strings_first
    in_series, cell_diode = wiring.in_series, wiring.cell_diode
    members, steps = beam.shape
    nodes, panels = beam_gain.shape[1], beam_gain.shape[2]
    controllers, strings = rated_w.size, wiring.string_panels.size - 1
    count, cell_strings = strings_first.size - 1, strings_first[-1]
    beside = most_between(strings_first)
    in_string = 1
    for s in range(strings):
        held = 0
        for place in range(wiring.string_panels[s], wiring.string_panels[s + 1]):
            p = wiring.panel_order[place]
            held += substring_first[p + 1] - substring_first[p]
        in_string = max(in_string, held)
    panel_of = np.empty(count, np.int64)
    for p in range(panels):
        panel_of[substring_first[p] : substring_first[p + 1]] = p
    most_strings = most_between(wiring.controller_strings)
    points_b = MOST_POINTS * beside + 1
    points_s = points_b * in_string + 1
    panel_power = np.zeros((members, steps, panels))
    controller_power, wire_loss = np.zeros((members, steps, controllers)), np.zeros((members, steps, controllers))
    cell_light = np.zeros((members, steps, panels))
    # kinds of light on the cells of each string, shared by all members: lit fraction, share of the sky, how many
    kinds, twin = np.zeros((nodes, cell_strings, 3, KINDS + 1)), np.empty((nodes, count), np.int64)
    mean_lit = np.empty((nodes, panels))
    levels, substrings = np.zeros((nodes, cell_strings, 3, KINDS + 1)), np.zeros((nodes, count, FIGURES))
    parts = np.zeros((nodes, strings, in_string + 1, 2))
    curves, points = np.empty((nodes, count, 2, points_b)), np.zeros((nodes, count), np.int64)
    own, own_points = np.empty((beside, 2, MOST_POINTS)), np.zeros(beside, np.int64)
    string_curves, string_points = (
        np.empty((nodes, most_strings, 2, points_s)),
        np.zeros((nodes, most_strings), np.int64),
    )
    inputs, input_points = np.empty((nodes, 2, points_s * most_strings + 1)), np.zeros(nodes, np.int64)
    places = np.zeros(max(in_string, most_strings, nodes, beside), np.int64)
    found = np.zeros((nodes, 3, most_strings))
    for t in range(steps):
        lit_members = 0
        for m in range(members):
            lit_members += _is_lit(m, t, beam, sky_light, sea_light)
        if lit_members == 0:
            continue
        for n in range(nodes):
            for p in range(panels):
                at = cell_first[p]
                mean_lit[n, p] = np.mean(cell_lit[t, n, at : cell_first[p + 1]])
                first, stop = substring_first[p], substring_first[p + 1]
                for q in range(strings_first[first], strings_first[stop]):
                    group_cells(cell_lit[t, n, at : at + in_series[p]], string_share[t, q], kinds[n, q])
                    at += in_series[p]
                sort_out(n, first, stop, kinds, strings_first, substrings, twin)
            for s in range(strings):
                _list_parts(n, s, wiring, twin, parts)
        for m in range(members):
            if not _is_lit(m, t, beam, sky_light, sea_light):
                continue
            for p in range(panels):
                d = cell_diode[p]
                light_a, dark, slope = at_conditions(d[0], d[1], d[2], d[5], cell_temp_c[m, t, p])
                sky, sea = sky_light[m, t, p] * clean[m, t, p], sea_light[m, t, p] * clean[m, t, p]
                floor = -BYPASS_V if wiring.bypassed[p] else _NEVER_V
                for n in range(nodes):
                    direct = beam[m, t] * beam_gain[t, n, p] * clean[m, t, p]
                    cell_light[m, t, p] += node_weight[n] * (direct * mean_lit[n, p] + sky + sea)
                    for b in range(substring_first[p], substring_first[p + 1]):
                        if twin[n, b] != b:
                            continue
                        substrings[n, b, DARK], substrings[n, b, SLOPE] = dark, slope
                        substrings[n, b, SERIES], substrings[n, b, LEAST_V] = d[3], floor
                        start, stop = strings_first[b], strings_first[b + 1]
                        if substrings[n, b, ALIKE] > 0.0:
                            light_cells(n, start, kinds, (direct, sky, sea), light_a, d[4], levels)
                            used = cell_string_curve(n, b, start, stop - start, levels, substrings, curves[n, b])
                        else:
                            for q in range(start, stop):
                                light_cells(n, q, kinds, (direct, sky, sea), light_a, d[4], levels)
                                own_points[q - start] = cell_string_curve(
                                    n, b, q, 1.0, levels, substrings, own[q - start]
                                )
                            used = add_in_parallel(own, own_points, stop - start, 0.0, places, curves[n, b])
                        points[n, b] = used
                        substrings[n, b, END_A] = curves[n, b, AMPS, used - 1] if wiring.bypassed[p] else np.inf
            for c in range(controllers):
                first, last = wiring.controller_strings[c], wiring.controller_strings[c + 1]
                used = last - first
                equal = used > 1
                for n in range(nodes):
                    equal = equal and equal_strings(n, first, last, parts, levels, substrings)
                # equal strings share the current equally, so one of them sees the wire times their number
                repeated = used if equal else 1
                used //= repeated
                wire = wiring.wire_ohm[c] * repeated
                for n in range(nodes):
                    for s in range(used):
                        string_points[n, s] = add_in_series(
                            n, first + s, parts, curves, points, wiring.least_v[c], places, string_curves[n, s]
                        )
                    if used > 1:
                        input_points[n] = add_in_parallel(
                            string_curves[n], string_points[n], used, wire, places, inputs[n]
                        )
                        continue
                    input_points[n] = string_points[n, 0]
                    for point in range(input_points[n]):
                        amps = string_curves[n, 0, AMPS, point]
                        inputs[n, AMPS, point] = amps
                        inputs[n, VOLTS, point] = string_curves[n, 0, VOLTS, point] - amps * wire
                for start in range(nodes if wiring.follows_roll[c] else 1):
                    stop = start + 1 if wiring.follows_roll[c] else nodes
                    voltage = held_voltage(
                        node_weight,
                        start,
                        stop,
                        wire,
                        wiring.least_v[c],
                        wiring.stays_upper[c],
                        first,
                        used,
                        inputs,
                        input_points,
                        string_curves,
                        string_points,
                        parts,
                        levels,
                        substrings,
                        places,
                        found,
                    )
                    if voltage == 0.0:
                        continue
                    for n in range(start, stop):
                        total = 0.0
                        for s in range(used):
                            total += repeated * found[n, 0, s]
                        if total <= 0.0:
                            continue
                        weight = node_weight[n]
                        controller_power[m, t, c] += weight * output_power_w(
                            voltage * total, load[c], efficiency[c], rated_w[c]
                        )
                        wire_loss[m, t, c] += weight * wiring.wire_ohm[c] * total * total
                        for s in range(first, last):
                            like = (s - first) % used  # the string that was solved for all equal ones
                            amps = found[n, 0, like]
                            for entry in range(1, int(parts[n, s, 0, 0]) + 1):
                                volts = voltage_near(amps, n, int(parts[n, first + like, entry, 0]), substrings)
                                p = panel_of[int(parts[n, s, entry, 0])]
                                panel_power[m, t, p] += weight * amps * parts[n, s, entry, 1] * volts
    return panel_power, controller_power, wire_loss, cell_light
