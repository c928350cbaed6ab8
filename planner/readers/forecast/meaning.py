"""Which of a dataset's variables are the planner's quantities; what is ambiguous is refused with the candidates."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from planner.domain.arrays import Floats
from planner.domain.errors import Fault, InputError
from planner.readers.forecast.terms import CLOUD_LEVELS, ELSEWHERE, TERMS, Term, plain

if TYPE_CHECKING:
    import xarray as xr

_HEIGHT_NAMES = frozenset({"height", "heightaboveground", "height10m", "height2m", "heightabovegroundlevel", "level"})
_HEIGHT_WORDS = re.compile(r"^\s*([\d.]+)\s*m\b", re.IGNORECASE)


def keep_one(wanted: Sequence[tuple[dict[str, str], xr.Dataset]], where: str) -> None:
    """Keep one dataset a quantity, by the order of its usual names; control and perturbed members are two.

    Parameters
    ----------
    wanted : sequence of (dict, Dataset)
        Each dataset of a file, and its variable's name for each quantity; quantities that another dataset gives
        under a name that comes first are taken out.
    where : str
        File name, for messages.

    Raises
    ------
    InputError
        Where the names do not decide.
    """
    faults = []
    for quantity, term in TERMS.items():
        holders: dict[str, list[tuple[dict[str, str], xr.DataArray]]] = {}
        for chosen, part in wanted:
            if quantity in chosen:
                variable = part[chosen[quantity]]
                holders.setdefault(str(variable.attrs.get("GRIB_dataType")), []).append((chosen, variable))
        for held in holders.values():
            ranks = [_rank(variable, term) for _, variable in held]
            best = min(ranks)
            if ranks.count(best) > 1:
                listed = "; ".join(described(variable) for _, variable in held)
                problem = f"several fields could be the {term.words}: {listed}."
                faults.append(Fault(where, "", problem, "Keep the one that is meant."))
            for (chosen, _), rank in zip(held, ranks, strict=True):
                if rank > best:
                    del chosen[quantity]
    if faults:
        raise InputError(faults)


def _rank(variable: xr.DataArray, term: Term) -> int:
    """Return the place of a variable's name among a quantity's usual names; the last for another name."""
    names = [plain(str(variable.attrs.get("GRIB_shortName", ""))), plain(str(variable.name))]
    known = [term.short_names.index(name) for name in names if name in term.short_names]
    return min(known, default=len(term.short_names))


def choose(part: xr.Dataset, where: str) -> dict[str, str]:
    """Return the variable's name of each quantity that a dataset holds.

    Raises
    ------
    InputError
        When two variables could be the same quantity.
    """
    found: dict[str, list[str]] = {}
    for key, variable in part.data_vars.items():
        quantity = _meaning(str(key), variable)
        if quantity is not None:
            found.setdefault(quantity, []).append(str(key))
    faults = []
    chosen = {}
    for quantity, names in found.items():
        term = TERMS[quantity]
        best = min((term.short_names.index(plain(n)) if plain(n) in term.short_names else 99) for n in names)
        short = [n for n in names if best < 99 and plain(n) == term.short_names[best]]
        if len(names) > 1 and len(short) != 1:
            listed = "; ".join(described(part[name]) for name in names)
            problem = f"several variables could be the {term.words}: {listed}."
            faults.append(Fault(where, "", problem, "Keep the one that is meant."))
        chosen[quantity] = short[0] if len(short) == 1 else names[0]
    if faults:
        raise InputError(faults)
    return chosen


def _meaning(name: str, variable: xr.DataArray) -> str | None:
    """Return the quantity that a variable is, by its level, standard name and name, or None."""
    level = variable.attrs.get("GRIB_typeOfLevel")
    if level in ELSEWHERE:
        return None
    matches = [q for q, term in TERMS.items() if variable.attrs.get("standard_name") in term.standard_names]
    matches = matches or [q for q, term in TERMS.items() if plain(name) in term.short_names]
    if not matches:
        return None
    quantity = matches[0]
    if quantity == "cloud_cover" and level in CLOUD_LEVELS:
        return CLOUD_LEVELS[level]
    wanted = TERMS[quantity].height_m
    if wanted is not None and level not in {None, "heightAboveGround"}:
        return None
    heights = _heights(variable)
    if wanted is not None and heights is not None and not np.any(np.isclose(heights, wanted)):
        return None
    return quantity


def _heights(variable: xr.DataArray) -> Floats | None:
    """Return the heights above ground that a variable is given at, or None where it says nothing."""
    for key, coordinate in variable.coords.items():
        if plain(str(key)) in _HEIGHT_NAMES and coordinate.ndim <= 1 and coordinate.dtype.kind in "iuf":
            return np.atleast_1d(coordinate.to_numpy().astype(np.float64))
    words = _HEIGHT_WORDS.match(str(variable.attrs.get("level", "")))
    return np.array([float(words.group(1))]) if words else None


def at_height(variable: xr.DataArray, term: Term) -> xr.DataArray:
    """Return a variable at the height that its quantity is wanted at, where it is given at several."""
    for key, coordinate in variable.coords.items():
        if plain(str(key)) in _HEIGHT_NAMES and coordinate.ndim == 1 and term.height_m is not None:
            return variable.isel({coordinate.dims[0]: int(np.argmin(np.abs(coordinate.to_numpy() - term.height_m)))})
    return variable


def described(variable: xr.DataArray) -> str:
    """Return a variable's name with what its file says about it."""
    words = variable.attrs.get("long_name") or variable.attrs.get("GRIB_name") or variable.attrs.get("standard_name")
    units = variable.attrs.get("units")
    return (
        f"{variable.name} ({', '.join(str(x) for x in (words, units) if x)})"
        if words or units
        else f"{variable.name}"
    )
