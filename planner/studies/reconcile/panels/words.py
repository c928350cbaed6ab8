"""The evidence for a controller's verdict in a sentence or two, with figures."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.results.reconcile.findings import Interval, Verdict


@dataclass(frozen=True)
class Hours:
    """Hours of sun read: judged, and set aside for the controller's limit, a full bank, shade by the model [h]."""

    judged: float
    clipped: float
    full: float
    shaded: float


@dataclass(frozen=True)
class Facts:
    """What the sentences are made of.

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
        Controllers it was held against.
    hours : Hours
    where : str
        Where the sun stands when it falls short.
    in_deep : float
        Ratio there [1].
    substring : tuple of (str, float) or None
        Panel with a dark substring, and the ratio that it would leave [1].
    strings : tuple of int
        Panels on each string.
    bank_told : bool
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
    hours: Hours
    where: str
    in_deep: float
    substring: tuple[str, float] | None
    strings: tuple[int, ...]
    bank_told: bool
    dead: bool


def evidence_of(facts: Facts) -> str:
    """Return the evidence for a verdict."""
    if facts.ratio is None or facts.verdict in {"cannot tell", "clipped", "full bank"}:
        return f"{_too_little(facts)} {_unread_bank(facts)}".strip()
    words = [_first(facts), _second(facts), _unread_bank(facts)]
    return " ".join(word for word in words if word)


def _percent(ratio: Interval) -> str:
    return f"{ratio.value:.0%} of the expected ({ratio.low:.0%} to {ratio.high:.0%})"


def _against(facts: Facts) -> str:
    if facts.others == 0:
        return "held against the cloudless sky alone, in its brightest steady hours"
    others = "controller tells" if facts.others == 1 else f"{facts.others} controllers tell"
    return f"under the sky that the other {others} of"


def _first(facts: Facts) -> str:
    assert facts.ratio is not None
    hours = f"in {facts.hours.judged:.0f} h of open sun {_against(facts)}"
    if facts.verdict == "as expected":
        return f"{_percent(facts.ratio)} {hours}."
    if facts.verdict == "shaded":
        return (
            f"{facts.in_deep:.0%} of the expected {facts.where}; {_percent(facts.ratio)} with the sun elsewhere, "
            f"{hours}."
        )
    if facts.granted:
        assert facts.before is not None
        return (
            f"{_percent(facts.ratio)} since the change, {facts.before:.0%} before it, {hours}; the change is "
            f"{abs(facts.change_z):.0f} times its doubt."
        )
    return f"{_percent(facts.ratio)} from the first reading on, {hours}."


def _second(facts: Facts) -> str:
    if facts.verdict == "substring out":
        assert facts.substring is not None
        name, ratio = facts.substring
        begun = "It came as a step. " if facts.granted else "Whether it came as a step the readings do not show. "
        return (
            f"{begun}One dark substring of {name} would leave {ratio:.0%}. Cover the panel, then look for a burnt "
            "bypass diode, a cracked cell or a loose ribbon."
        )
    if facts.verdict == "shaded":
        return "Look for gear on deck, a flag or a lashed dinghy that stands there; the boat file does not have it."
    if facts.verdict != "weak":
        return ""
    if facts.dead:
        return (
            "Next to nothing comes from it: look at fuse, connectors and wire first; a low panel that lost a "
            "substring would not reach the bank's volts either."
        )
    if len(facts.panels) > 1:
        return _one_of_several(facts)
    return "Wash it and look at its connectors before you blame it."


def _one_of_several(facts: Facts) -> str:
    assert facts.ratio is not None
    many = len(facts.panels)
    left = 1.0 - many * (1.0 - facts.ratio.value)
    if left <= 0.05:
        alone = "more than one of them is at fault, or one drags down its string"
    else:
        alone = f"if one of them alone is at fault it gives about {left:.0%}"
    return f"Its {many} panels share the controller: {alone}. Cover one after the other at noon to find it."


def _too_little(facts: Facts) -> str:
    aside = [
        f"{hours:.0f} h {why}"
        for hours, why in (
            (facts.hours.full, "with the bank full"),
            (facts.hours.clipped, "with the controller at its limit"),
            (facts.hours.shaded, "in shade by the model, or near it"),
        )
        if hours >= 0.5
    ]
    rest = f"; set aside: {', '.join(aside)}" if aside else ""
    return f"Only {facts.hours.judged:.1f} h of open sun could be judged{rest}."


def _unread_bank(facts: Facts) -> str:
    if facts.bank_told:
        return ""
    return "Neither bank volts nor state of charge were read: a full bank would look like a weak panel."
