"""Logs of a passage as a crew's displays would have kept them, made by the scalar reference, with faults to be found.

The true sky is not the forecast's: each day has its own level, cloud drifts over hours and breaks into bursts within
minutes. Loads are the list's with a fridge that cycles, a helm that works more or less than listed, and what nobody
listed. The reference's ledger runs the bank; displays err, round, drop readings and fall silent for hours.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta, timezone
from functools import cached_property
from pathlib import Path

import made_yield
import model_ledger
import numpy as np
from model_bank import Bank

from planner.domain.inputs.boat import Boat

FINE_MIN = 2.0  # min, of the true sky and loads
SHIP = timedelta(hours=12)
GAIN, SHUNT_OFFSET_A, VOLT_BIAS_V = 0.01, 0.05, 0.015  # one standard deviation of what displays err by
ENGINE_AT = (7, 18)  # ship's hours at which the crew looks whether to run it
RUN_BELOW_SOC, RUN_MIN = 0.6, 120.0


@dataclass(frozen=True)
class Faults:
    """What is wrong aboard; nothing, unless said.

    Attributes
    ----------
    panel : str
        The panel that the following are about.
    light_fraction : float
        Its light over a sound one's, from ``WEAK`` to 1.
    substring_out : bool
    shadow : tuple of float or None
        A new shadow: it keeps the beam off where the sun bears between the first two, clockwise from the bow, and
        stands lower than the third [degree].
    since_days : float
        When all that began, after departure [d].
    unlisted_w : float
        A load on nobody's list, day and night [W].
    capacity_fraction : float
        The bank's capacity over the boat file's.
    clock_fast_min : float
        The log's clock less true time [min].
    """

    panel: str = ""
    light_fraction: float = 1.0
    substring_out: bool = False
    shadow: tuple[float, float, float] | None = None
    since_days: float = 0.0
    unlisted_w: float = 0.0
    capacity_fraction: float = 1.0
    clock_fast_min: float = 0.0


@dataclass(frozen=True)
class Display:
    """How readings are taken: about so often, with such gaps, of a moment or as means since the last."""

    every_min: float = 5.0
    gaps_per_day: float = 0.4
    gap_h: float = 2.5
    dropped: float = 0.01
    means: bool = False


@dataclass(frozen=True)
class Strays:
    """How far this boat and sky lie from what is listed and usual: standard deviations, drawn once a log [1].

    Attributes
    ----------
    panels : float
        Of each controller's yield: tolerance of the ratings, dirt.
    light : float
        Of the light, by haze: every day's alike.
    loads : float
        Of each listed load.
    """

    panels: float = 0.0
    light: float = 0.0
    loads: float = 0.0


@dataclass(frozen=True)
class Truth:
    """What a finding should come to.

    Attributes
    ----------
    ratio : float
        Of the faulty panel's controller since the fault, over what it was before, in the sun's hours [1]; 1 with no
        fault.
    stray : dict of str to float
        Of each controller without a fault, over its listed panels [1].
    excess_w : array (step,)
        Loads as they were less as listed, in steps of 10 min [W].
    capacity_ah : float
    clock_fast_min : float
    sky_index : tuple of float
        Light over the clear sky's, by passage day [1].
    """

    ratio: float
    stray: dict[str, float]
    excess_w: np.ndarray
    capacity_ah: float
    clock_fast_min: float
    sky_index: tuple[float, ...]

    def unexplained_w(self, days: float = 1e3) -> float:
        """Mean of loads as they were less as listed, over the first so many days [W]."""
        return float(self.excess_w[: round(days * 144)].mean())


@dataclass(frozen=True)
class MadeLog:
    """Readings as displayed, by column, and the truth behind them."""

    time: list[datetime]
    columns: dict[str, list[float]]
    truth: Truth

    def first_days(self, days: float) -> MadeLog:
        count = sum(moment < self.time[0] + timedelta(days=days) for moment in self.time)
        return replace(self, time=self.time[:count], columns={k: v[:count] for k, v in self.columns.items()})

    def write(self, path: Path) -> Path:
        """Write it as CSV in ship's time with its offset; nothing stands where nothing was read."""
        zone = timezone(SHIP)
        decimals = {"bank V": 2, "bank A": 1}
        with path.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream)
            writer.writerow(["time", *self.columns])
            for n, moment in enumerate(self.time):
                cells = ((name, values[n]) for name, values in self.columns.items())
                texts = ["" if math.isnan(x) else f"{x:.{decimals.get(name, 0)}f}" for name, x in cells]
                writer.writerow([moment.astimezone(zone).isoformat(timespec="seconds"), *texts])
        return path


