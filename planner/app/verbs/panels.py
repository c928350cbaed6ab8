"""Which panel earns its place, how to wire pairs, and where the next one would go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import count

from planner.app.stages import OnStage, also_logged, unreported
from planner.domain.errors import Fault, InputError
from planner.domain.inputs.boat import Boat
from planner.domain.inputs.given import Inputs
from planner.domain.inputs.place import Place
from planner.domain.results.panels import PanelStudy, PanelWorth
from planner.domain.results.plan import Plan
from planner.flow.plan import plan_from
from planner.flow.progress import silent
from planner.flow.recall import Recall
from planner.simulation.harvest.array_checks import array_faults
from planner.simulation.harvest.fit import scene_faults
from planner.studies.boats import dark
from planner.studies.figures import Outcome, difference_of, outcome_of
from planner.studies.panels.pairs import pair_wirings
from planner.studies.panels.worth import fitted, not_worth, why_sums_differ, worth_aboard, worth_of_place
from planner.studies.wiring import rewiring, with_panel, without_panels

LEAST_RATING_W, MOST_RATING_W = 5.0, 1000.0  # W


def panels(
    inputs: Inputs, *, rating_w: float = 100.0, on_stage: OnStage = unreported, recall: Recall | None = None
) -> PanelStudy:
    """Plan the passage with all panels, without each, with none lit, and with one more on each place.

    Parameters
    ----------
    inputs : Inputs
        From ``read_passage``.
    rating_w : float
        Of the panel tried on the places [W].
    on_stage : callable
        Told each plan as it begins, and how much is done.
    recall : Recall, optional
        Spares stages that have been run.

    Raises
    ------
    InputError
        When the input is wrong.
    """
    if not LEAST_RATING_W <= rating_w <= MOST_RATING_W:
        problem = f"{rating_w:g} W is not {LEAST_RATING_W:g} to {MOST_RATING_W:g} W."
        raise InputError([Fault("--rating", "", problem, "Give the rating of one panel.")])
    on_stage, recall = also_logged(on_stage), recall or Recall()
    names = [panel.name for panel in inputs.boat.panel]
    steps, done = len(names) + len(inputs.boat.place) + 3, count()  # with all, with none lit, wiring

    def plan_with(boat: Boat, what: str) -> Plan:
        on_stage(f"planning {what}", next(done) / steps)
        return plan_from(replace(inputs, boat=boat), progress=silent, recall=recall)

    plan = plan_with(inputs.boat, "with all panels")
    base = outcome_of(plan)
    without = []
    for name in names if len(names) > 1 else ():
        fewer = without_panels(inputs.boat, [name])
        wiring = rewiring(inputs.boat, fewer, [name])
        without.append(outcome_of(plan_with(fewer, f"without {name}"), wiring))
    unlit = outcome_of(plan_with(dark(inputs.boat), "with no panel lit"))
    on_stage("wiring pairs", next(done) / steps)
    pairs = pair_wirings(plan)
    places = [_on_place(place, inputs.boat, rating_w, base, plan_with) for place in inputs.boat.place]
    return PanelStudy(
        days=float(base.passage_h[-1]) / 24.0,
        aboard=worth_aboard(plan, base, without),
        together_save_h=difference_of(unlit, base, "charging_h"),
        pairs=pairs,
        next_rating_w=rating_w,
        places=tuple(sorted(places, key=_merit)),
        sums=why_sums_differ(base, without, unlit),
    )


def _on_place(
    place: Place, boat: Boat, rating_w: float, base: Outcome, plan_with: Callable[[Boat, str], Plan]
) -> PanelWorth:
    """Return the worth of a panel on a place, or why it cannot lie there."""
    fit = fitted(place, boat, rating_w)
    if isinstance(fit, Fault):
        return not_worth(place.name, [fit])
    panel, controller = fit
    more = with_panel(boat, panel, controller)
    faults = [*array_faults(more.panel, more.controller, more.bank, ""), *scene_faults(more.rig, more.panel, "")]
    if faults:
        return not_worth(place.name, faults)
    joined = len(more.controller) == len(boat.controller)
    plan = plan_with(more, f"with {rating_w:g} W more on {place.name}")
    return worth_of_place(place, plan, outcome_of(plan, rewiring(boat, more) if joined else ()), base)


def _merit(worth: PanelWorth) -> tuple[float, float]:
    """Return what places are ordered by: hours saved in the middle member, then energy."""
    if worth.saves_charging_h is None or worth.yield_wh is None:
        return float("inf"), 0.0
    return -worth.saves_charging_h.p50, -worth.yield_wh.planned
