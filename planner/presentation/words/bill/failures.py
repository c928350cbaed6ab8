"""The failure card in words: what fails, what shedding wins, and who gets there lit."""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby, pairwise
from typing import Final

from planner.domain.inputs.failure import Failure, FailureKind
from planner.domain.results.failures import Diversion, FailureLine, ShedStep
from planner.domain.results.plan import Plan
from planner.presentation.words.reserve_kept import IN_WIND
from planner.presentation.words.wording import NO_BREAK, date_words, duration, joined, moment_words, whole

NAMES: Final[dict[FailureKind, str]] = {
    "engine": "Engine dead",
    "alternator": "Alternator dead",
    "autopilot": "Autopilot dead",
    "controller": "A controller out",
    "panels": "Half of the panels out",
    "bank": "Bank off the bus",
    "meter": "Battery monitor lost",
}
STEERING: Final = "steering"  # as the loads of a plan name it
WITH_ENGINE: Final = {"autopilot", "controller", "panels", "meter"}


def failure_name(failure: Failure) -> str:
    """Return what has failed, in three or four words."""
    if failure.kind == "controller":
        return f"Controller {joined(failure.names)} out"
    return NAMES[failure.kind]


def loads_words(plan: Plan, line: FailureLine) -> str:
    """Return what sun and loads come to in a day, as she is; what the helm saves without an autopilot."""
    if not line.steps:
        return ""
    sun = line.sun_wh_per_day
    saved = sum(price.wh_per_day for price in plan.prices if price.name == STEERING)
    by_hand = f" Steering by hand saves {_wh(saved)}{NO_BREAK}Wh." if line.failure.kind == "autopilot" else ""
    return (
        f"Sun {_wh(sun.planned)}{NO_BREAK}Wh a day, {_wh(sun.p10)} in poor weather; loads "
        f"{_wh(line.steps[0].draws_wh_per_day)}{NO_BREAK}Wh.{by_hand}"
    )


def shed_lines(line: FailureLine) -> tuple[str, ...]:
    """Return a line for each turn of shedding: what goes, what it saves a day, and the hours that it wins."""
    return tuple(
        f"{joined(_called(after))}: {_wh(after.saves_wh_per_day)}{NO_BREAK}Wh a day{_won(line, before, after)}"
        for before, after in pairwise(line.steps)
    )


def allowed_words(line: FailureLine) -> str:
    """Return what may stay on; empty where nothing was reckoned."""
    if not line.steps:
        return ""
    if line.allowed_wh_per_day is None:
        return f"All that may be shed leaves {_wh(line.steps[-1].draws_wh_per_day)}{NO_BREAK}Wh a day."
    return f"Allowed: {_wh(line.allowed_wh_per_day)}{NO_BREAK}Wh a day{'' if len(line.steps) > 1 else ', all of it'}."


def landfall_words(plan: Plan, line: FailureLine) -> tuple[str, ...]:
    """Say in how many forecasts she gets there lit and with a radio, and with the reserve; else until when."""
    if not line.steps:
        return ("Under sail alone she does not get there within what the forecast serves.",)
    before, last = line.steps[0], line.steps[-1]
    if line.failure.kind == "bank":
        return (
            f"Dark by night: all lit {before.lit_h_per_day:.0f}{NO_BREAK}h a day as she is, "
            f"{last.lit_h_per_day:.0f}{NO_BREAK}h with all shed.",
            "Have torches, a hand-held VHF and paper charts ready.",
        )
    words = [f"Lit and with a radio in {last.lit.k} of {last.lit.n}, reserve kept in {last.kept.k}."]
    if line.wind != plan.reserve_kept.wind:
        wind = IN_WIND[line.wind]
        words.append(f"{wind[:1].upper()}{wind[1:]}.")
    words += [_until(plan, last)] if not line.enough else []
    if line.failure.kind in WITH_ENGINE:
        words.append(_engine(plan, last))
    if line.later_h > 0.0:
        words.append(f"Arrives {duration(60 * line.later_h)} later.")
    return tuple(word for word in words if word)


def failure_sentence(plan: Plan, line: FailureLine) -> str:
    """Return one failure in a sentence or two: what to shed, and how far it carries."""
    shed = [name for step in line.steps for name in _called(step)]
    parts = [f"shed {joined(shed)}." if shed else "", allowed_words(line), *landfall_words(plan, line)]
    return f"{failure_name(line.failure)}: {' '.join(part for part in parts if part)}"


def refuge_lines(plan: Plan) -> tuple[str, ...]:
    """Return where a port of refuge is nearer than the destination, days of the same one together."""
    if plan.failures is None or not plan.failures.diversions:
        return ()
    near = [each for each in plan.failures.diversions if each.nearer]
    if not near:
        return ("None is nearer than the destination as any day begins.",)
    return tuple(_refuge(plan, list(days)) for _, days in groupby(near, key=lambda each: each.refuge))


def _refuge(plan: Plan, days: list[Diversion]) -> str:
    named = [
        f"day {each.day} ({date_words(each.start, plan.ship_offset)}) {whole(each.refuge_nm)}{NO_BREAK}nm, "
        f"{whole(each.to_go_nm)} to go"
        for each in days
    ]
    return f"{days[0].refuge} is nearer: {'; '.join(named)}."


def _wh(energy: float) -> str:
    return str(10 * round(energy / 10))


def _called(step: ShedStep) -> list[str]:
    return ["autopilot (steer by hand)" if name == STEERING else name for name in step.loads]


def _won(line: FailureLine, before: ShedStep, after: ShedStep) -> str:
    """Return what a turn wins: hours of light, less engine, hours to the reserve, or all the way."""
    if line.failure.kind == "bank":
        more_h = after.lit_h_per_day - before.lit_h_per_day
        return f", lit {more_h:.1f}{NO_BREAK}h a day more" if round(more_h, 1) > 0.0 else ""
    if line.failure.kind in WITH_ENGINE:
        less_min = 60.0 * (before.charging_h.planned - after.charging_h.planned)
        spared = f", engine {duration(abs(less_min))} {'less' if less_min > 0.0 else 'more'}"
        kept = f", reserve kept in {after.kept.k}"
        return kept if duration(abs(less_min)) == duration(0.0) else f"{spared}{kept}"
    if before.lasts.lights_out_h is not None and after.lasts.lights_out_h is None:
        return ", then lit to landfall"
    if before.lasts.reserve_h is not None and after.lasts.reserve_h is None:
        return ", then the reserve holds"
    if before.lasts.reserve_h is None and before.lasts.lights_out_h is None:
        return f", reserve kept in {after.kept.k}"
    return f", {whole(after.gained_h)}{NO_BREAK}h more"


def _engine(plan: Plan, step: ShedStep) -> str:
    """Return how long the engine charges by the ladders in hand, beside what was planned."""
    runs, planned = duration(60.0 * step.charging_h.planned), duration(60.0 * plan.charging_hours.middle.planned)
    return f"By the ladders in hand, the engine charges for {runs} in the mean of the forecasts, not {planned}."


def _until(plan: Plan, step: ShedStep) -> str:
    """Return until when reserve and light last in poor weather."""
    start = plan.passage.departure
    ends = [
        f"{what} {moment_words(start + timedelta(hours=hours), plan.ship_offset)}"
        for what, hours in (("reserve until", step.lasts.reserve_h), ("lights out", step.lasts.lights_out_h))
        if hours is not None
    ]
    return f"In poor weather {', '.join(ends)}." if ends else ""
