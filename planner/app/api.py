"""The small interface for notebooks and scripts: read a passage once, then ask."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.app.inputs import read_inputs
from planner.app.verbs.compare import compare_variants
from planner.app.verbs.headings import fan_of
from planner.app.verbs.panels import study_panels
from planner.app.verbs.plan import plan
from planner.app.verbs.reconcile import reconcile_from
from planner.app.verbs.replan import replan_from
from planner.domain.inputs.given import Inputs, Override
from planner.domain.inputs.log_mapping import LogMapping
from planner.domain.inputs.variants import Variant
from planner.domain.results.panels import PanelStudy
from planner.domain.results.plan import Plan
from planner.domain.results.reconcile.findings import Reconciliation
from planner.domain.results.replan import Replan
from planner.domain.results.studies import Comparison, HeadingFan

__all__ = ["compare", "headings", "panels", "plan", "read_passage", "reconcile", "replan", "write"]


def read_passage(passage_file: str | Path, overrides: Mapping[str, Any] | None = None) -> Inputs:
    """Read a passage with boat, route and forecast.

    Parameters
    ----------
    passage_file : str or Path
        TOML.
    overrides : mapping, optional
        Dotted keys into passage or boat, such as ``boat.bank.capacity_ah``, to their values.

    Returns
    -------
    Inputs

    Raises
    ------
    InputError
        With every fault that was found.
    """
    return read_inputs(Path(passage_file), [Override(key, value) for key, value in (overrides or {}).items()])


def write(made: Plan, folder: str | Path) -> tuple[Path, ...]:
    """Write every output of a plan into a folder, as the command does.

    Parameters
    ----------
    made : Plan
        From ``plan``.
    folder : str or Path
        Made when it does not exist.

    Returns
    -------
    tuple of Path
        The files, plan.json last.

    Raises
    ------
    InputError
        When the folder cannot be written to, or another process does.
    OutputError
        When the files cannot be written.
    """
    from planner.presentation.outputs import write_outputs

    return write_outputs(made, Path(folder))


def headings(
    passage: Inputs, *, at: str | datetime | None = None, hours: float = 4.0, step_deg: float = 10.0
) -> HeadingFan:
    """Hold other headings over some hours of the plan.

    Parameters
    ----------
    passage : Inputs
        From ``read_passage``.
    at : str or datetime, optional
        An aware datetime, ISO 8601 with an offset, or ship's time: '09:00', 'day 3 09:00'; departure when None.
    hours : float
        For so long [h].
    step_deg : float
        From one heading to the next [degree].
    """
    return fan_of(passage, at=at, hours=hours, step_deg=step_deg, progress=_silent)


def compare(
    passage: Inputs,
    vary: Mapping[str, Sequence[Any]] | None = None,
    *,
    variants: Sequence[Variant] = (),
    jobs: int | None = 1,
) -> Comparison:
    """Set variants side by side on the same members.

    Parameters
    ----------
    passage : Inputs
        From ``read_passage``.
    vary : mapping, optional
        Dotted key to the values that it takes; several keys make a grid.
    variants : sequence of Variant
        Named ones, after the grid's.
    jobs : int, optional
        Processes; None for as many as processors. More than one needs a script guarded by ``__main__``.
    """
    from planner.studies.variants import grid

    axes = {key: [(str(value), value) for value in values] for key, values in (vary or {}).items()}
    asked = (*(grid(axes) if axes else ()), *variants)
    if not asked:
        raise ValueError("give vary or variants: nothing is varied")
    return compare_variants(passage, asked, jobs=jobs, progress=lambda _done, _total, _name: None)


def panels(passage: Inputs, *, rating_w: float = 100.0) -> PanelStudy:
    """Find what each panel, its wiring and the next one are worth.

    Parameters
    ----------
    passage : Inputs
        From ``read_passage``.
    rating_w : float
        Of the panel tried on the boat's places [W].
    """
    return study_panels(passage, rating_w=rating_w, tell=_silent)


def replan(
    passage: Inputs,
    *,
    fix: tuple[float, float],
    time: datetime,
    soc: float | None = None,
    volts: float | None = None,
    last: str | Path | None = None,
) -> Replan:
    """Plan the rest of the route from a fix.

    Parameters
    ----------
    passage : Inputs
        From ``read_passage``.
    fix : tuple of float
        Latitude and longitude [degree].
    time : datetime
        Of the fix, with its offset.
    soc : float, optional
        What the battery monitor shows [0..1].
    volts : float, optional
        Of the bank after hours of rest [V].
    last : str or Path, optional
        Folder of the last plan, to be told what changed.
    """
    return replan_from(
        passage,
        fix=fix,
        time=time,
        soc=soc,
        volts=volts,
        last=Path(last) if last is not None else None,
        progress=_silent,
    )


def reconcile(
    passage: Inputs, logs: str | Path | Sequence[str | Path], *, mapping: LogMapping | Mapping[str, Any] | None = None
) -> Reconciliation:
    """Hold a log of readings against the model.

    Parameters
    ----------
    passage : Inputs
        From ``read_passage``, with the best forecast that is known.
    logs : str, Path or sequence of them
        CSV.
    mapping : LogMapping or mapping, optional
        What the logs do not say of themselves, as in the file for ``--map``.
    """
    several = [logs] if isinstance(logs, str | Path) else logs
    known = LogMapping.model_validate(mapping) if isinstance(mapping, Mapping) else mapping
    return reconcile_from(passage, [Path(log) for log in several], mapping=known, progress=_silent)


def _silent(_stage: str, _share: float = 0.0) -> None:
    """Tell nobody which stage begins."""
