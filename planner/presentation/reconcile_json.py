"""reconcile.json: the findings for other programs."""

from __future__ import annotations

from dataclasses import fields
from typing import Final

from planner.domain.reconcile_results import Reconciliation
from planner.presentation.results_json import as_json, named

FORMAT: Final = 1
"""Of the file: it rises when a name is given up or changes its meaning."""


def findings(found: Reconciliation) -> str:
    """Return every finding under its own name, as any result's JSON, without the courses step by step.

    ``controllers`` holds each controller's level day by day in ``days``: the passage ``day`` from 1, when it
    ``begins`` (UTC), ``ratio`` of the energy read to that expected (``value``, ``low``, ``high`` [1]), ``hours``
    judged [h], ``read_wh`` and ``expected_wh`` over them [Wh]. Days without a judged hour are absent.

    Parameters
    ----------
    found : Reconciliation
    """
    kept = (field.name for field in fields(found) if field.name != "courses")
    return as_json({"format": FORMAT} | {name: content for each in kept for name, content in named(each, found)})
