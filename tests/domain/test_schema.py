"""The check at each door between stages: everything that breaks the glossary is named at once."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

from planner.domain.errors import ContractError
from planner.domain.glossary import Quantity
from planner.domain.schema import attributes, check_dataset, to_dataset

PLACE = Quantity("degrees_north", ("time",), "latitude", standard_name="latitude")
POWER = Quantity("W", ("member", "time"), "power", "mean")
TABLE = {"lat": PLACE, "power_w": POWER}


def good() -> xr.Dataset:
    arrays = {"lat": np.zeros(3), "power_w": np.ones((2, 3))}
    return to_dataset(arrays, TABLE, coords={"time": np.arange(3), "member": [0, 1]}, door="here")


def test_a_dataset_carries_dims_and_attributes_of_the_glossary() -> None:
    dataset = good()
    assert dataset["power_w"].dims == ("member", "time")
    assert dataset["lat"].attrs == {"units": "degrees_north", "long_name": "latitude", "standard_name": "latitude"}
    assert attributes(POWER) == {"units": "W", "long_name": "power"}


def test_more_than_is_asked_for_may_pass_and_is_kept() -> None:
    more = good().assign(other=("time", np.zeros(3)))
    assert check_dataset(more, TABLE, door="here") is more


def test_every_breach_is_named_with_the_door() -> None:
    bad = good()
    bad["lat"].attrs["units"] = "radian"
    bad["power_w"] = bad["power_w"].transpose("time", "member")
    with pytest.raises(ContractError) as caught:
        check_dataset(bad.drop_vars("lat").assign(lat=bad["lat"]), {**TABLE, "gone": PLACE}, door="the door")
    words = str(caught.value)
    assert words.startswith("the door: ")
    assert "lat has units 'radian', not 'degrees_north'" in words
    assert "power_w has dims ('time', 'member'), not ('member', 'time')" in words
    assert "gone is missing" in words


@pytest.mark.parametrize(
    ("arrays", "words"),
    [
        ({"lat": np.zeros(3)}, r"missing \['power_w'\], unknown \[\]"),
        ({"lat": np.zeros(3), "power_w": np.ones((2, 3)), "heat": 1.0}, r"missing \[\], unknown \['heat'\]"),
    ],
)
def test_names_that_are_missing_or_unknown_are_refused(arrays: dict[str, np.ndarray], words: str) -> None:
    with pytest.raises(ContractError, match=words):
        to_dataset(arrays, TABLE, coords={}, door="here")
