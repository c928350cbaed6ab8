"""What is left is wired anew: every number by hand from the data sheet of one panel, on 12, 24 and 48 V.

The panel: 18.3 V and 10.93 A at its best, 21.9 V open, -0.28 %/C of volts, -0.36 %/C of power. With cells 25 C warmer
than the sheet's it is best at 18.3 x 0.91 = 16.653 V and open at 21.9 x 0.93 = 20.367 V; at -10 C it is open at
21.9 x 1.098 = 24.05 V.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from study_case import demo_inputs, demo_plan

from planner.domain.inputs.boat import Boat
from planner.studies.panels.pairs import pair_wirings
from planner.studies.wiring import Strings, even_sun_w, reasons, rewiring, string_faults, with_panel, without_panels


def boat_of(nominal_v: float, *strings: str) -> Boat:
    """The demo's boat with alike panels named by letters on one controller, which charges at 14.4 V a 12 V."""
    boat = demo_inputs().boat
    like = next(panel for panel in boat.panel if panel.name == "arch port")
    panels = tuple(like.model_copy(update={"name": name}) for name in "".join(strings))
    one = boat.controller[0].model_copy(update={"name": "one", "strings": tuple(map(tuple, strings))})
    bank = boat.bank.model_copy(update={"nominal_v": nominal_v, "absorption_v": 1.2 * nominal_v})
    return boat.model_copy(update={"panel": panels, "controller": (one,), "bank": bank})


def strings_of(boat: Boat) -> Strings:
    (controller,) = boat.controller
    return controller.strings


def said_of(before: Boat, *names: str) -> dict[str, object]:
    notes = rewiring(before, without_panels(before, names), names)
    return {note.code: next(iter(note.figures.values())) for note in notes}


@pytest.mark.parametrize("taken", "abcd")
def test_of_two_by_two_on_24_v_one_string_is_left_and_one_panel_idle(taken: str) -> None:
    """One panel's 21.9 V never reach 28.8 + 1 V; three in series stand at 72 V cold, over 50 V DC."""
    boat = boat_of(24.0, "ab", "cd")
    kept, partner = {"a": ("cd", "b"), "b": ("cd", "a"), "c": ("ab", "d"), "d": ("ab", "c")}[taken]
    fewer = without_panels(boat, [taken])
    assert strings_of(fewer) == (tuple(kept),)
    assert [panel.name for panel in fewer.panel] == list(kept)
    assert said_of(boat, taken) == {"lies_idle": partner}


def test_of_both_strings_one_each_makes_a_string_of_their_partners() -> None:
    boat = boat_of(24.0, "ab", "cd")
    assert strings_of(without_panels(boat, ["a", "c"])) == (("b", "d"),)
    assert said_of(boat, "a", "c") == {"wired_anew": "b + d"}


def test_on_24_v_without_its_partner_the_last_panel_brings_nothing() -> None:
    boat = boat_of(24.0, "ab")
    assert {panel.ageing_per_year for panel in without_panels(boat, ["a"]).panel} == {1.0}
    assert said_of(boat, "a") == {"lies_idle": "b"}


def test_on_12_v_what_is_left_of_two_by_two_is_three_in_parallel() -> None:
    """Three at 16.65 V bring 3 x 182 W; with a string of two beside the third, one of the two is wasted."""
    boat = boat_of(12.0, "ab", "cd")
    assert strings_of(without_panels(boat, ["d"])) == (("a",), ("b",), ("c",))


def test_on_12_v_a_series_of_three_loses_one_and_stays_in_series() -> None:
    """Both wirings of two bring as much in even sun: then nothing is changed but the gap."""
    assert strings_of(without_panels(boat_of(12.0, "abc"), ["b"])) == (("a", "c"),)


