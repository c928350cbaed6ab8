"""The evidence for a controller's verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from planner.domain.results.note import Note, together
from planner.domain.results.reconcile.findings import Interval, Verdict

LEAST_LEFT: Final = 0.05  # 1, of a panel; with less left more than one is at fault
LEAST_ASIDE_H: Final = 0.5  # h, set aside, that is worth naming


@dataclass(frozen=True)
class SunHours:
    """Hours of sun read: judged, and set aside for the controller's limit, a full bank, shade by the model [h]."""

    judged: float
    clipped: float
    full: float
    shaded: float


@dataclass(frozen=True)
class Facts:
    """What the evidence is made of.

    Attributes
    ----------
    verdict : str
    panels : tuple of str
    ratio : Interval or None
        Read over expected [1].
    before : float or None
        Before the change [1].
    change_z : float
        Change over its standard deviation [1].
    granted : bool
        Whether there was a change.
    others : int
        Controllers it was compared with.
    hours : SunHours
    where : Note
        Where the sun stands when it falls short.
    in_deep : float
        Ratio there [1].
    substring : tuple of (str, float) or None
        Panel with a dark substring, and the ratio that it would leave [1].
    bank_read : bool
        Whether volts or charge were read.
    dead : bool
        Whether next to nothing comes.
    """

    verdict: Verdict
    panels: tuple[str, ...]
    ratio: Interval | None
    before: float | None
    change_z: float
    granted: bool
    others: int
    hours: SunHours
    where: Note
    in_deep: float
    substring: tuple[str, float] | None
    bank_read: bool
    dead: bool


def evidence_of(facts: Facts) -> Note:
    """Return the evidence for a verdict."""
    unread = [] if facts.bank_read else [Note("bank_not_read")]
    if facts.ratio is None or facts.verdict in {"cannot tell", "clipped", "full bank"}:
        return together([_too_little(facts.hours), *unread])
    return together([_level(facts), *_cause(facts, facts.ratio), *unread])


def _level(facts: Facts) -> Note:
    """Return what the controller gives of what it should."""
    against = Note("against_others" if facts.others > 1 else "against_other", {"others": facts.others})
    if facts.others == 0:
        against = Note("against_clear_sky")
    level = {"ratio": facts.ratio, "judged_h": facts.hours.judged, "against": against}
    if facts.verdict == "as expected":
        return Note("panels_as_expected", level)
    if facts.verdict == "shaded":
        return Note("panels_shaded", {**level, "in_deep": facts.in_deep, "where": facts.where})
    if facts.granted:
        return Note("panels_changed", {**level, "before": facts.before, "change_z": abs(facts.change_z)})
    return Note("panels_from_the_first", level)


def _cause(facts: Facts, ratio: Interval) -> list[Note]:
    """Return what may be at fault, and where to look."""
    if facts.verdict == "substring out":
        assert facts.substring is not None
        begun = Note("came_as_step" if facts.granted else "came_unseen")
        return [begun, Note("substring_out", {"panel": facts.substring[0], "left": facts.substring[1]})]
    if facts.verdict == "shaded":
        return [Note("look_for_gear")]
    if facts.verdict != "weak":
        return []
    if facts.dead:
        return [Note("nothing_comes")]
    many = len(facts.panels)
    if many == 1:
        return [Note("wash_it")]
    left = 1.0 - many * (1.0 - ratio.value)
    alone = Note("several_at_fault" if left <= LEAST_LEFT else "one_at_fault", {"left": left})
    return [Note("share_a_controller", {"panels": many, "alone": alone})]


def _too_little(hours: SunHours) -> Note:
    judged = {"judged_h": hours.judged}
    aside = [
        *([Note("aside_full", {"hours": hours.full})] if hours.full >= LEAST_ASIDE_H else []),
        *([Note("aside_clipped", {"hours": hours.clipped})] if hours.clipped >= LEAST_ASIDE_H else []),
        *([Note("aside_shaded", {"hours": hours.shaded})] if hours.shaded >= LEAST_ASIDE_H else []),
    ]
    return Note("little_judged_aside", {**judged, "aside": aside}) if aside else Note("little_judged", judged)
