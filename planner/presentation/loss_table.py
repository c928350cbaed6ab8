"""The loss account as a table: a column a panel, a row an item, from rating to bank."""

from __future__ import annotations

from planner.domain.results import Plan


def loss_rows(plan: Plan) -> tuple[tuple[str, ...], tuple[tuple[str, tuple[float, ...]], ...]]:
    """Return heads and rows of the loss account over the passage, all panels together last.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    heads : tuple of str
        Panels, then "all panels".
    rows : tuple of (str, tuple of float)
        The rating, each item in its order, what reaches the bank: Wh a day, losses negative: a column adds up.
    """
    whole = plan.losses.sum("day")
    days = plan.track.sizes["time"] * float(plan.track.attrs["step_s"]) / 86400.0

    def row(values: object) -> tuple[float, ...]:
        import numpy as np

        panels = np.asarray(values, dtype=float) / days
        return (*(float(value) for value in panels), float(panels.sum()))

    heads = (*(str(name) for name in whole["panel"].values), "all panels")
    losses = tuple((str(item), row(-whole["loss_wh"].sel(item=item).values)) for item in whole["item"].values)
    return heads, (("rating", row(whole["rating_wh"].values)), *losses, ("bank", row(whole["bank_wh"].values)))
