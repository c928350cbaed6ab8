"""What the boat drew by the energy balance of its readings, and how surely parts of it differ from the list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from planner.domain.arrays import Bools, Floats, Ints
from planner.domain.inputs.power import Load, SecondaryBank
from planner.domain.results.reconcile.findings import LEVEL, Interval
from planner.domain.ship_clock import ShipOffset
from planner.domain.units import SECONDS_PER_HOUR
from planner.simulation.clock import in_spans, ship_hour, step_seconds
from planner.simulation.ledger.demand import STEERING
from planner.simulation.ledger.sources import other_offered_w

CONTROLLER_GAIN: Final = 0.02  # 1, standard deviation of what a controller shows of its output (common practice)
BANK_GAIN: Final = 0.01  # 1, of bank volts times amps: shunt and voltmeter (common practice)
SHUNT_ZERO_A: Final = (
    0.05  # A, of the shunt's zero, and of rounding to 0.1 A where loads are steady (common practice)
)
LIST_DOUBT: Final = 0.15  # 1, of a listed load's watts: plates say the most, not the mean (common practice)
WEATHER_DOUBT: Final = 0.2  # 1, of steering and of what works harder in the warm (common practice)
OTHER_CHARGE_W: Final = 25.0  # W, and the gains' doubt on top: below nothing by so much, something else charged
BLOCK_H: Final = 4.0  # h, over which the scatter of loads is taken as one: longer than a fridge's cycle
BLOCKS_A_DAY: Final = 6
ENOUGH_DAYS: Final = 5  # from which whole days are taken as one: what is run at noon today may run at four tomorrow
HOURS_A_DAY: Final = 24
ENOUGH_VISITS: Final = 2  # days on which an hour was read, from which its own mean may be taken off the scatter


@dataclass(frozen=True, eq=False)
class Balance:
    """Steps with the engine off in which every flow was read; arrays (step,) unless said otherwise.

    Attributes
    ----------
    time : datetime64 array
        Starts, UTC.
    read_w, listed_w : array
        What the boat drew, and what its list asks for [W].
    item_w : array (step, load)
        Listed, by load [W].
    solar_w, bank_w, volts : array
        Controllers together, into the bank, bank [W, W, V].
    hour : int array
        Of the ship's day.
    block, stretch : int array
        Which ``BLOCK_H`` each is in; and so, but a day's hours for deferrable loads as one.
    names : tuple of str (load,)
    item_doubt : array (load,)
        Standard deviation over the listed [1].
    deferrable : bool array (load,)
        Placed by the planner; the crew may run it at another time.
    may_run : bool array (load, 24)
        Whether it may run in each hour of the ship's day.
    step_h : float
        [h].
    """

    time: npt.NDArray[np.datetime64]
    read_w: Floats
    listed_w: Floats
    item_w: Floats
    solar_w: Floats
    bank_w: Floats
    volts: Floats
    hour: Ints
    block: Ints
    stretch: Ints
    names: tuple[str, ...]
    item_doubt: Floats
    deferrable: Bools
    may_run: Bools
    step_h: float

    @property
    def excess_w(self) -> Floats:
        """Read less listed, (step,) [W]."""
        return self.read_w - self.listed_w

    @property
    def cluster(self) -> Ints:
        """Which stretch each step is in within which loads are taken to hang together, (step,)."""
        day = self.block // BLOCKS_A_DAY
        return day if np.unique(day).size >= ENOUGH_DAYS else self.stretch

    def since(self, moment: np.datetime64) -> Balance:
        """Return the steps from a moment on."""
        kept = self.time >= moment
        names = ("time", "read_w", "listed_w", "item_w", "solar_w", "bank_w", "volts", "hour", "block", "stretch")
        fields = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return Balance(**(fields | {name: fields[name][kept] for name in names}))


def balance_of(
    steps: xr.Dataset,
    track: xr.Dataset,
    demand: xr.Dataset,
    ship_offset: ShipOffset,
    *,
    loads: Sequence[Load],
    secondary_banks: Sequence[SecondaryBank],
) -> Balance:
    """Return the balance of every step that can be judged: all read, engine off, nothing else charging.

    Parameters
    ----------
    steps : xarray.Dataset
        ``glossary.READINGS`` on the track's steps.
    track, demand : xarray.Dataset
        As the glossary has them, over the same steps.
    ship_offset : timedelta or ShipClock
        Ship's time less UTC.
    loads, secondary_banks : sequence
        From the boat file.
    """
    volts = steps["read_bank_voltage_v"].values
    bank_w = volts * steps["read_bank_current_a"].values
    solar_w = steps["read_controller_power_w"].values.sum(axis=1)
    read_w = solar_w - bank_w
    engine = steps["read_engine_on"].values
    still = np.where(np.isnan(engine), track["under_engine"].values, engine) == 0.0
    least_w = -(OTHER_CHARGE_W + 2.0 * BANK_GAIN * np.abs(bank_w) + 2.0 * CONTROLLER_GAIN * solar_w)
    kept = still & (other_offered_w(track) == 0.0) & (read_w >= least_w)
    time = track["time"].values.astype("datetime64[ns]")[kept]
    step_h = step_seconds(track) / SECONDS_PER_HOUR
    names = tuple(str(name) for name in demand["load"].values)
    by_name: dict[str, Load | SecondaryBank] = {load.name: load for load in loads}
    by_name |= {bank.name: bank for bank in secondary_banks}
    # All that is not in the file (steering, idle draws) runs at its own time.
    deferred = [_is_deferrable(by_name.get(name)) for name in names]
    hours = ship_hour(time, ship_offset)
    block = (np.flatnonzero(kept) * step_h // BLOCK_H).astype(np.int64)
    deferrable = np.array(deferred, dtype=np.bool_)
    may_run = np.stack([_hours_allowed(by_name.get(name), time, hours, ship_offset) for name in names])
    windows = may_run[deferrable & ~may_run.all(axis=1)]
    within = np.any(windows, axis=0)[hours]
    window = np.cumsum(np.diff(within.astype(np.int64), prepend=0) == 1)
    return Balance(
        time=time,
        read_w=read_w[kept],
        listed_w=demand["demand_power_w"].values.mean(axis=0)[kept],
        item_w=demand["load_item_power_w"].values[kept],
        solar_w=solar_w[kept],
        bank_w=bank_w[kept],
        volts=volts[kept],
        hour=hours,
        block=block,
        stretch=np.where(within, 2 * window, 2 * block + 1),
        names=names,
        item_doubt=np.array([_doubt(name, by_name.get(name)) for name in names]),
        deferrable=deferrable,
        may_run=may_run,
        step_h=step_h,
    )


def _is_deferrable(load: Load | SecondaryBank | None) -> bool:
    return isinstance(load, SecondaryBank) or (load is not None and load.wh_per_day is not None)


def _doubt(name: str, load: Load | SecondaryBank | None) -> float:
    warm = isinstance(load, Load) and load.per_c > 0.0
    return WEATHER_DOUBT if name == STEERING or warm else LIST_DOUBT


def _hours_allowed(
    load: Load | SecondaryBank | None,
    time: npt.NDArray[np.datetime64],
    hours: Ints,
    ship_offset: ShipOffset,
) -> Bools:
    allowed = np.ones(HOURS_A_DAY, dtype=np.bool_)
    if isinstance(load, Load) and load.hours:
        inside = in_spans(time, load.hours, ship_offset)
        allowed = np.array([bool(inside[hours == hour].any()) for hour in range(HOURS_A_DAY)])
    return allowed


@dataclass(frozen=True)
class Contrast:
    """A weighted sum of read less listed.

    Attributes
    ----------
    value : float
        [W].
    noise_sd, meter_sd, list_sd : float
        Standard deviations: of loads that come and go, of the meters, of the list [W].
    freedom : float
        Degrees of freedom of the first.
    """

    value: float
    noise_sd: float
    meter_sd: float
    list_sd: float
    freedom: float

    def interval(self) -> Interval:
        """Return what was drawn beyond the list; the list's own doubt is not in it [W]."""
        from scipy.stats import norm, t

        tail = 0.5 + LEVEL / 2.0
        reach = float(np.hypot(t.ppf(tail, self.freedom) * self.noise_sd, norm.ppf(tail) * self.meter_sd))
        return Interval(self.value, self.value - reach, self.value + reach)

    @property
    def score(self) -> float:
        """Value over all its doubt, as a standard normal that is as rarely exceeded [1]."""
        doubt = float(np.hypot(np.hypot(_wider(self.freedom) * self.noise_sd, self.meter_sd), self.list_sd))
        return self.value / doubt if doubt > 0.0 else 0.0


