"""What the history holds for or against one controller's panels, gathered for a page."""

from __future__ import annotations

from planner.domain.boat import Boat
from planner.domain.errors import Fault, InputError, suggest
from planner.domain.history_results import ClaimedPanel, Evidence, History, SetAside
from planner.studies.trend import trends


def evidence(history: History, controller: str, boat: Boat) -> Evidence:
    """Return the evidence on one controller's panels.

    Parameters
    ----------
    history : History
    controller : str
        Its name in the boat file.
    boat : Boat
        Its panels and controllers are read.

    Raises
    ------
    InputError
        When the history or the boat has no such controller.
    """
    known = history.controllers()
    wired = {one.name: one for one in boat.controller}
    if controller not in known or controller not in wired:
        mend = suggest(controller, [name for name in known if name in wired])
        raise InputError(
            [Fault("history", controller, "it and the boat file do not both have this controller.", mend)]
        )
    every = trends(history)
    names = [name for string in wired[controller].strings for name in string]
    panels = {panel.name: panel for panel in boat.panel}
    sums = [one for log in history.logs for one in log.aside if one.controller == controller]
    return Evidence(
        trend=next(one for one in every if one.controller == controller),
        panels=tuple(ClaimedPanel(name, panels[name].max_power_w, panels[name].age_years) for name in names),
        days=tuple(day for day in history.days if day.controller == controller),
        others=tuple(one for one in every if one.controller != controller),
        logs=history.logs,
        aside=SetAside(
            controller,
            sum(one.clipped_h for one in sums),
            sum(one.full_h for one in sums),
            sum(one.shaded_h for one in sums),
        ),
        days_logged=sum(len(log.day_begins) for log in history.logs),
    )