@dataclass(frozen=True)
class Aboard:
    """A boat of ``made_passage`` whose logs are made.

    Attributes
    ----------
    name : str
        One of ``made_passage.BOATS``.
    boat : Boat
    watches : tuple
        Of the passage.
    start_soc : float
    """

    name: str
    boat: Boat
    watches: tuple
    start_soc: float
    fine: int = field(default=round(10.0 / FINE_MIN))

    @cached_property
    def yields(self) -> made_yield.Yields:
        return made_yield.kept(self.name)

    def log(
        self,
        seed: int,
        faults: Faults | None = None,
        display: Display | None = None,
        strays: Strays | None = None,
    ) -> MadeLog:
        """Make a log of the whole passage."""
        faults, display, strays = faults or Faults(), display or Display(), strays or Strays()
        rng, luck = np.random.default_rng(seed), np.random.default_rng([seed, 1])
        rows = self.yields.rows
        index = true_sky(len(rows), self.fine, rng) * luck.normal(1.0, strays.light)
        stray = luck.normal(1.0, strays.panels, len(self.boat.controller))
        offered, ratio = self._offered(index, faults)
        offered *= stray[:, None]
        loads, excess_w = self._loads(offered, faults, rng, luck=luck, load_sd=strays.loads)
        steps = self._ledger(offered, loads, faults)
        truth = Truth(
            ratio=ratio,
            stray={controller.name: float(s) for controller, s in zip(self.boat.controller, stray, strict=True)},
            excess_w=excess_w,
            capacity_ah=self.boat.bank.capacity_ah * self.boat.bank.health * faults.capacity_fraction,
            clock_fast_min=faults.clock_fast_min,
            sky_index=self._by_day(index),
        )
        fine = self._displayable(offered, loads, steps, rng)
        return MadeLog(*_displayed(fine, rows[0]["time"].replace(tzinfo=UTC), faults, display, rng), truth)

    def _read_out(self, key: tuple[str, str, str], index: np.ndarray) -> np.ndarray:
        """Power of a controller at every fine moment: read linearly in time and in the state of the sky."""
        table, grid = self.yields.power_w[key], np.array(made_yield.CLEARNESS)
        at = np.clip((np.arange(index.size) + 0.5) / self.fine - 0.5, 0.0, len(table) - 1.001)
        step, part = at.astype(int), at % 1.0
        k = np.clip(np.searchsorted(grid, index) - 1, 0, grid.size - 2)
        up = np.clip((index - grid[k]) / (grid[k + 1] - grid[k]), 0.0, 1.0)

        def of(s: np.ndarray) -> np.ndarray:
            return (1.0 - up) * table[s, k] + up * table[s, k + 1]

        return (1.0 - part) * of(step) + part * of(step + 1)

    def _offered(self, index: np.ndarray, faults: Faults) -> tuple[np.ndarray, float]:
        """What the controllers could deliver, (controller, fine), and the faulty one's yield over sound."""
        power, ratio = [], 1.0
        ill = np.arange(index.size) * FINE_MIN / 1440.0 >= faults.since_days
        for controller in self.boat.controller:
            sound = self._read_out((controller.name, "", "sound"), index)
            power.append(sound)
            if not any(faults.panel in string for string in controller.strings):
                continue
            bad = sound
            if faults.light_fraction < 1.0:
                weak = self._read_out((controller.name, faults.panel, "weak"), index)
                bad = sound + (1.0 - faults.light_fraction) / (1.0 - made_yield.WEAK) * (weak - sound)
            if faults.substring_out:
                bad = self._read_out((controller.name, faults.panel, "substring out"), index)
            if faults.shadow is not None:
                dark = self._read_out((controller.name, faults.panel, "no beam"), index)
                bad = np.where(np.repeat(self._in_shadow(*faults.shadow), self.fine), dark, bad)
            power[-1] = np.where(ill, bad, sound)
            ratio = float(bad[ill].sum() / max(sound[ill].sum(), 1e-9))
        return np.array(power), ratio

    def _in_shadow(self, first_deg: float, last_deg: float, below_deg: float) -> np.ndarray:
        rows = self.yields.rows
        bearing = np.array([(row["sun_azimuth_deg"] - row["heading_deg"]) % 360.0 for row in rows])
        low = np.array([row["sun_elevation_deg"] for row in rows]) < below_deg
        return ((bearing - first_deg) % 360.0 <= (last_deg - first_deg) % 360.0) & low

    def _loads(
        self,
        offered: np.ndarray,
        faults: Faults,
        rng: np.random.Generator,
        *,
        luck: np.random.Generator,
        load_sd: float,
    ) -> tuple[np.ndarray, np.ndarray]:
        """What is drawn at every fine moment, and by step what the list does not have of it [W]."""
        rows = self.yields.rows
        solar = offered.sum(axis=0).reshape(len(rows), self.fine).mean(axis=1).tolist()
        air = [row["air_temp_c"] for row in rows]
        about = {"boat": self.boat, "watches": self.watches, "ship_offset": SHIP, "step_s": 600.0}
        _, items = model_ledger.demand(rows, [air], [solar], **about)
        listed = {name: np.repeat(values, self.fine) for name, values in items.items()}
        drawn = {name: values * max(luck.normal(1.0, load_sd), 0.0) for name, values in listed.items()}
        fridge = next(load for load in self.boat.load if load.name == "fridge")
        drawn["fridge"] = _cycled(drawn["fridge"] * rng.normal(1.0, 0.05), fridge.watts, rng)
        helm = rng.normal(1.0, 0.06) * np.exp(rng.normal(0.0, 0.2, len(rows)))
        drawn["steering"] = drawn["steering"] * np.repeat(helm, self.fine)
        total, by_list = sum(drawn.values()), sum(listed.values())
        excess = (total - by_list).reshape(len(rows), self.fine).mean(axis=1) + faults.unlisted_w
        return total + faults.unlisted_w, excess

    def _ledger(self, offered: np.ndarray, loads: np.ndarray, faults: Faults) -> list[dict]:
        """The reference's bank, step by step, under a crew who run the engine on a simple rule."""
        rows, engine = self.yields.rows, self.boat.engine
        health = self.boat.bank.health * faults.capacity_fraction
        bank = Bank(self.boat.bank.model_copy(update={"health": health}))
        solar = offered.sum(axis=0).reshape(len(rows), self.fine).mean(axis=1).tolist()
        asked = loads.reshape(len(rows), self.fine).mean(axis=1).tolist()
        soc, gap, lean, left_min, ran_min, steps, h = self.start_soc, 0.0, 0.0, 0.0, 0.0, [], 1.0 / 6.0
        for t, row in enumerate(rows):
            clock = row["time"] + SHIP
            if clock.hour in ENGINE_AT and clock.minute < 10 and soc < RUN_BELOW_SOC:
                left_min = RUN_MIN
            drives = bool(row["under_engine"])
            running = drives or left_min > 0.0
            left_min -= 10.0
            alternator = 0.0
            if running:
                amps = model_ledger.alternator_a(engine, drives=drives, from_min=ran_min, until_min=ran_min + 10.0)
                alternator = amps * bank.bus_v(soc, amps, solar[t] - asked[t], lean)
            ran_min = ran_min + 10.0 if running else 0.0
            sources = {"solar": solar[t], "alternator": alternator, "other": 0.0}
            step = bank.step(soc, **sources, demand=asked[t], h=h, at_hand_a=bank.at_hand_a(soc, gap, h), lean=lean)
            gap = bank.gap_after(gap, step["bank_current_a"], h)
            lean = bank.lean_after(lean, step["bank_current_a"], h)
            steps.append(step | {"bank_soc": soc, "engine_on": float(running), "offered": solar[t]})
            soc = step["soc_next"]
        return steps

    def _displayable(self, offered, loads, steps: list[dict], rng: np.random.Generator) -> dict[str, np.ndarray]:
        """True values at every fine moment, each display's own error in, not yet rounded."""

        def of(name: str) -> np.ndarray:
            return np.repeat([step[name] for step in steps], self.fine)

        taken = np.array([step["solar_power_w"] for step in steps])
        throttled = _throttled(offered, taken, self.fine, rng)
        volts, alternator = of("bank_voltage_v"), of("alternator_power_w")
        net = throttled.sum(axis=0) + alternator - loads
        mean = np.repeat(net.reshape(len(steps), self.fine).mean(axis=1), self.fine)
        current = of("bank_current_a") + (net - mean) / volts
        shown = (current * rng.normal(1.0, GAIN) + rng.normal(0.0, SHUNT_OFFSET_A)).cumsum() * FINE_MIN / 60.0
        soc = self._monitor(np.diff(shown, prepend=0.0), of("bank_soc"))
        names = [controller.name for controller in self.boat.controller]
        gains = rng.normal(1.0, GAIN, len(names))
        return {f"{name} W": gain * power for name, gain, power in zip(names, gains, throttled, strict=True)} | {
            "bank V": volts + rng.normal(0.0, VOLT_BIAS_V) + rng.normal(0.0, 0.01, volts.size),
            "bank A": np.diff(shown, prepend=0.0) * 60.0 / FINE_MIN,
            "SOC %": 100.0 * soc,
            "Ah": (soc - 1.0) * self.boat.bank.capacity_ah * self.boat.bank.health,
            "engine": of("engine_on"),
        }

    def _monitor(self, moved_ah: np.ndarray, true_soc: np.ndarray) -> np.ndarray:
        """State of charge as the monitor counts it, set to the listed bank and put right when the bank is full."""
        capacity = self.boat.bank.capacity_ah * self.boat.bank.health
        soc, here = np.empty(moved_ah.size), self.start_soc
        for t, moved in enumerate(moved_ah.tolist()):
            here = min(here + moved / capacity * (0.99 if moved > 0.0 else 1.0), 1.0)
            if true_soc[t] >= 1.0 - 1e-9:
                here = 1.0
            soc[t] = max(here, 0.0)
        return soc

    def _by_day(self, index: np.ndarray) -> tuple[float, ...]:
        clear = np.repeat([row["clear_w_m2"] for row in self.yields.rows], self.fine)
        day = round(1440.0 / FINE_MIN)
        light = [
            (clear[n : n + day] * index[n : n + day]).sum() / clear[n : n + day].sum()
            for n in range(0, index.size, day)
        ]
        return tuple(float(x) for x in light)


