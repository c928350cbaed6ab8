"""The two charts over time: how the bank fares, and power in and out."""

from __future__ import annotations

import numpy as np

from planner.domain.results.plan import Plan
from planner.presentation.drawing.charts import (
    NARROW,
    WIDE,
    Band,
    Chart,
    Layer,
    Level,
    Line,
    Run,
    ceiling,
    draw,
    steps,
)
from planner.presentation.words.content import Column, Figure, Table
from planner.presentation.words.hours import Hours, clock_changes, engine_words, hours_of, nights
from planner.presentation.words.wording import EN_DASH, moment_words, percent, tens

PERCENT = 100.0
TICK_PERCENT = 10.0
MOMENT_COLUMNS = (Column("Ship's time", "left"), Column("UTC", "left"))


def bank_course(plan: Plan) -> Figure:
    """Return the bank's course: planned line, the middle eight tenths of the members, reserve, engine, nights."""
    hours = hours_of(plan)
    planned = np.append(plan.planned["bank_soc"].values[0], plan.planned["bank_soc_end"].values[0])
    ends = plan.ledger["bank_soc_end"].values[:, None]
    low, high = np.percentile(np.concatenate([plan.ledger["bank_soc"].values, ends], axis=1), [10, 90], axis=0)
    along = np.append(np.arange(hours.steps) * hours.step_h, hours.total_h)
    reserve = plan.boat.bank.reserve_soc
    many = plan.ledger.sizes["member"] > 1
    lowest = min(float(np.min(low)), float(planned.min()), reserve)
    layers: list[Layer] = []
    if many:
        layers.append(Band("spread", along, PERCENT * low, PERCENT * high))
    layers += [
        Level("reserve", PERCENT * reserve, f"reserve {percent(reserve)}"),
        Line("planned", along, PERCENT * planned),
    ]
    at = np.append(hours.first_steps, hours.steps)
    chart = Chart(
        label=f"Bank's state of charge: from {percent(planned[0])} to {percent(planned[-1])} at arrival,"
        f" lowest {percent(planned.min())}; the reserve is {percent(reserve)}. Its table follows.",
        unit="%",
        low=max(0.0, TICK_PERCENT * (np.ceil(PERCENT * lowest / TICK_PERCENT) - 1)),
        high=PERCENT,
        step=TICK_PERCENT,
        start=hours.start + hours.offset,
        clock_changes=clock_changes(hours.start, hours.offset),
        hours=hours.total_h,
        before_h=hours.before_h,
        layers=tuple(layers),
        runs=engine_runs(plan, hours),
        nights=nights(plan, hours),
        cursor_hours=hours.edges_h,
        cursor_value=PERCENT * planned[at],
    )
    names = [*hours.names(), f"Arrival, {moment_words(plan.arrival, hours.offset)}"]
    engine = [*engine_words(plan, hours), ""]
    readings = tuple(
        f"{name}: bank {percent(planned[step])}"
        + (f", {_span(low[step], high[step])} over the forecasts" if many else "")
        + (f"; engine {runs}" if runs else "")
        for name, step, runs in zip(names, at, engine, strict=True)
    )
    utc = [*(moment for _, moment in hours.moments()), plan.arrival]
    rows = tuple(
        (
            name,
            f"{moment:%d %b %H:%M}",
            percent(planned[step]),
            percent(low[step]),
            percent(high[step]),
            runs or "rests",
        )
        for name, moment, step, runs in zip(names, utc, at, engine, strict=True)
    )
    legend = [("line planned", "as planned"), ("line reserve", "reserve")]
    if many:
        legend.insert(1, ("area spread", "eight forecasts in ten (p10 to p90)"))
    return Figure(
        key="bank",
        title="The bank's course",
        caption="State of charge as the battery monitor should show it. Shaded columns are nights.",
        legend=(*legend, *_engine_legend(plan)),
        drawings=(draw(chart, WIDE), draw(chart, NARROW)),
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
        hours.mean(plan.planned[name].values[0])
        for name in (
            "solar_power_w",
            "curtailed_power_w",
            "alternator_power_w",
            "other_charge_power_w",
            "load_power_w",
        )
    )
    engine_name = "alternator and other charging" if other.any() else "alternator"
    alternator = alternator + other
    edges = hours.edges_h
    corners, taken = steps(edges, solar)
    offered = steps(edges, solar + curtailed)[1]
    charged = steps(edges, alternator)[1]
    high, step = ceiling(float(max((solar + curtailed).max(), alternator.max(), load.max(), 1.0)))
    chart = Chart(
        label=f"Power in and out, hourly means on the planned course: solar up to {tens(solar.max())} watts,"
        f" {engine_name} up to {tens(alternator.max())}, load {tens(load.mean())} in the mean. Its table follows.",
        unit="W",
        low=0.0,
        high=high,
        step=step,
        start=hours.start + hours.offset,
        clock_changes=clock_changes(hours.start, hours.offset),
        hours=hours.total_h,
        before_h=hours.before_h,
        layers=(
            Band("solar", corners, 0.0 * taken, taken),
            Band("curtailed", corners, taken, np.where(offered > taken, offered, np.nan)),
            Band("alternator", corners, 0.0 * taken, np.where(charged > 0.0, charged, np.nan)),
            Line("load", corners, steps(edges, load)[1]),
        ),
        runs=engine_runs(plan, hours),
        nights=nights(plan, hours),
        cursor_hours=(edges[:-1] + edges[1:]) / 2,
        cursor_value=np.full(len(solar), np.nan),
    )
    names = hours.names()
    columns = solar, curtailed, alternator, load
    readings = tuple(
        f"{name}: solar {tens(s)} W, {engine_name} {tens(a)} W, load {tens(d)} W"
        + (f"; not taken {tens(c)} W" if round(c / 10) else "")
        for name, s, c, a, d in zip(names, *columns, strict=True)
    )
    rows = tuple(
        (name, f"{moment:%d %b %H:%M}", tens(s), tens(c), tens(a), tens(d))
        for name, (_, moment), s, c, a, d in zip(names, hours.moments(), *columns, strict=True)
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
        drawings=(draw(chart, WIDE), draw(chart, NARROW)),
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


def _span(low: float, high: float) -> str:
    first, last = percent(low), percent(high)
    return last if first == last else f"{first.split()[0]}{EN_DASH}{last}"


def _engine_legend(plan: Plan) -> tuple[tuple[str, str], ...]:
    legend = []
    if any(not window.propels for window in plan.windows):
        legend.append(("run charges", "engine charges"))
    if any(window.propels for window in plan.windows):
        legend.append(("run drives", "engine drives the boat"))
    return tuple(legend)


def engine_runs(plan: Plan, hours: Hours) -> tuple[Run, ...]:
    """Return the planned runs of the engine, those that drive the boat told from those that charge."""
    return tuple(
        Run("drives" if w.propels else "charges", hours.since_start(w.start), hours.since_start(w.stop))
        for w in plan.windows
    )
