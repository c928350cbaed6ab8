"""The card: one ladder for each watch of the day, the same every day, and a few watches with one of their own.

A ladder that is read every night is followed; sixty different ones are not. The card is improved in turns: the
program's costs of every length of run are summed over the days of a watch, weighted by how often each SOC is met,
and the ladder that is best for their sum takes the watch's place on the card; then the costs are reckoned anew, since
later watches follow another ladder now.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit

from planner.decision.policy.program import GONE, Problem, Solution, best_ladder, expected_cost
from planner.domain.arrays import Floats, Ints

CARD_RUNGS: Final = 3  # most lines of a ladder that is known by heart (common practice)
BAND_PERCENT: Final = 5  # %, fineness of the card's readings: finer than a meter errs by is not read
MOST_TURNS: Final = 4  # of improvement; most cards settle in two
READING_SLACK: Final = 1e-9  # %, rounding of a grid
MOST_EXCEPTIONS: Final = 3  # watches of a passage with a ladder of their own
WORTH_A_LINE: Final = 0.01  # 1, of the cost from departure on that an exception must save


@dataclass(frozen=True, eq=False)
class Card:
    """Ladders, and which of them each epoch follows.

    Attributes
    ----------
    minutes : int array (ladder, soc)
        Minutes of engine by SOC, asked for whatever an epoch has room for [min].
    of_epoch : int array (epoch,)
        Which ladder.
    """

    minutes: Ints
    of_epoch: Ints


def optimise_card(
    problem: Problem, members: Ints, weight: Floats, *, watch: Ints, begun: Solution
) -> tuple[Card, Solution]:
    """Choose the best ladder for each watch of the day, and the watches that are worth one of their own.

    Parameters
    ----------
    problem, members
        As for ``optimise``.
    weight : float array (epoch, soc, age)
        As for ``optimise_ladder``.
    watch : int array (epoch,)
        Which of the day's watches each epoch is.
    begun : Solution
        What later watches are taken to follow in the first turn.

    Returns
    -------
    card : Card
    solution : Solution
        The costs to go under the card; its choice is the same for all states.
    """
    at_sea = (problem.stay[:, members] != GONE).mean(axis=1)
    lengths = np.unique(problem.minutes[problem.minutes >= 0])
    open_to = np.array([np.searchsorted(row[row >= 0], lengths, side="right") - 1 for row in problem.minutes])
    search = _Search(problem, members, weight * at_sea[:, None, None], lengths, open_to)
    _, costs = search.reckoned(begun.choice)
    turns: list[_Turn] = []
    for _ in range(MOST_TURNS):
        card = search.joint(costs, watch)
        if turns and np.array_equal(card.minutes, turns[-1].card.minutes):
            break
        turns.append(search.followed(card))
        costs = turns[-1].costs
    best = search.with_exceptions(min(turns, key=lambda turn: turn.cost))
    return best.card, best.solution


@dataclass(frozen=True, eq=False)
class _Turn:
    """A card, what follows from it, its cost from departure on, and then the weighted costs (epoch, length, soc)."""

    card: Card
    solution: Solution
    cost: float
    costs: Floats


@dataclass(frozen=True, eq=False)
class _Search:
    """Looks for ladders: ``weight`` is (epoch, soc, age), ``open_to`` the choice for each (epoch, length)."""

    problem: Problem
    members: Ints
    weight: Floats
    lengths: Ints
    open_to: Ints

    def reckoned(self, choice: Ints) -> tuple[Floats, Floats]:
        """Return the costs to go of choices, and before them the weighted costs (epoch, length, soc)."""
        value, costs = _along(self.problem, self.members, choice, self.weight, self.open_to)
        return value, costs

    def followed(self, card: Card) -> _Turn:
        """Return what follows from a card."""
        at = np.searchsorted(self.lengths, card.minutes)[card.of_epoch]
        choice = np.take_along_axis(self.open_to, at, axis=1)
        choice = np.repeat(choice[:, :, None], 2 * self.problem.ages, axis=2)
        value, costs = self.reckoned(choice)
        cost = float((self.weight[0] * value[0, :, ::2]).sum() / self.weight[0].sum())
        return _Turn(card, Solution(value=value, choice=choice), cost, costs)

    def joint(self, costs: Floats, of_epoch: Ints) -> Card:
        """Return the card of the ladders that are best for each group of epochs."""
        counts = self.weight.sum(axis=2)
        groups = [of_epoch == group for group in range(int(of_epoch.max()) + 1)]
        ladders = [self._ladder(costs[mine].sum(axis=0), counts[mine].sum(axis=0)) for mine in groups]
        return Card(minutes=np.array(ladders), of_epoch=of_epoch)

    def with_exceptions(self, turn: _Turn) -> _Turn:
        """Return the card with those watches apart whose own ladders save enough, where that is cheaper."""
        card, costs = turn.card, turn.costs
        own = self.joint(costs, np.arange(len(costs))).minutes
        saved = self._spent(costs, card.minutes[card.of_epoch]) - self._spent(costs, own)
        dearest = np.argsort(-saved)[:MOST_EXCEPTIONS]
        apart = dearest[saved[dearest] > WORTH_A_LINE * turn.cost]
        of_epoch = card.of_epoch.copy()
        of_epoch[apart] = len(card.minutes) + np.arange(apart.size)
        tried = self.followed(Card(np.concatenate([card.minutes, own[apart]]), of_epoch))
        return min(turn, tried, key=lambda each: each.cost)

    def _ladder(self, cost: Floats, counts: Floats) -> Ints:
        """Return the minutes at each SOC of the ladder that is best for a weighted cost (length, soc)."""
        percent = np.linspace(0.0, 100.0, counts.size)
        band = (percent + READING_SLACK).astype(np.int64) // BAND_PERCENT
        begins = np.flatnonzero(np.diff(band, prepend=-1))
        counts = np.maximum(np.add.reduceat(counts, begins), np.finfo(float).tiny)
        means = np.add.reduceat(cost, begins, axis=1) / counts
        chosen = best_ladder(means[:, :, None], self.lengths, counts[:, None], CARD_RUNGS)
        minutes: Ints = self.lengths[chosen[band]]
        return minutes

    def _spent(self, costs: Floats, minutes: Ints) -> Floats:
        """Return the weighted cost of each epoch, (epoch,), under ladders (epoch, soc)."""
        at = np.searchsorted(self.lengths, minutes)[:, None, :]
        total: Floats = np.take_along_axis(costs, at, axis=1).sum(axis=(1, 2))
        return total


@njit(cache=True, nogil=True)
def _along(problem, members, chosen, weight, open_to):  # type: ignore[no-untyped-def]
    """Return the cost to go of chosen runs, and at each epoch the weighted cost of every length of run."""
    epochs, choices, nodes = problem.soc_end.shape[0], problem.soc_end.shape[1], problem.soc_end.shape[2]
    states = 2 * problem.ages
    value = np.empty((epochs + 1, nodes, states))
    of_length = np.zeros((epochs, open_to.shape[1], nodes))
    for node in range(nodes):
        value[epochs, node] = problem.arrival_cost[node]
    cost = np.empty((choices, nodes, states))
    for epoch in range(epochs - 1, -1, -1):
        expected_cost(problem, epoch, value[epoch + 1], members, cost)
        for node in range(nodes):
            for state in range(states):
                value[epoch, node, state] = cost[chosen[epoch, node, state], node, state]
            for length in range(open_to.shape[1]):
                for age in range(problem.ages):
                    of_length[epoch, length, node] += (
                        weight[epoch, node, age] * cost[open_to[epoch, length], node, 2 * age]
                    )
    return value, of_length