def true_sky(steps: int, fine: int, rng: np.random.Generator) -> np.ndarray:
    """Light over the clear sky's at every fine moment: levels by day, drift over hours, bursts within minutes."""
    count = steps * fine
    days = count // round(1440.0 / FINE_MIN) + 1
    level = np.repeat(rng.normal(0.8, 0.17, days), round(1440.0 / FINE_MIN))[:count]
    keep, drift = math.exp(-FINE_MIN / 150.0), np.empty(count)
    here = 0.0
    for t, noise in enumerate(rng.standard_normal(count).tolist()):
        here = keep * here + math.sqrt(1.0 - keep * keep) * 0.12 * noise
        drift[t] = here
    index = level + drift
    haze = np.repeat(rng.normal(1.0, 0.03, days), round(1440.0 / FINE_MIN))[:count]
    index = np.where(index > 0.95, 0.95 + 0.3 * (index - 0.95), index) * haze
    t = 0
    while t < count:  # spells of broken cloud, apart by hours
        t += round(rng.exponential(7.0) * 60.0 / FINE_MIN)
        end = min(t + round(rng.uniform(1.0, 4.0) * 60.0 / FINE_MIN), count)
        while t < end:
            covered, open_ = (max(round(rng.exponential(7.0) / FINE_MIN), 1) for _ in range(2))
            index[t : t + covered] = rng.uniform(0.25, 0.5)
            index[t + covered : t + covered + open_] = rng.uniform(0.98, 1.15)
            t += covered + open_
    return np.clip(index, 0.06, 1.2)


