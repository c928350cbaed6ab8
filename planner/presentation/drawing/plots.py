"""The two charts over time: how the bank fares, and power in and out."""

from __future__ import annotations

import numpy as np

from planner.domain.results.figures import Spread
from planner.domain.results.plan import Plan
from planner.presentation.drawing.frame import Frame, even_ticks
from planner.presentation.drawing.time_chart import StripRun, corners_of, time_axis, time_chart
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import PassageHours, engine_words, hours_of, nights
from planner.presentation.words.wording import moment_words, percent, percent_span, tens

PERCENT = 100.0
MOST_TICKS = 10
POWER_TICKS = 6
MOMENT_COLUMNS = (Column("Ship's time", "left"), Column("UTC", "left"))


def bank_ticks(lowest_percent: float) -> list[float]:
    """Return ticks up to a full bank, with some room below the lowest state of charge [%]."""
    return even_ticks(max(0.0, lowest_percent - 1.0), PERCENT, MOST_TICKS)


def bank_course(plan: Plan) -> Figure:
    """Return the bank's course: planned line, the middle eight tenths of the members, reserve, engine, nights."""
    hours = hours_of(plan)
    planned = np.append(plan.planned["bank_soc"].values[0], plan.planned["bank_soc_end"].values[0])
    ends = plan.ledger["bank_soc_end"].values[:, None]
    members = np.concatenate([plan.ledger["bank_soc"].values, ends], axis=1)
    low, middle, high = np.percentile(members, [10, 50, 90], axis=0)
    along = np.append(np.arange(hours.steps) * hours.step_h, hours.total_h)
    reserve = plan.boat.bank.reserve_soc
    many = len(members) > 1

    def courses(frame: Frame) -> None:
        if many:
            frame.band("spread", along, PERCENT * low, PERCENT * high)
        frame.level("reserve", PERCENT * reserve, f"reserve {percent(reserve)}")
        frame.line("planned", along, PERCENT * planned)

    at = np.append(hours.first_steps, hours.steps)
    drawings = time_chart(
        time_axis(hours, nights(plan, hours)),
        bank_ticks(PERCENT * min(float(np.min(low)), float(planned.min()), reserve)),
        courses,
        label=f"Bank's state of charge: from {percent(planned[0])} to {percent(planned[-1])} at arrival,"
        f" lowest {percent(planned.min())}; the reserve is {percent(reserve)}. Its table follows.",
        unit="%",
        runs=engine_runs(plan, hours),
        cursor=(hours.edges_h, PERCENT * planned[at]),
    )
    names = [*hours.names(), f"Arrival, {moment_words(plan.arrival, hours.offset)}"]
    utc = [*(moment for _, moment in hours.moments()), plan.arrival]
    engine = [*engine_words(plan, hours), ""]
    spreads = [Spread(planned[step], low[step], middle[step], high[step]) for step in at]
    readings = tuple(
        f"{name}: bank {percent(each.planned)}"
        + (f", {percent_span(each)} over the forecasts" if many else "")
        + (f"; engine {runs}" if runs else "")
        for name, each, runs in zip(names, spreads, engine, strict=True)
    )
    rows = tuple(
        (name, f"{moment:%d %b %H:%M}", *map(percent, (each.planned, each.p10, each.p90)), runs or "rests")
        for name, moment, each, runs in zip(names, utc, spreads, engine, strict=True)
    )
    legend = [("line planned", "as planned"), ("line reserve", "reserve")]
    if many:
        legend.insert(1, ("area spread", "eight forecasts in ten (p10 to p90)"))
    return Figure(
        key="bank",
        title="The bank's course",
        caption="State of charge as the battery monitor should show it. Shaded columns are nights.",
        legend=(*legend, *_engine_legend(plan)),
        drawings=drawings,
        readings=readings,
        table=Table(
            "State of charge at each hour",
            (*MOMENT_COLUMNS, Column("Planned"), Column("p10"), Column("p90"), Column("Engine", "left")),
            rows,
        ),
    )


def power_in_and_out(plan: Plan) -> Figure:
    """Return hourly means of what the bank's bus takes and gives on the planned course."""
    hours = hours_of(plan)
    solar, curtailed, alternator, other, load = (
        hours.mean(plan.planned[f"{name}_power_w"].values[0])
        for name in ("solar", "curtailed", "alternator", "other_charge", "load")
    )
    engine_name = "alternator and other charging" if other.any() else "alternator"
    alternator = alternator + other
    edges = hours.edges_h
    corners = corners_of(edges)

    def courses(frame: Frame) -> None:
        taken, offered, charged = (np.repeat(mean, 2) for mean in (solar, solar + curtailed, alternator))
        frame.band("solar", corners, 0.0 * taken, taken)
        frame.band("curtailed", corners, taken, np.where(offered > taken, offered, np.nan))
        frame.band("alternator", corners, 0.0 * taken, np.where(charged > 0.0, charged, np.nan))
        frame.line("load", corners, np.repeat(load, 2))

    most = float(max((solar + curtailed).max(), alternator.max(), load.max(), 1.0))
    drawings = time_chart(
        time_axis(hours, nights(plan, hours)),
        even_ticks(0.0, most, POWER_TICKS),
        courses,
        label=f"Power in and out, hourly means on the planned course: solar up to {tens(solar.max())} watts,"
        f" {engine_name} up to {tens(alternator.max())}, load {tens(load.mean())} in the mean. Its table follows.",
        unit="W",
        runs=engine_runs(plan, hours),
        cursor=((edges[:-1] + edges[1:]) / 2, np.full(len(solar), np.nan)),
    )
    rows = tuple(
        (name, f"{moment:%d %b %H:%M}", *map(tens, means))
        for name, (_, moment), *means in zip(
            hours.names(), hours.moments(), solar, curtailed, alternator, load, strict=True
        )
    )
    readings = tuple(
        f"{name}: solar {s} W, {engine_name} {a} W, load {d} W" + (f"; not taken {c} W" if c != "0" else "")
        for name, _, s, c, a, d in rows
    )
    return Figure(
        key="power",
        title="Power in and out",
        caption="Hourly means on the planned course. A full bank turns sun away: hatched, on top of the solar.",
        legend=(
            ("area solar", "solar taken"),
            ("area curtailed", "solar not taken"),
            ("area alternator", engine_name),
            ("line load", "load"),
            *_engine_legend(plan),
        ),
        drawings=drawings,
        readings=readings,
        table=Table(
            "Mean power over each hour [W]",
            (
                *MOMENT_COLUMNS,
                Column("Solar taken"),
                Column("Solar not taken"),
                Column(engine_name.capitalize()),
                Column("Load"),
            ),
            rows,
        ),
    )


def _engine_legend(plan: Plan) -> tuple[tuple[str, str], ...]:
    kinds = {window.propels for window in plan.windows}
    names = ((False, ("run charges", "engine charges")), (True, ("run drives", "engine drives the boat")))
    return tuple(entry for propels, entry in names if propels in kinds)


def engine_runs(plan: Plan, hours: PassageHours) -> tuple[StripRun, ...]:
    """Return the planned runs of the engine, those that drive the boat apart from those that charge."""
    return tuple(
        StripRun("drives" if w.propels else "charges", hours.since_start(w.start), hours.since_start(w.stop))
        for w in plan.windows
    )
