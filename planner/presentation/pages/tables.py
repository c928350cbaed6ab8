"""The report's tables: days, panels, prices, and what was assumed."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from planner.domain.inputs.hand_weather import end_of
from planner.domain.results.plan import Plan
from planner.presentation.words.bill.sentences import TROUBLES
from planner.presentation.words.content import Column, Table
from planner.presentation.words.hours import DAY_H, hours_of
from planner.presentation.words.weather import row_words
from planner.presentation.words.wording import (
    EN_DASH,
    boat_file_words,
    date_words,
    days_sentence,
    duration,
    latitude,
    longitude,
    moment_words,
    offset_words,
    percent,
    tens,
    whole,
    with_span,
)

TermsAndValues = tuple[tuple[str, str], ...]


def days_table(plan: Plan) -> Table:
    """Return one row a day: what came in, what went out, how low the bank went."""
    many, lead = plan.ledger.sizes["member"] > 1, plan.boat.bank.chemistry != "lifepo4"
    rows = tuple(
        (
            f"Day {day.day}, {date_words(day.start, plan.ship_offset)}",
            whole(day.distance_nm),
            with_span(day.solar_wh, tens, between=EN_DASH),
            tens(day.curtailed_wh.planned),
            tens(day.load_wh.planned),
            duration(60 * day.engine_h.planned),
            f"{day.fuel_l.planned:.0f}",
            percent(day.soc_start.planned),
            with_span(day.soc_min, percent, between=EN_DASH),
            *((duration(60 * day.float_h), f"{day.since_full_d:.1f}") if lead else ()),
        )
        for day in plan.days
    )
    return Table(
        "Days of the passage",
        (
            Column("Day", "left"),
            Column("Sailed [nm]"),
            Column("Solar taken [Wh]"),
            Column("Solar not taken [Wh]"),
            Column("Load [Wh]"),
            Column("Engine"),
            Column("Fuel [L]"),
            Column("Bank at start"),
            Column("Bank at lowest"),
            *((Column("At float"), Column("Days since full or departure")) if lead else ()),
        ),
        rows,
        "A day is 24 hours from departure; the last goes on to arrival. Engine: charging and driving the boat. "
        + days_sentence(plan)
        + (" In brackets eight forecasts in ten (p10 to p90)." if many else ""),
    )


def panels_table(plan: Plan) -> Table:
    """Return one row a panel: energy a day, best hour against the rating, how much of it the beam reached."""
    hours = hours_of(plan)
    days = hours.total_h / DAY_H
    power = plan.harvest["panel_power_w"].values.mean(axis=0)
    beam = plan.harvest["dni_w_m2"].values[..., None]
    lit = plan.harvest["beam_lit_fraction"].values
    weight = np.broadcast_to(beam, lit.shape) * np.isfinite(lit)
    total = weight.sum(axis=(0, 1))
    share = np.divide(
        (weight * np.nan_to_num(lit)).sum(axis=(0, 1)), total, out=np.zeros_like(total), where=total > 0
    )
    rated = {panel.name: panel.max_power_w for panel in plan.boat.panel}
    rows = []
    for index, name in enumerate(str(panel) for panel in plan.harvest["panel"].values):
        a_day = float(power[:, index].sum()) * hours.step_h / days
        best = float(hours.mean(power[:, index]).max())
        rows.append(
            (
                name,
                whole(rated[name]),
                tens(a_day),
                f"{a_day / rated[name]:.1f}",
                percent(a_day / (rated[name] * DAY_H)),
                percent(best / rated[name]),
                percent(float(share[index])),
            )
        )
    return Table(
        "Panels, mean of the forecasts",
        (
            Column("Panel", "left"),
            Column("Rating [W]"),
            Column("A day [Wh]"),
            Column("Hours at rating a day"),
            Column("Mean, of rating"),
            Column("Best hour, of rating"),
            Column("Lit by the beam"),
        ),
        tuple(rows),
        "What each panel brings to its string, before its controller and before a full bank turns sun away. "
        "Lit by the beam: the part that sails, spars and canvas leave in the sun, weighted by the beam's strength.",
    )


def prices_table(plan: Plan) -> Table:
    """Return one row a load: energy a day, and the engine minutes that an hour of it and its day cost."""
    dearest = sorted(plan.prices, key=lambda price: price.wh_per_day, reverse=True)
    return Table(
        "What each load costs",
        (
            Column("Load", "left"),
            Column("A day [Wh]"),
            Column("Engine for an hour of use"),
            Column("For its day"),
            Column("Shed in need"),
        ),
        tuple(
            (
                price.name,
                tens(price.wh_per_day),
                f"{whole(price.engine_min_per_hour)} min",
                f"{whole(price.engine_min_per_day)} min",
                "never" if price.shed_order is None else f"{price.shed_order}.",
            )
            for price in dearest
        ),
        "Engine minutes are for a bank half full, where it takes charge well; near full they are more. An hour of "
        "use is at the rated draw; the day is the passage's mean.",
    )


def stress_table(plan: Plan) -> Table:
    """Return one row a trouble: how the plan fares in it."""
    return Table(
        "In trouble that the forecast does not hold",
        (
            Column("Trouble", "left"),
            Column("From"),
            Column("Engine to charge"),
            Column("Fuel [L]"),
            Column("Bank at lowest"),
            Column("When"),
            Column("Bank on arrival"),
            Column("Reserve kept in"),
            Column("Lost first on"),
        ),
        tuple(
            (
                TROUBLES[stress.trouble],
                moment_words(stress.begun, plan.ship_offset) if stress.begun else "",
                duration(60 * stress.charging_h),
                whole(stress.fuel_l),
                percent(stress.lowest_soc),
                moment_words(stress.lowest_at, plan.ship_offset),
                percent(stress.arrival_soc),
                f"{stress.kept} of {stress.members}",
                moment_words(stress.lost_from, plan.ship_offset) if stress.lost_from else "",
            )
            for stress in plan.stresses
        ),
        f"The ladders followed, the loads as planned; the plan itself charges for "
        f"{duration(60 * plan.charging_hours.planned)} and burns {whole(plan.fuel_l.planned)} L.",
    )


def route_table(plan: Plan) -> Table:
    """Return the waypoints."""
    return Table(
        "Waypoints",
        (Column("Name", "left"), Column("Latitude"), Column("Longitude")),
        tuple((point.name, latitude(point.lat), longitude(point.lon)) for point in plan.route),
    )


def files_table(plan: Plan) -> Table:
    """Return the input files with their checksums."""
    return Table(
        "Files read",
        (Column("File", "left"), Column("SHA-256", "left")),
        tuple(plan.voyage.inputs.files.items()),
    )


def assumed(plan: Plan) -> tuple[tuple[str, TermsAndValues], ...]:
    """Return what was assumed, in groups of terms and their values."""
    return (
        ("Passage", _passage(plan)),
        ("Wishes", _wishes(plan)),
        ("Bank and engine", _power(plan)),
        ("Forecast and model", _model(plan)),
        *([("Weather typed by hand", _weather(plan))] if plan.passage.weather else []),
    )


def _passage(plan: Plan) -> TermsAndValues:
    passage, offset = plan.passage, plan.ship_offset
    current = passage.current
    spans = [f"{watch.start}{EN_DASH}{watch.end} {watch.role or ''}".strip() for watch in passage.watches]
    watches = "; ".join([*spans, *([f"in turn: {', '.join(passage.watchkeepers)}"] if passage.watchkeepers else [])])
    return (
        ("Boat file", boat_file_words(plan)),
        ("Departure", _both(plan, hours_of(plan).start)),
        ("Arrival", _both(plan, plan.arrival)),
        ("Ship's time", offset_words(offset)),
        ("Legs", passage.sailings.replace("_", " ")),
        ("Watches", watches),
        (
            "Current",
            f"sets {current.set_deg:.0f}\N{DEGREE SIGN}, {current.drift_kn:.1f} kn" if current.drift_kn else "none",
        ),
        ("Bank at departure", percent(passage.start.state_of_charge)),
    )


def _both(plan: Plan, moment: datetime) -> str:
    return f"{moment_words(moment, plan.ship_offset)} ({moment_words(moment, timedelta())} UTC)"


def _wishes(plan: Plan) -> TermsAndValues:
    wishes = plan.passage.wishes
    quiet = "; ".join(f"{start}{EN_DASH}{end}" for start, end in wishes.quiet_hours)
    full = wishes.full_charge_every_days
    return (
        ("Reserve kept with a confidence of", percent(wishes.confidence)),
        ("Reserve", percent(plan.boat.bank.reserve_soc)),
        ("Bank on arrival", percent(wishes.arrival_soc)),
        ("Quiet hours", quiet or "none"),
        ("Error of the battery monitor", f"{percent(wishes.meter_error)} (standard deviation)"),
        ("One more start is worth", duration(wishes.start_cost_min)),
        ("A full charge", f"every {full:g} days" if full else "not asked for"),
    )


def _power(plan: Plan) -> TermsAndValues:
    bank, engine = plan.boat.bank, plan.boat.engine
    pilot = plan.boat.autopilot.steering.replace("_", " ")
    return (
        (
            "Bank",
            f"{bank.chemistry}, {bank.nominal_v} V, {bank.capacity_ah:g} Ah new, {percent(bank.health)} of it left",
        ),
        ("Bank temperature", f"{bank.temp_c:g} \N{DEGREE SIGN}C"),
        ("Alternator", f"{engine.alternator_a:g} A cold, {percent(engine.hot_fraction)} of that hot"),
        ("Fuel", f"{engine.charging_l_per_h:g} L/h charging, {engine.motoring_l_per_h:g} L/h driving the boat"),
        ("Tank", f"{engine.tank_l:g} L at departure, {engine.landfall_l:g} L kept for landfall"),
        ("A charging run", f"{duration(engine.min_run_min)} to {duration(engine.max_run_min)}"),
        ("No charging beyond a heel of", f"{engine.max_heel_deg:g}\N{DEGREE SIGN}"),
        ("Steering", pilot),
    )


def _model(plan: Plan) -> TermsAndValues:
    model = plan.passage.model
    members = plan.ledger.sizes["member"]
    beyond = float(plan.harvest["beyond_forecast"].values.mean())
    return (
        ("Forecast", _forecast_words(plan, members)),
        ("Beyond the forecast", f"{percent(beyond)} of the passage" if beyond else "nothing"),
        ("Step", f"{model.step_min} min"),
        ("Shade", f"about {model.points} points a panel, {model.roll_nodes} positions of the roll"),
        ("Seed", f"{model.seed}"),
    )


def _forecast_words(plan: Plan, members: int) -> str:
    if not plan.passage.forecast:
        return f"no file, all typed by hand; {members} outcomes of its light"
    return f"{members} members" if members > 1 else "one, without members"


def _weather(plan: Plan) -> TermsAndValues:
    rows = plan.passage.weather
    return (
        *((f"From {_both(plan, row.begins)}", row_words(row)) for row in rows),
        ("Until", _both(plan, end_of(rows))),
        ("Taken so", "each row holds until the next, everywhere; its cloud is an observer's total, in eighths"),
    )
