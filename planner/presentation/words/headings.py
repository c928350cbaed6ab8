"""A fan of headings in words and one table."""

from __future__ import annotations

from planner.domain.results.figures import Spread
from planner.domain.results.studies import HeadingFan, HeadingOption, PanelShift
from planner.presentation.words.content import Column, Table
from planner.presentation.words.notes import said
from planner.presentation.words.wording import bearing, joined, whole

TACKS = {1: "starboard", -1: "port"}


ONE_STEP_WH = 5.0  # Wh; a smaller difference is none


ONE_STEP_NM = 0.1  # nm, likewise


def answer(fan: HeadingFan) -> str:
    """Say in one sentence whether coming up 20 degrees costs power."""
    option = fan.coming_up
    if option is None:
        return "She cannot come up 20 degrees: that is too near the wind, or makes no ground."
    change = option.difference_wh.p50
    verdict = "costs no power worth naming" if abs(change) < ONE_STEP_WH else "costs" if change < 0.0 else "wins"
    words = f"Coming up 20 degrees, to {magnetic(option)}, {verdict}"
    if abs(change) >= ONE_STEP_WH:
        words += f" {_size(option.difference_wh)}, {abs(option.engine_min.p50):.0f} min of engine"
    return f"{words}, and {miles(option)} toward {fan.toward}."


def heading_sentences(fan: HeadingFan) -> tuple[str, str]:
    """Return what the planned heading brings, and whether another is worth its way: none that costs more.

    That is judged by the middle one of the members' differences, each taken from the same member's planned heading.
    """
    here = fan.planned
    words = (
        f"As planned she heads {magnetic(here)} on {TACKS[here.tack]} tack, {abs(here.heel_deg):.0f} degrees of "
        f"heel, and the sun brings {whole(here.solar_wh.p50)} Wh."
    )
    if fan.changes_tack:
        words += " She changes tack within these hours, so headings are means of both boards."
    free = [option for option in fan.options if max(_drives_more_h(option, fan)) <= 0.0]
    bring = [option for option in free if option.difference_wh.p50 >= ONE_STEP_WH]
    if not bring:
        return (words, "Hold your course: no other heading that she can sail brings more worth naming.")
    best = max(bring, key=lambda option: option.gain_min.p50)
    if best.gain_min.p50 >= 1.0 and best.engine_min.p50 <= -1.0:
        return (words, f"Worth it: {_called(best)}, {_weighed(best, fan)}.{_why(best)}")
    most = max(bring, key=lambda option: option.difference_wh.p50)
    return (
        words,
        f"Hold your course: most comes in on {_called(most)}, but it {_weighed(most, fan)}.{_why(most)}",
    )


def _drives_more_h(option: HeadingOption, fan: HeadingFan) -> tuple[float, float]:
    """Return by how much longer the engine drives on a heading, for the middle member and on the control's course."""
    return option.drives_more_h.p50, option.engine_driving_h - fan.planned.engine_driving_h


def _called(option: HeadingOption) -> str:
    return f"{magnetic(option)}, {TACKS[option.tack]} tack"


def _why(option: HeadingOption) -> str:
    """Return what most of a heading's gain comes from: the cause that brings most over the panels."""
    by_cause: dict[str, list[PanelShift]] = {}
    for shift in option.panels:
        if shift.difference_wh > 0.0 and shift.cause.code != "as_before":
            by_cause.setdefault(shift.cause.code, []).append(shift)
    if not by_cause:
        return ""
    shifts = max(by_cause.values(), key=lambda each: sum(shift.difference_wh for shift in each))
    names = joined([shift.name for shift in sorted(shifts, key=lambda shift: -shift.difference_wh)])
    return f" Most of it: {names} {said(shifts[0].cause)}, {sum(shift.difference_wh for shift in shifts):+.0f} Wh."


def _weighed(option: HeadingOption, fan: HeadingFan) -> str:
    """Return what a heading brings, saves and costs in time, and what is left of it over the members."""
    late = option.later_min.p50
    way = f"costs {late:.0f} min of way" if late > 0.0 else f"wins {-late:.0f} min of way"
    saved = f"saves {max(-option.engine_min.p50, 0.0):.0f} min of engine, {signed(option.difference_wh)} Wh,"
    words = f"{saved} and {way}: {signed(option.gain_min)} min in all"
    if 0 < option.gains_in < fan.members.k:
        words += f", a gain in {option.gains_in} of {fan.members.k} forecasts"
    return words