def _cycled(mean_w: np.ndarray, on_w: float, rng: np.random.Generator) -> np.ndarray:
    """A load that is on or off, with this mean."""
    drawn, owed, on = np.zeros(mean_w.size), rng.uniform(0.0, 300.0), False
    for t, watts in enumerate(mean_w.tolist()):
        owed += (watts - on_w * on) * FINE_MIN
        if on and owed <= 0.0:
            on = False
        elif not on and owed >= on_w * 10.0:  # a run of a quarter of an hour or so
            on = True
        drawn[t] = on_w * on
    return drawn


def _throttled(offered: np.ndarray, taken: np.ndarray, fine: int, rng: np.random.Generator) -> np.ndarray:
    """Controllers cut back to what the bus takes, each in its own measure: set points differ."""
    eager = rng.uniform(0.4, 1.6, offered.shape[0])
    power = offered.copy()
    for t, watts in enumerate(taken.tolist()):
        span = slice(t * fine, (t + 1) * fine)
        means = offered[:, span].mean(axis=1)
        if means.sum() <= watts * (1.0 + 1e-6):
            continue
        low, high = 0.0, 60.0  # of how far they are cut back
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if (means * np.exp(-middle * eager)).sum() > watts else (low, middle)
        power[:, span] *= np.exp(-low * eager)[:, None]
    return power


