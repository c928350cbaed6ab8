"""Findings in words: the answer in three sentences, a figure with its interval, a moment."""

from __future__ import annotations

from planner.domain.results.reconcile.findings import AMISS, ControllerFinding, Interval, Reconciliation
from planner.presentation.words.wording import MINUS, NO_BREAK, moment_words, percent, whole


def answer(found: Reconciliation) -> tuple[str, str, str]:
    """Return what the readings show: of the panels, of loads and bank, of sky and clock."""
    return _panels(found), _loads_and_bank(found), _sky_and_clock(found)


def with_interval(figure: Interval | None, *, unit: str = "") -> str:
    """Return '25 (18 to 31) W', whole; a dash where nothing is known."""
    if figure is None:
        return "not told"
    value, low, high = (whole(part + 0.0) for part in (figure.value, figure.low, figure.high))
    return f"{value} ({low} to {high})" + (f"{NO_BREAK}{unit}" if unit else "")


def percents(ratio: Interval | None) -> str:
    """Return '79 % (76 to 82)'; a dash where nothing is known."""
    if ratio is None:
        return "not told"
    return f"{percent(ratio.value)} ({100 * ratio.low:.0f} to {100 * ratio.high:.0f})"


def minutes(fast_min: Interval) -> str:
    """Return how fast a clock is, with its interval [min]."""
    value, low, high = (f"{abs(part):.0f}" if part >= 0 else f"{MINUS}{abs(part):.0f}" for part in _parts(fast_min))
    return f"{value} ({low} to {high}){NO_BREAK}min"


def since_words(one: ControllerFinding, found: Reconciliation) -> str:
    """Return since when a controller has yielded what it does; empty where nothing has changed."""
    if one.since is None:
        return "the first reading" if one.verdict in AMISS else ""
    return moment_words(one.since, found.ship_offset)


def _parts(figure: Interval) -> tuple[float, float, float]:
    return figure.value, figure.low, figure.high


def _panels(found: Reconciliation) -> str:
    amiss = [_amiss(one, found) for one in found.controllers if one.verdict in AMISS]
    words = [each for each in amiss if each]
    apart = {
        verdict: [one for one in found.controllers if one.verdict == verdict]
        for verdict in ("less than expected", "more than expected", "cannot tell")
    }
    told = {
        verdict: ", ".join(f"'{one.controller}' {percents(one.ratio)}" for one in these)
        for verdict, these in apart.items()
    }
    words += [f"more than expected: {told['more than expected']}"] if apart["more than expected"] else []
    words += (
        [f"less than expected, no fault shown: {told['less than expected']}"] if apart["less than expected"] else []
    )
    unknown = ", ".join(f"'{one.controller}'" for one in apart["cannot tell"])
    count = len(found.controllers) - len(amiss) - sum(map(len, apart.values()))
    if count:
        rest = "the rest yield" if count > 1 else "the other yields"
        words.append(f"{'all controllers yield' if count == len(found.controllers) else rest} as expected")
    words += [f"nothing can be told of {unknown}"] if unknown else []
    sentence = "; ".join(words)
    return f"{sentence[0].upper()}{sentence[1:]}."


def _amiss(one: ControllerFinding, found: Reconciliation) -> str:
    """Return a controller's fault: against what it gave before, where that was seen."""
    what = {"weak": "weak", "substring out": "short of a substring", "panel dark": "short of a panel"}
    if one.verdict == "shaded":
        return f"'{one.controller}' is shaded at some sun angles since {since_words(one, found)}"
    gave = f"{percents(one.ratio)} of what is to be expected"
    if one.change is not None:
        others = [f"'{each.controller}'" for each in found.controllers if each is not one and each.ratio is not None]
        against = "the other controllers," if len(others) != 1 else f"{others[0]} (one of the two changed),"
        gave = f"{percents(one.change)} of what it gave before, against {against}"
    return f"'{one.controller}' is {what[one.verdict]}, {gave} since {since_words(one, found)}"


def _loads_and_bank(found: Reconciliation) -> str:
    loads, bank = found.loads, found.bank
    if loads.unexplained_w is None:
        words = "Loads cannot be told from these readings"
    elif loads.found:
        words = f"A load that is not on the list draws {with_interval(loads.unexplained_w, unit='W')} in the mean"
    elif loads.unexplained_w.low <= 0.0 <= loads.unexplained_w.high:
        words = f"Loads are as listed, to {with_interval(loads.unexplained_w, unit='W')}"
    else:
        more, over = "more", loads.unexplained_w
        if over.high < 0.0:
            more, over = "less", Interval(-over.value, -over.high, -over.low)
        words = f"Loads draw {more} than listed, by {with_interval(over, unit='W')}, within the list's doubt"
    if bank.capacity_ah is None:
        return f"{words}; the bank's capacity cannot be told from these readings."
    size = f"{with_interval(bank.capacity_ah, unit='Ah')}, listed {whole(bank.listed_ah)}{NO_BREAK}Ah"
    return f"{words}; the bank {'is tired: it holds' if bank.tired else 'holds'} {size}."


def _sky_and_clock(found: Reconciliation) -> str:
    sky = f"The sky gave {percents(found.sky.of_forecast)} of the light that was forecast"
    fast = found.clock.fast_min
    if not found.clock.corrected:
        return f"{sky}; the log's clock goes right."
    which = "fast" if fast.value > 0.0 else "slow"
    size = minutes(fast if fast.value > 0.0 else Interval(-fast.value, -fast.high, -fast.low))
    return f"{sky}; the log's clock is {size} {which}, and the readings were set right by that."
