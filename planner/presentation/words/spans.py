"""Figures with the span that they have over the members."""

from __future__ import annotations

from collections.abc import Callable

from planner.domain.results.figures import Spread


def with_span(spread: Spread | None, show: Callable[[float], str], *, between: str = " to ") -> str:
    """Return a planned figure and its middle eight tenths, '120 (80 to 150)'.

    Parameters
    ----------
    spread : Spread or None
        Of None nothing is said.
    show : callable
        Puts one figure into words; where all come to the same words they stand once.
    between : str
        What parts the span's ends.
    """
    if spread is None:
        return ""
    planned, low, high = map(show, (spread.planned, spread.p10, spread.p90))
    return planned if planned == low == high else f"{planned} ({low}{between}{high})"


def tenths(value: float) -> str:
    """Return a figure with one decimal, nought without a sign."""
    return f"{round(value, 1) + 0.0:.1f}"


def signed(value: float, digits: int = 0) -> str:
    """Return a change with its sign, nought without."""
    text = f"{value:+.{digits}f}"
    return text if text.strip("+-0.") else text.lstrip("+-")


def signed_tenths(value: float) -> str:
    """Return a change with its sign and one decimal."""
    return signed(value, 1)


def signed_points(fraction: float) -> str:
    """Return a change of a fraction [0..1] in whole points of percent."""
    return signed(100.0 * fraction)
