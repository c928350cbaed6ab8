"""The card of a computed passage: what each watch of the day does, and which watches stand apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter

from planner.decision.bill.ladders.watch import rungs
from planner.domain.inputs.passage import Watch
from planner.domain.inputs.watch_rules import MINUTES_PER_DAY, clock_time, minute_of_day, span_minutes
from planner.domain.policy import Policy, StandingOrder
from planner.domain.results.bill import Card, CardLine, Rung, WatchRow
from planner.domain.voyage import Voyage
from planner.simulation.clock import changes_of_watch

Ladder = tuple[tuple[int, ...], float]


def card(voyage: Voyage, watches: Sequence[WatchRow], *, dearer: float = 0.0) -> Card | None:
    """Return the card that the watches follow; None where each has a ladder of its own.

    Parameters
    ----------
    voyage : Voyage
    watches : sequence of WatchRow
        Of the bill, one an epoch.
    dearer : float
        As ``Card`` has it.
    """
    passage = voyage.passage
    if passage.wishes.ladder != "card":
        return None
    _, _, of_day = changes_of_watch(voyage.track["time"].values, passage.watches, voyage.ship_offset)
    lines, apart = [], []
    for index in sorted(set(of_day.tolist()), key=lambda index: minute_of_day(passage.watches[index].start)):
        epochs = [epoch for epoch, watch in enumerate(of_day.tolist()) if watch == index]
        usual = Counter(_ladder(voyage.policy, epoch) for epoch in epochs).most_common(1)[0][0]
        following = [epoch for epoch in epochs if _ladder(voyage.policy, epoch) == usual]
        apart += [epoch for epoch in epochs if epoch not in following]
        lines.append(_line(voyage, passage.watches[index], following, watches))
    return Card(lines=tuple(lines), apart=tuple(sorted(apart)), tail_a=watches[0].stop.tail_a, dearer=dearer)


def _ladder(policy: Policy, epoch: int) -> Ladder:
    return tuple(policy.minutes[epoch].tolist()), float(policy.stop_soc[epoch])


def _line(voyage: Voyage, watch: Watch, epochs: Sequence[int], rows: Sequence[WatchRow]) -> CardLine:
    policy = voyage.policy
    currents = [rows[epoch].charge_current_a for epoch in epochs]
    known = [current for current in currents if current is not None]
    return CardLine(
        start=watch.start,
        end=watch.end,
        loud=_loud(watch, voyage.passage.wishes.quiet_hours),
        ladder=_over_the_order(rungs(policy.minutes[epochs[0]]), policy.standing),
        stop_percent=round(100.0 * float(policy.stop_soc[epochs[0]])),
        charge_current_a=min(known) if known else None,
    )


def _over_the_order(ladder: tuple[Rung, ...], order: StandingOrder | None) -> tuple[Rung, ...]:
    """Return the rungs that the standing order leaves something to decide; the last of them goes down to 0 %."""
    if order is None:
        return ladder
    over = [rung for rung in ladder if rung.from_percent == 100 or _top(ladder, rung) > order.start_percent]
    return (*over[:-1], Rung(from_percent=0, minutes=over[-1].minutes))


def _top(ladder: Sequence[Rung], rung: Rung) -> int:
    """Return the highest reading of a rung [%]."""
    return min((other.from_percent - 1 for other in ladder if other.from_percent > rung.from_percent), default=100)


def _loud(watch: Watch, quiet_hours: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return the spans of a watch in which no quiet hours keep the engine still."""
    begins = minute_of_day(watch.start)
    quiet = [(minute_of_day(start), span_minutes(start, end)) for start, end in quiet_hours]
    minutes = range(begins, begins + span_minutes(watch.start, watch.end))
    still = [any((minute - start) % MINUTES_PER_DAY < length for start, length in quiet) for minute in minutes]
    spans = []
    for silent, run in groupby(zip(still, minutes, strict=True), key=itemgetter(0)):
        span = [minute for _, minute in run]
        if not silent:
            spans.append((clock_time(span[0]), clock_time(span[-1] + 1)))
    return tuple(spans)