def _displayed(
    fine: dict[str, np.ndarray], start: datetime, faults: Faults, display: Display, rng: np.random.Generator
) -> tuple[list[datetime], dict[str, list[float]]]:
    """Readings at irregular moments, rounded, with gaps."""
    count = next(iter(fine.values())).size
    spacing = display.every_min * rng.uniform(0.8, 1.2, round(count * FINE_MIN / display.every_min * 1.3))
    minutes = np.cumsum(spacing)
    minutes = minutes[minutes < count * FINE_MIN - FINE_MIN]
    silent = np.zeros(minutes.size, dtype=bool)
    for begin in rng.uniform(0.0, count * FINE_MIN, rng.poisson(display.gaps_per_day * count * FINE_MIN / 1440.0)):
        silent |= (minutes >= begin) & (minutes < begin + 60.0 * rng.exponential(display.gap_h))
    at = (minutes / FINE_MIN).astype(int)
    columns = {}
    for name, values in fine.items():
        read = values[at]
        if display.means and name.endswith((" W", " V", " A")):
            whole = np.concatenate([[0.0], values.cumsum()])
            before = np.concatenate([[0], at[:-1]])
            read = (whole[at] - whole[before]) / np.maximum(at - before, 1)
        rounded = np.round(read, {"bank V": 2, "bank A": 1}.get(name, 0))
        columns[name] = np.where(rng.random(at.size) < display.dropped, np.nan, rounded)[~silent].tolist()
    moments = [start + timedelta(minutes=float(m) + faults.clock_fast_min) for m in minutes[~silent]]
    return [moment.replace(microsecond=0) for moment in moments], columns