@lru_cache(maxsize=1024)
def _wider(freedom: float) -> float:
    """Return by how much further than a normal a sum of few blocks strays, in the tail [1]."""
    from scipy.stats import norm, t

    return float(t.ppf(0.975, freedom) / norm.ppf(0.975))


def scatter(balance: Balance) -> Floats:
    """Return what each step strays from the mean, of its hour where that was read on enough days, (step,) [W]."""
    excess = balance.excess_w
    day = balance.block // BLOCKS_A_DAY
    visits = np.array([np.unique(day[balance.hour == hour]).size for hour in range(HOURS_A_DAY)])
    read = visits > 0
    if np.median(visits[read]) < ENOUGH_VISITS:
        return np.asarray(excess - excess.mean(), dtype=np.float64)
    strays = excess.copy()
    for hour in np.flatnonzero(read):
        inside = balance.hour == hour
        days = max(int(visits[hour]), 2)
        strays[inside] = (excess[inside] - excess[inside].mean()) * np.sqrt(days / (days - 1.0))
    return strays


def by_hour(hour: Ints, chosen: Bools | None = None) -> Floats:
    """Return weights that give every hour of the day that was read the same say; of the chosen steps alone."""
    counts = np.bincount(hour if chosen is None else hour[chosen], minlength=HOURS_A_DAY)
    read = int((counts > 0).sum())
    weight = np.divide(1.0, counts * read, out=np.zeros(HOURS_A_DAY), where=counts > 0)[hour]
    return weight if chosen is None else np.where(chosen, weight, 0.0)