def options_table(fan: HeadingFan) -> Table:
    """Return each heading's figures beside the planned one's."""
    return Table(
        "Headings beside the planned one",
        (
            Column("Turn", "left"),
            Column("Heads"),
            Column("Tack"),
            Column("Gain min"),
            Column("Engine min"),
            Column("Lost nm"),
            Column("Difference Wh"),
            Column("Sun Wh"),
            Column("Lit %"),
            Column("Off bow"),
            Column("kn"),
            Column("Heel"),
            Column("Drives h"),
        ),
        tuple(_option_row(option, fan) for option in fan.options),
        note="Turn: degrees from the planned heading, + to starboard. Tack and heel: S starboard (side down), P "
        "port. Gain: minutes of engine spared less those that she is there later. Engine: minutes of charging that "
        "what the bank keeps of the difference costs, negative when spared; a minute stores "
        f"{fan.stored_per_engine_min_wh:.0f} Wh. Lost: ground toward {fan.toward}. Difference: sun less what "
        "steering draws, less the same as planned. These are of the middle forecast, in brackets of eight in ten. "
        f"{_whose(fan)} Lit part, angle off the bow, speed and heel are those of the plan's track. Drives: she "
        "cannot sail there, the engine must drive.",
    )


def _whose(fan: HeadingFan) -> str:
    """Return whose place and wind the figures are of."""
    sailed = fan.members
    if not fan.own_tracks:
        return f"All {sailed.k} forecasts are met at the planned places, in the wind that the plan is drawn for."
    of = (
        f"{sailed.k} of {sailed.n} forecasts stand" if sailed.k < sailed.n else f"Each of {sailed.n} forecasts stands"
    )
    return f"{of} at a place and in a wind of its own, and is set against its own track as planned."


def _option_row(option: HeadingOption, fan: HeadingFan) -> tuple[str, ...]:
    return (
        "plan" if option is fan.planned else f"{option.turn_deg:+.0f}".replace("+0", "0"),
        magnetic(option),
        TACKS[option.tack][0].upper(),
        signed(option.gain_min),
        minus(option.engine_min.p50),
        lost_words(option),
        signed(option.difference_wh),
        whole(option.solar_wh.p50),
        f"{100.0 * option.lit_fraction:.0f}",
        f"{abs(option.true_wind_angle_deg):.0f}",
        f"{option.speed_kn:.1f}",
        _side(option.heel_deg),
        f"{option.engine_driving_h:.1f}" if option.engine_driving_h else "",
    )


def turn_words(option: HeadingOption, fan: HeadingFan) -> str:
    """Return the turn from the planned heading: 'as planned', '20 to port'."""
    if option is fan.planned:
        return "as planned"
    if option.turn_deg == 0.0:
        return "other gybe"
    return f"{abs(option.turn_deg):.0f} to {'starboard' if option.turn_deg > 0.0 else 'port'}"


def lost_words(option: HeadingOption) -> str:
    """Return the ground lost, in miles with a tenth."""
    return f"{round(option.lost_nm.p50, 1) + 0.0:.1f}"


def magnetic(option: HeadingOption) -> str:
    """Return the heading as it is steered."""
    return f"{bearing(option.heading_magnetic_deg)}M"


def _side(heel_deg: float) -> str:
    size = round(abs(heel_deg))
    return f"{size} {'S' if heel_deg > 0.0 else 'P'}" if size else "0"


def signed(spread: Spread) -> str:
    """Return the middle of a change over the members, with its sign and its span."""
    middle, low, high = (minus(value) for value in (spread.p50, spread.p10, spread.p90))
    return middle if low == high == middle else f"{middle} ({low} to {high})"


def minus(value: float) -> str:
    """Return a whole number with its sign, nought without."""
    return f"{round(value):+d}" if round(value) else "0"


def _size(spread: Spread) -> str:
    """Return the size of a change, a cost or a win, with its span over the members: under nought where it turns."""
    sign = -1.0 if spread.p50 < 0.0 else 1.0
    low, high = sorted((sign * spread.p10, sign * spread.p90))
    words = f"{abs(spread.p50):.0f} Wh"
    return words if round(low) == round(high) else f"{words} ({low:.0f} to {high:.0f} over the forecasts)"


def miles(option: HeadingOption) -> str:
    """Return what ground is lost or gained, in words."""
    lost_nm = option.lost_nm.p50
    if abs(lost_nm) < ONE_STEP_NM:
        return "loses no miles"
    return f"{'loses' if lost_nm > 0.0 else 'gains'} {abs(lost_nm):.1f} nm"
