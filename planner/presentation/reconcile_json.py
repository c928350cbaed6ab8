"""reconcile.json: the findings for other programs."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from planner.domain.reconcile_results import Reconciliation
from planner.presentation.results_json import named


def findings(found: Reconciliation) -> dict[str, Any]:
    """Return every finding under its own name, JSON-ready as any result, without the courses step by step.

    Parameters
    ----------
    found : Reconciliation
    """
    kept = (field.name for field in fields(found) if field.name != "courses")
    return {name: content for each in kept for name, content in named(each, found)}
