"""The ladder of one watch as a crew reads it, and when to stop a run."""

from __future__ import annotations

import math

import numpy as np

from planner.domain.arrays import Ints
from planner.domain.policy import METER_READINGS
from planner.domain.results.bill import Rung, Stop
from planner.domain.voyage import Voyage
from planner.physics.bank import BankParams, bank_step
from planner.simulation.ledger.bank import alternator_limit_w, bank_params
from planner.simulation.ledger.readings import current_at_minute_a
from planner.simulation.ledger.sources import other_offered_w
from planner.simulation.track.under_sail import under_sail

CURRENT_AFTER_MIN = 10  # min into a run at which the alternator's current is read (common practice)


def rungs(minutes: Ints) -> tuple[Rung, ...]:
    """Join neighbouring meter readings that ask for the same run.

    Parameters
    ----------
    minutes : int array (METER_READINGS,)
        Minutes of engine by whole percent, 0 to 100 [min].

    Returns
    -------
    tuple of Rung
        From high reading to low; the last begins at 0 %.
    """
    begins = np.flatnonzero(np.diff(minutes, prepend=minutes[0] - 1))
    return tuple(Rung(from_percent=int(reading), minutes=int(minutes[reading])) for reading in begins[::-1])


class ChargingRuns:
    """Charging runs tried on the planned course under sail: what current to expect, how many amp-hours go in.

    Parameters
    ----------
    voyage : Voyage
    """

    def __init__(self, voyage: Voyage) -> None:
        self._case = voyage
        self._params: BankParams = bank_params(voyage.boat.bank)
        self._other_w = other_offered_w(voyage.track)
        sailing = under_sail(voyage.track)
        self._alternator_w = np.asarray(
            alternator_limit_w(sailing, voyage.boat.engine, voyage.boat.bank), dtype=float
        )

    def current_after_start_a(self, epoch: int, first: int) -> float | None:
        """Return the bank current ten minutes into a run that the ladder asks for; None where it says nothing.

        Parameters
        ----------
        epoch : int
            The watch. The run begins with the planned SOC or, where its ladder asks for none there, at the highest
            reading at which it does.
        first : int
            Step at which the run begins.

        Returns
        -------
        float or None
            As the shunt shows it; positive charging [A]. None where no reading asks for a run, or the current is not
            above the tail: the run would be over, and a low current says nothing about the alternator.
        """
        voyage = self._case
        asking = np.flatnonzero(voyage.policy.minutes[epoch])
        if not asking.size:
            return None
        soc = min(float(voyage.planned_soc[first]), asking[-1] / (METER_READINGS - 1))
        rest_w = float(voyage.planned_solar_w[first] + self._other_w[first] - voyage.planned_demand_w[first])
        current = current_at_minute_a(
            voyage.boat.engine, self._params, minute=CURRENT_AFTER_MIN, soc=soc, rest_w=rest_w
        )
        return current if current > self._params.tail_current_a else None

    def amp_hours_in(self, epoch: int, minutes: int, start_soc: float) -> float:
        """Return what a run puts into the bank, as the shunt counts it.

        Parameters
        ----------
        epoch : int
            The watch; the run takes its allowed steps from the first.
        minutes : int
            Longest length of the run [min]; it stops sooner at the policy's stop SOC.
        start_soc : float
            SOC at the start of the run [0..1].

        Returns
        -------
        float
            Sum of the positive current [Ah].
        """
        voyage = self._case
        steps = voyage.epoch_steps(epoch)
        allowed = steps.start + np.flatnonzero(voyage.policy.allowed[steps])
        soc, amp_hours = start_soc, 0.0
        for step in allowed[: round(minutes * 60.0 / voyage.step_s)]:
            if soc >= voyage.policy.stop_soc[epoch]:
                break
            soc, current = self._step(soc, int(step))
            amp_hours += max(current, 0.0) * voyage.step_h
        return amp_hours

    def stop(self, epoch: int) -> Stop:
        """Return when to stop a run of this watch, whichever comes first.

        The amp-hours are those of the ladder's longest run begun at the reserve, or at the reading nearest to it that
        asks for that run: a bank that has more takes less, so they end no run that the ladder asks for, but do catch
        a meter that has drifted.

        Parameters
        ----------
        epoch : int
            The watch.

        Returns
        -------
        Stop
            SOC and current rounded to the nearest whole figure, amp-hours up.
        """
        table = self._case.policy.minutes[epoch]
        longest = int(table.max())
        asking = np.flatnonzero(table == longest)
        reading = int(np.clip(round(100.0 * self._case.boat.bank.reserve_soc), asking.min(), asking.max()))
        amp_hours = self.amp_hours_in(epoch, longest, reading / (METER_READINGS - 1)) if longest else 0.0
        return Stop(
            soc_percent=round(100.0 * float(self._case.policy.stop_soc[epoch])),
            amp_hours=math.ceil(amp_hours),
            tail_a=round(self._params.tail_current_a),
        )

    def _step(self, soc: float, step: int) -> tuple[float, float]:
        """Follow the planned course's bank for one step with the engine charging; return SOC and current [A]."""
        voyage = self._case
        outcome = bank_step(
            soc,
            float(voyage.planned_solar_w[step]),
            float(self._alternator_w[step]),
            float(self._other_w[step]),
            float(voyage.planned_demand_w[step]),
            voyage.step_s,
            self._params,
            np.inf,
            0.0,
        )
        return float(outcome[0]), float(outcome[5])