def contrast(balance: Balance, weight: Floats, strays: Floats) -> Contrast:
    """Return a weighted sum of read less listed with its doubts.

    Loads that come and go are taken as one within a block or a day (the sandwich estimate for clustered data); meters
    by their stated gains and zero; each listed load by its own doubt, a deferrable one also by another habit.

    Parameters
    ----------
    balance : Balance
    weight : array (step,)
        Of the sum [1].
    strays : array (step,)
        From ``scatter`` [W].
    """
    weighted = weight != 0.0
    cluster = balance.cluster
    sums = np.bincount(cluster, weights=weight * strays)
    blocks = np.unique(cluster[weighted]).size
    freedom = max(blocks - 1.0, 1.0)
    noise_sd = float(np.sqrt(np.sum(sums**2) * blocks / freedom))
    meter_sd = float(
        np.sqrt(
            (CONTROLLER_GAIN * weight @ balance.solar_w) ** 2
            + (BANK_GAIN * weight @ balance.bank_w) ** 2
            + (SHUNT_ZERO_A * weight @ balance.volts) ** 2
        )
    )
    listed = weight @ balance.item_w
    doubt = np.abs(listed) * balance.item_doubt
    moved = np.zeros(listed.size)
    if weight.min() < 0.0:
        moved[balance.deferrable] = _if_moved(balance, weight, listed)[balance.deferrable]
    return Contrast(
        float(weight @ balance.excess_w),
        noise_sd,
        meter_sd,
        float(np.sqrt(np.sum(doubt**2 + moved**2))),
        freedom,
    )


def _if_moved(balance: Balance, weight: Floats, listed: Floats) -> Floats:
    """Return how each load's part in a contrast may change when the crew has a habit of its own, (load,) [W].

    Any hour in which it may run is as likely as any other, the same every day.
    """
    of_hour = np.bincount(balance.hour, weights=weight, minlength=HOURS_A_DAY)
    counts = np.bincount(balance.hour, minlength=HOURS_A_DAY)
    share = np.divide(of_hour, counts, out=np.zeros(HOURS_A_DAY), where=counts > 0)
    total = balance.item_w.sum(axis=0)
    shares = np.where(balance.may_run & (counts > 0), share, np.nan)
    known = ~np.isnan(shares).all(axis=1)
    moved = np.zeros(listed.size)
    moved[known] = np.hypot(
        np.nanstd(shares[known], axis=1) * total[known],
        np.nanmean(shares[known], axis=1) * total[known] - listed[known],
    )
    return moved


def day_scatter(balance: Balance, strays: Floats, *, but_at: int) -> tuple[float, float]:
    """Return how far the mean of a day's steps strays [W], by days one after another, and its degrees of freedom [1].

    By successive differences (von Neumann's estimate), so that slow changes hardly enter.

    Parameters
    ----------
    balance : Balance
    strays : array (step,)
        From ``scatter`` [W].
    but_at : int
        Block within whose day something may have begun: its differences are left out.
    """
    day = balance.block // BLOCKS_A_DAY
    counts = np.bincount(day)
    days = np.flatnonzero(counts * balance.step_h >= HOURS_A_DAY / 2.0)
    means = np.bincount(day, weights=strays)[days] / counts[days]
    begins = but_at // BLOCKS_A_DAY
    across = ((days[:-1] <= begins) & (days[1:] >= begins)) if but_at % BLOCKS_A_DAY else days[1:] == begins
    changes = np.diff(means)[~across]
    if changes.size < ENOUGH_VISITS:
        return float("inf"), 1.0
    return float(np.sqrt(np.mean(changes**2) / 2.0)), 2.0 * changes.size / 3.0
