"""The check at each door between stages: names, dims and units as the glossary has them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from planner.domain.errors import ContractError
from planner.domain.glossary import Quantity

if TYPE_CHECKING:
    import xarray as xr


def check_dataset(dataset: xr.Dataset, quantities: Mapping[str, Quantity], *, door: str) -> xr.Dataset:
    """Return the dataset unchanged if it holds every quantity with the glossary's dims and units.

    Parameters
    ----------
    dataset : xarray.Dataset
        What a stage hands on.
    quantities : mapping of str to Quantity
        What it must hold; more is allowed.
    door : str
        Name of the stage, for the message.

    Raises
    ------
    ContractError
        Naming every variable that is missing or differs.
    """
    faults: list[str] = []
    for name, quantity in quantities.items():
        if name not in dataset:
            faults.append(f"{name} is missing")
            continue
        variable = dataset[name]
        if variable.dims != quantity.dims:
            faults.append(f"{name} has dims {variable.dims}, not {quantity.dims}")
        if variable.attrs.get("units") != quantity.units:
            faults.append(f"{name} has units {variable.attrs.get('units')!r}, not {quantity.units!r}")
    if faults:
        raise ContractError(f"{door}: " + "; ".join(faults))
    return dataset


def attributes(quantity: Quantity) -> dict[str, Any]:
    """Return the CF attributes of a quantity: units, long_name and, where one exists, standard_name."""
    attrs: dict[str, Any] = {"units": quantity.units, "long_name": quantity.long_name}
    if quantity.standard_name:
        attrs["standard_name"] = quantity.standard_name
    return attrs


def to_dataset(
    arrays: Mapping[str, Any], quantities: Mapping[str, Quantity], *, coords: Mapping[str, Any], door: str
) -> xr.Dataset:
    """Assemble named arrays into a checked dataset with the glossary's dims and attributes.

    Parameters
    ----------
    arrays : mapping of str to array_like
        One array a quantity; arrays that lack leading dims of size 1 are not broadcast here.
    quantities : mapping of str to Quantity
        The glossary entries of this door.
    coords : mapping
        Coordinates as ``xarray.Dataset`` takes them.
    door : str
        Name of the stage, for messages.

    Raises
    ------
    ContractError
        When a quantity is missing from ``arrays``, or one is given that the glossary does not know.
    """
    import xarray as xr

    unknown = sorted(set(arrays) - set(quantities))
    missing = sorted(set(quantities) - set(arrays))
    if unknown or missing:
        raise ContractError(f"{door}: missing {missing}, unknown {unknown}")
    variables = {
        name: xr.Variable(quantity.dims, arrays[name], attributes(quantity)) for name, quantity in quantities.items()
    }
    return check_dataset(xr.Dataset(variables, coords=dict(coords)), quantities, door=door)
