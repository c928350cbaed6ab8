"""GRIB 1 as centres write it outside of archives: no data type, wind on the surface, own codes and layers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("pyproj")  # before ecCodes: both carry a PROJ library, and the second one loaded crashes
eccodes = pytest.importorskip("eccodes")

from grib_case import REGULAR  # noqa: E402

from planner.readers.forecast.reader import read_forecast  # noqa: E402

SURFACE, ABOVE_GROUND, WHOLE_AIR = 1, 105, 200  # WMO GRIB 1 code table 3
LOW, MIDDLE, HIGH = 214, 224, 234  # NCEP's
NCEP, TOKYO, NORTHERN = 7, 34, 99
U, V, T, COVER, LIGHT, NCEP_LIGHT = 33, 34, 11, 71, 117, 204  # code table 2
AVERAGE, SUM = 3, 4  # code table 5

Field = tuple[int, int, int, float]
"""Code, type of level, level and value everywhere."""


def write_1(path: Path, centre: int, fields: list[Field], *, table: int = 2, range_of: int = 0) -> Path:
    """Write each field at three and six hours, without a local section."""
    with path.open("wb") as file:
        for code, level_type, level, value in fields:
            for hours in (3, 6):
                handle = eccodes.codes_grib_new_from_samples("GRIB1")
                step = {"P1": hours, "P2": 0} if not range_of else {"P1": 0, "P2": hours}
                own = {"centre": centre, "deleteLocalDefinition": 1, "table2Version": table, "level": level}
                what = {"indicatorOfParameter": code, "indicatorOfTypeOfLevel": level_type}
                when = {"dataDate": 20270508, "dataTime": 1200, "timeRangeIndicator": range_of, **step}
                keys: dict[str, Any] = {**REGULAR, **own, **what, **when}
                for key, given in keys.items():
                    eccodes.codes_set(handle, key, given)
                size = REGULAR["Ni"] * REGULAR["Nj"]
                eccodes.codes_set_values(handle, np.full(size, value))
                assert not eccodes.codes_is_defined(handle, "dataType")
                eccodes.codes_write(handle, file)
                eccodes.codes_release(handle)
    return path


def read(path: Path) -> dict[str, float]:
    """Return each quantity's value, the same everywhere."""
    forecast = read_forecast([path], corridor=None, span=None)
    values = {str(name): field.to_numpy() for name, field in forecast.items()}
    assert all(np.ptp(field) < 1e-4 for field in values.values())
    return {name: round(float(field.flat[0]), 3) for name, field in values.items()} | {"notes": forecast.notes}


def test_wind_and_air_on_the_surface_are_taken_for_those_above_it_and_said_so(tmp_path: Path) -> None:
    fields = [(U, SURFACE, 0, 5.0), (V, SURFACE, 0, -3.0), (T, SURFACE, 0, 290.15), (COVER, SURFACE, 0, 40.0)]
    found = read(write_1(tmp_path / "jma.grb", TOKYO, fields))
    assert found["wind_east_m_s"] == 5.0
    assert found["wind_north_m_s"] == -3.0
    assert found["air_temp_c"] == pytest.approx(17.0, abs=0.01)
    assert found["cloud_cover"] == pytest.approx(0.4, abs=1e-3)
    assert "t: it stands on the surface, and is taken for 2t" in str(found["notes"])


def test_the_surfaces_own_temperature_does_not_stand_for_the_airs_where_that_is_given(tmp_path: Path) -> None:
    wind = [(U, ABOVE_GROUND, 10, 5.0), (V, ABOVE_GROUND, 10, -3.0), (COVER, WHOLE_AIR, 0, 40.0)]
    air = [(T, SURFACE, 0, 320.0), (T, ABOVE_GROUND, 2, 290.15)]
    assert read(write_1(tmp_path / "gfs.grb", NCEP, [*wind, *air]))["air_temp_c"] == pytest.approx(17.0, abs=0.01)


def test_layers_by_a_centres_own_levels(tmp_path: Path) -> None:
    wind = [(U, ABOVE_GROUND, 10, 5.0), (V, ABOVE_GROUND, 10, -3.0), (T, ABOVE_GROUND, 2, 290.15)]
    cloud = [
        (COVER, level, 0, value) for level, value in ((WHOLE_AIR, 80.0), (LOW, 10.0), (MIDDLE, 20.0), (HIGH, 60.0))
    ]
    found = read(write_1(tmp_path / "gfs.grb", NCEP, [*wind, *cloud]))
    shares = [found[name] for name in ("cloud_cover", "cloud_low", "cloud_middle", "cloud_high")]
    assert shares == pytest.approx([0.8, 0.1, 0.2, 0.6], abs=1e-3)


def test_codes_of_a_national_table_with_their_units(tmp_path: Path) -> None:
    state = [(U, ABOVE_GROUND, 10, 5.0), (V, ABOVE_GROUND, 10, -3.0), (T, ABOVE_GROUND, 2, 290.15)]
    found = read(write_1(tmp_path / "limited.grb", NORTHERN, [*state, (COVER, ABOVE_GROUND, 0, 0.75)], table=253))
    assert found["wind_east_m_s"] == 5.0
    assert found["cloud_cover"] == pytest.approx(0.75, abs=1e-3)
    assert "tcc: its code is taken for tcc in (0-1)" in str(found["notes"])
