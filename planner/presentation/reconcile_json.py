"""reconcile.json: the findings for other programs."""

from __future__ import annotations

from dataclasses import fields

from planner.domain.reconcile_results import Reconciliation
from planner.presentation.results_json import as_json, named


def findings(found: Reconciliation) -> str:
    """Return every finding under its own name, as any result's JSON, without the courses step by step.

    Parameters
    ----------
    found : Reconciliation
    """
    kept = (field.name for field in fields(found) if field.name != "courses")
    return as_json({name: content for each in kept for name, content in named(each, found)})
