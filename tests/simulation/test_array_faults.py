"""What is said about panels and controllers that cannot be right."""

from __future__ import annotations

import pytest
from shade_case import RIG as WHOLE_RIG

from planner.domain.inputs.power import Bank, Controller, Panel, Soiling
from planner.presentation.words.notes import all_said
from planner.simulation.harvest.array import build_array, cell_grid
from planner.simulation.harvest.array_checks import array_faults, array_warnings

RIG = WHOLE_RIG.model_copy(update={"sprayhood": None})

BANK = Bank(chemistry="agm", capacity_ah=200.0, reserve_soc=0.5)


def panel(name: str = "arch", **changes: object) -> Panel:
    figures = {
        "name": name,
        "centre_m": (0.0, 0.0, 2.0),
        "length_m": 1.05,
        "width_m": 0.54,
        "mounting": "open",
        "max_power_w": 100.0,
        "max_power_v": 18.6,
        "max_power_a": 5.38,
        "open_circuit_v": 22.2,
        "short_circuit_a": 5.75,
        "cells": 36,
        "substrings": 2,
    }
    return Panel.model_validate(figures | changes)


def controller(*strings: tuple[str, ...], **changes: object) -> Controller:
    return Controller.model_validate({"name": "tracker", "strings": strings} | changes)


def faults(panels: list[Panel], controllers: list[Controller], bank: Bank = BANK) -> list[str]:
    return [str(fault) for fault in array_faults(panels, controllers, bank, "boat.toml")]


def test_a_sound_boat_has_none():
    assert faults([panel()], [controller(("arch",))]) == []


@pytest.mark.parametrize(
    ("changes", "key", "said"),
    [
        ({"max_power_a": 5.8, "max_power_w": 107.9}, "panel[0].max_power_a", "short-circuit 5.75 A"),
        ({"max_power_v": 22.5, "max_power_w": 121.0}, "panel[0].max_power_v", "open-circuit 22.2 V"),
        ({"max_power_w": 110.0}, "panel[0].max_power_w", "= 100 W"),
        ({"substrings": 5}, "panel[0].substrings", "do not divide"),
        ({"cells": 360}, "panel[0]", "no diode fits"),
    ],
)
def test_a_data_sheet_that_cannot_be(changes: dict[str, object], key: str, said: str):
    (fault,) = faults([panel(**changes)], [controller(("arch",))])
    assert fault.startswith(f"boat.toml: {key}:")
    assert said in fault


def test_all_faults_come_together():
    found = faults(
        [panel("arch"), panel("bimini", max_power_w=130.0), panel("coachroof")],
        [controller(("arch",), ("arch", "binimi"))],
    )
    assert len(found) == 5
    assert any("Did you mean 'bimini'?" in fault for fault in found)
    assert any("'arch' is wired 2 times" in fault for fault in found)
    assert any("'coachroof' is on no controller" in fault for fault in found)


def test_two_of_one_name():
    found = faults([panel(), panel()], [controller(("arch",)), controller(("arch",))])
    assert any("two panels are called 'arch'" in fault for fault in found)
    assert any("two controllers are called 'tracker'" in fault for fault in found)


def test_an_empty_string():
    assert "has no panel" in faults([panel()], [controller(("arch",), ())])[0]


def test_a_string_that_never_reaches_the_bank():
    bank = Bank(chemistry="agm", capacity_ah=200.0, reserve_soc=0.5, nominal_v=24)
    (fault,) = faults([panel()], [controller(("arch",))], bank)
    assert "22.2 V open-circuit never reaches the 29.8 V" in fault


def test_a_string_that_destroys_its_controller_in_the_cold():
    panels = [panel("one"), panel("two")]
    # Twice 22.2 V, and a tenth more at -10 C.
    (fault,) = faults(panels, [controller(("one", "two"), max_input_v=48.0)])
    assert "49.1 V open-circuit at -10 C is over the 48 V" in fault
    assert faults(panels, [controller(("one", "two"), max_input_v=50.0)]) == []


def test_a_string_over_fifty_volts_is_warned_of():
    panels = [panel(name, cells_along=9) for name in ("one", "two", "three")]
    assert array_warnings(panels, [controller(("one", "two"), ("three",))]) == []
    (warning,) = all_said(array_warnings(panels, [controller(("one", "two", "three"))]))
    assert "74 V DC" in warning


def test_a_layout_that_is_not_stated_is_said_once_for_all_panels_alike():
    panels = [panel("one"), panel("two"), panel("three", cells_along=9)]
    (warning,) = all_said(array_warnings(panels, [controller(("one",), ("two",), ("three",))]))
    assert "one, two" in warning
    assert "three" not in warning


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"cells_along": 7, "cells_across": 5}, "panel[0].cells_along"),  # 35 of 36
        ({"cells_along": 12, "cells_across": 3}, "panel[0].cells_along"),  # two substrings do not divide three
        ({"cells_along": 9, "cells_across": 4, "parallel_strings": 2}, "panel[0].cells_along"),  # of 72
        ({"cells": 35, "substrings": 5, "parallel_strings": 11, "cells_across": 4}, "panel[0].cells_along"),
    ],
)
def test_a_layout_that_its_cells_do_not_fill_or_its_wiring_not_divide_is_a_fault(changes: dict, key: str):
    faults = array_faults([panel("one", **changes)], [controller(("one",))], BANK, "boat.toml")
    assert key in {fault.key for fault in faults}


def test_age_and_dirt_take_their_part_of_the_light():
    array = build_array(
        [panel(age_years=5.0, ageing_per_year=0.02)],
        [controller(("arch",), soiling_fraction=0.1)],
        bus_v=14.4,
        soiling=Soiling(),
        rig=RIG,
    )
    assert array.kept == pytest.approx([0.9 * 0.9])


def test_strings_are_laid_out_in_the_order_of_their_controllers():
    panels = [panel("a"), panel("b"), panel("c")]
    array = build_array(
        panels,
        [controller(("c", "a")), controller(("b",), name="other")],
        bus_v=14.4,
        soiling=Soiling(),
        rig=RIG,
    )
    assert array.wiring.controller_strings.tolist() == [0, 1, 2]
    assert array.wiring.string_panels.tolist() == [0, 2, 3]
    assert array.wiring.panel_order.tolist() == [2, 0, 1]


def test_cells_substrings_and_strings_of_cells_are_counted_panel_by_panel():
    panels = [panel("a"), panel("b", cells=20, substrings=1, parallel_strings=3, bypass_diodes=False)]
    wiring = build_array(
        panels, [controller(("a", "b"), follows_roll=True)], bus_v=14.4, soiling=Soiling(), rig=RIG
    ).wiring
    assert wiring.cell_first.tolist() == [0, 36, 96]
    assert wiring.substring_first.tolist() == [0, 2, 3]
    assert wiring.strings_first.tolist() == [0, 1, 2, 5]
    assert wiring.in_series.tolist() == [18, 20]
    assert wiring.bypassed.tolist() == [True, False]
    assert wiring.follows_roll.tolist() == [True]


def test_a_grid_given_by_one_side_is_completed_and_one_left_out_is_the_usual():
    assert cell_grid(panel()) == (9, 4)
    assert cell_grid(panel(cells_along=6)) == (6, 6)
    assert cell_grid(panel(cells_across=12)) == (3, 12)
    assert cell_grid(panel(cells_along=18, cells_across=4, parallel_strings=2)) == (18, 4)
