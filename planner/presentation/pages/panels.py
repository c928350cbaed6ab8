"""What the panels are worth, in words, tables and a figure."""

from __future__ import annotations

from planner.domain.results.panels import PairWiring, PanelStudy, PanelWorth
from planner.presentation.drawing.value_plots import Whisker, whiskers
from planner.presentation.pages.page import with_rows
from planner.presentation.words.content import Column, Page, Picture, Table
from planner.presentation.words.notes import all_said, said
from planner.presentation.words.wording import tenths, whole, with_span

WORTH_COLUMNS = (
    Column("Yield Wh"),
    Column("Adds Wh"),
    Column("Wh a day"),
    Column("Saves, h of charging"),
    Column("Wh a day and m2"),
    Column("Wh a day and kg"),
)


def page_of(study: PanelStudy) -> Page:
    """Return the study as a page."""
    return Page(
        title=f"What each panel is worth over {study.days:.1f} days",
        answer=_answer(study),
        pictures=(_picture(study),),
        tables=with_rows(_aboard(study), _accounts(study), _pairs(study), _places(study)),
    )


def _answer(study: PanelStudy) -> tuple[str, ...]:
    words = []
    saving = [worth for worth in study.aboard if worth.saves_charging_h is not None]
    if saving:
        best, least = max(saving, key=_saved), min(saving, key=_saved)
        hours, fewest = (_hours(worth) for worth in (best, least))
        if hours == fewest:
            more = "no longer" if hours == tenths(0.0) else f"{hours} h more"
            words.append(f"Without any one of the panels the engine would charge {more}.")
        else:
            rest = f"without '{least.name}' {fewest} h more."
            words.append(f"Without '{best.name}' the engine would charge {hours} h more, {rest}")
    for pair in study.pairs:
        if pair.gain_wh is not None and pair.wired_now == "series":
            cost = pair.gain_wh.planned
            words.append(
                f"'{pair.first}' and '{pair.second}' in series bring {whole(abs(cost))} Wh "
                f"{'less' if cost >= 0.0 else 'more'} than each on its own controller, "
                f"{whole(abs(cost) / study.days)} Wh a day."
            )
    placed = [worth for worth in study.places if worth.yield_wh is not None]
    if placed:
        worth = placed[0]
        words.append(
            f"The next {study.next_rating_w:g} W save most on '{worth.name}': {_hours(worth)} h of charging."
        )
    return tuple(words) or ("There is one panel and no place for another.",)


def _aboard(study: PanelStudy) -> Table:
    return Table(
        "Panels aboard",
        (Column("Panel", "left"), *WORTH_COLUMNS, Column("The others then", "left")),
        tuple((*_worth_row(worth, study.days), "; ".join(all_said(worth.wiring))) for worth in study.aboard),
        note="Saves: charging without it less charging with it, each planned anew, the others wired as well as they "
        "can be; adds: what comes to the bus with it less without it, with what then lies idle. Of both the middle "
        f"forecast, in brackets eight in ten. Yield: on the members' mean weather. {said(study.sums)}",
    )


def _accounts(study: PanelStudy) -> Table:
    accounts = [(worth.name, worth.account) for worth in study.aboard if worth.account is not None]
    items = [name for name, _ in accounts[0][1].items] if accounts else []

    def row(name: str, values: list[float]) -> tuple[str, ...]:
        return (name, *(whole(value / study.days) for value in (*values, sum(values))))

    rows = [row("rating", [account.rating_wh for _, account in accounts])]
    rows += [row(name, [-account.items[place][1] for _, account in accounts]) for place, name in enumerate(items)]
    rows.append(row("bank", [account.bank_wh for _, account in accounts]))
    return Table(
        "Where each panel's rating goes [Wh a day]",
        (Column("Item", "left"), *(Column(name) for name, _ in accounts), Column("all panels")),
        tuple(rows),
        note="Mean over the members, from sunrise to sunset; each column adds up from the rating to the bank.",
    )


def _pairs(study: PanelStudy) -> Table:
    return Table(
        "Pairs of like panels: in series, or each on its own controller",
        (
            Column("Pair", "left"),
            Column("Now", "left"),
            Column("Series Wh"),
            Column("Own Wh"),
            Column("Own over series"),
            Column("Cannot be", "left"),
        ),
        tuple(_pair_row(pair) for pair in study.pairs),
        note=" ".join(
            (
                "Each pair alone on copies of the first one's controller, under the shadows of the passage.",
                *dict.fromkeys(f"{way.capitalize()}: {why}" for pair in study.pairs for way, why in _failures(pair)),
            )
        ),
    )


def _failures(pair: PairWiring) -> list[tuple[str, str]]:
    return [(way, why) for way, why in (("in series", pair.failure), ("each alone", pair.own_failure)) if why]


def _pair_row(pair: PairWiring) -> tuple[str, ...]:
    return (
        f"{pair.first} + {pair.second}",
        pair.wired_now,
        with_span(pair.series_wh, whole),
        with_span(pair.own_wh, whole),
        with_span(pair.gain_wh, whole),
        ", ".join(way for way, _ in _failures(pair)),
    )


def _places(study: PanelStudy) -> Table:
    return Table(
        f"{study.next_rating_w:g} W more, on each place that the boat offers",
        (Column("Place", "left"), *WORTH_COLUMNS, Column("Wiring", "left")),
        tuple(
            (*_worth_row(worth, study.days), worth.failure or "; ".join(all_said(worth.wiring)))
            for worth in study.places
        ),
        note="New, on a controller of its own where it reaches the bank alone; its data sheet and mass in proportion "
        "to the panel aboard of the nearest rating.",
    )


def _worth_row(worth: PanelWorth, days: float) -> tuple[str, ...]:
    a_day = "" if worth.yield_wh is None else whole(worth.yield_wh.planned / days)
    return (
        worth.name,
        with_span(worth.yield_wh, whole),
        with_span(worth.difference_wh and worth.difference_wh.middle, whole),
        a_day,
        _hours(worth),
        "" if worth.wh_per_day_m2 is None else whole(worth.wh_per_day_m2),
        "" if worth.wh_per_day_kg is None else whole(worth.wh_per_day_kg),
    )


def _picture(study: PanelStudy) -> Picture:
    rows = [Whisker(worth.name, worth.yield_wh, "first") for worth in study.aboard if worth.yield_wh is not None]
    rows += [Whisker(worth.name, worth.yield_wh, "second") for worth in study.places if worth.yield_wh is not None]
    return Picture(
        title="Yield over the passage",
        caption="What of each could reach the bus, with eight forecasts in ten.",
        legend=(("whisker first", "aboard"), ("whisker second", f"{study.next_rating_w:g} W more there")),
        drawings=whiskers(rows, unit="Wh", label="Yield by panel and place. Its tables follow."),
    )


def _hours(worth: PanelWorth) -> str:
    return with_span(worth.saves_charging_h and worth.saves_charging_h.middle, tenths)


def _saved(worth: PanelWorth) -> float:
    return worth.saves_charging_h.p50 if worth.saves_charging_h is not None else 0.0