def test_on_48_v_a_string_of_three_just_reaches_the_bank() -> None:
    """Needed: 57.6 + 1 = 58.6 V. Open 65.7 V pass the check; warm, three bend from 49.96 to 61.10 V.

    At 58.6 V they still give (61.101 - 58.6) / (61.101 - 49.959) = 0.2245 of 10.93 A. Beside a whole string of four,
    10.93 A x 1.2245 x 58.6 V = 784 W, over the 4 x 182 = 728 W of that alone: so three are wired, and said.
    """
    boat = boat_of(48.0, "abcd", "efgh")
    assert strings_of(without_panels(boat, ["a"])) == (("e", "f", "g", "h"), ("b", "c", "d"))
    assert said_of(boat, "a") == {"wired_anew": "b + c + d"}
    panel, (one,) = boat.panel[0], boat.controller
    assert even_sun_w([[panel] * 4, [panel] * 3], one, boat.bank) == pytest.approx(784.3, abs=0.5)
    assert even_sun_w([[panel] * 4], one, boat.bank) == pytest.approx(4 * 16.653 * 10.93, abs=0.1)


def test_on_48_v_two_are_left_over_of_a_string_and_lie_idle() -> None:
    """Two are open at 43.8 V, under 58.6 V; five in series stand at 120 V cold, over the 96 V of today's strings."""
    boat = boat_of(48.0, "abcd", "efgh")
    assert strings_of(without_panels(boat, ["a", "b"])) == (("e", "f", "g", "h"),)
    assert said_of(boat, "a", "b") == {"lies_idle": "c, d"}


def test_a_controllers_rating_bounds_what_strings_are_worth() -> None:
    boat = boat_of(24.0, "ab", "cd")
    small = boat.controller[0].model_copy(update={"max_output_w": 300.0})
    assert even_sun_w([boat.panel[:2], boat.panel[2:]], small, boat.bank) == 300.0


def test_what_the_boat_has_in_one_string_may_stay_so_though_unlike() -> None:
    boat = boat_of(24.0, "abc")
    weak = boat.panel[2].model_copy(update={"max_power_a": 5.0, "short_circuit_a": 5.5, "max_power_w": 91.5})
    boat = boat.model_copy(update={"panel": (*boat.panel[:2], weak)})
    assert strings_of(without_panels(boat, ["a"])) == (("b", "c"),)


def with_one_more(boat: Boat) -> Boat:
    alone = boat.controller[0].model_copy(update={"name": "new", "strings": (("z",),)})
    return with_panel(boat, boat.panel[0].model_copy(update={"name": "z"}), alone)


def test_one_more_joins_a_string_where_alone_it_reaches_no_bank() -> None:
    """On 24 V three in series and one more make two strings of two: 4 x 182 W in place of 3 x 182 W."""
    before = boat_of(24.0, "abc")
    after = with_one_more(before)
    assert strings_of(after) == (("a", "b"), ("c", "z"))
    assert [note.figures["strings"] for note in rewiring(before, after)] == ["a + b; c + z"]


def test_one_more_that_finds_no_string_stays_alone_and_is_refused_in_words() -> None:
    after = with_one_more(boat_of(24.0, "ab", "cd"))
    assert [each.strings for each in after.controller] == [(("a", "b"), ("c", "d")), (("z",),)]
    why = reasons(string_faults(after.panel[-1:], after.controller[-1], after.bank))
    assert why.startswith("21.9 V open-circuit never reaches the 29.8 V that 'new' needs")


def test_on_12_v_one_more_has_a_controller_of_its_own() -> None:
    assert [each.name for each in with_one_more(boat_of(12.0, "ab")).controller] == ["one", "new"]


def test_a_pair_that_reaches_no_bank_alone_says_why_and_shows_no_figure() -> None:
    inputs = replace(demo_inputs(), boat=boat_of(24.0, "ab"))
    plan = demo_plan()
    (pair,) = pair_wirings(replace(plan, voyage=replace(plan.voyage, inputs=inputs)))
    assert pair.series_wh is not None
    assert pair.series_wh.planned > 0.0
    assert (pair.own_wh, pair.gain_wh, pair.failure) == (None, None, "")
    assert pair.own_failure.startswith("21.9 V open-circuit never reaches the 29.8 V that 'one' needs")


@pytest.mark.parametrize("names", [("a", "b", "c", "d"), ("a", "none of hers"), ("none of hers",)])
def test_only_some_of_the_panels_aboard_can_be_taken_off(names: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="not some of the panels"):
        without_panels(boat_of(24.0, "ab", "cd"), names)
