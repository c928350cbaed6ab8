"""The smallest order of a forecast: boxes on any meridian, and kilobytes held against messages that were made."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from planner.physics.sky.cloud import index_of_total
from planner.readers.forecast.file import open_parts
from planner.readers.forecast.request import BITS, FRAME_BYTES, PRODUCT_BYTES, smallest_request

DEPARTURE = datetime(2027, 5, 8, 22, 40, tzinfo=UTC)


def ordered(corridor: tuple[float, float, float, float], most: int | None = None, *, days: float = 4.0):
    span = (DEPARTURE, DEPARTURE + timedelta(days=days))
    return smallest_request("passage.toml", corridor, span, currents=False, most_bytes=most)


@pytest.mark.parametrize(
    ("corridor", "box", "box_360"),
    [
        ((-36.8, -19.6, 172.6, 186.3), (172.5, -173.5), (172.5, 186.5)),
        ((-36.8, -19.6, -187.4, -173.7), (172.5, -173.5), (172.5, 186.5)),
        ((48.0, 52.0, -6.1, 3.0), (-6.25, 3.0), (353.75, 3.0)),
        ((10.0, 20.0, -62.0, -18.0), (-62.0, -18.0), (298.0, 342.0)),
        ((10.0, 20.0, 170.0, 179.9), (170.0, -180.0), (170.0, 180.0)),
    ],
)
def test_the_box_is_right_on_every_meridian(
    corridor: tuple[float, float, float, float], box: tuple[float, float], box_360: tuple[float, float]
) -> None:
    area = ordered(corridor).area
    assert ((area.west, area.east), (area.west_360, area.east_360)) == (box, box_360)


def test_near_the_pole_and_all_round_it_ends_on_earth() -> None:
    area = ordered((80.0, 91.5, -10.0, 355.0)).area
    assert (area.north, area.columns) == (90.0, 1440)


def test_times_begin_at_a_step_of_the_day_before_departure_and_end_after_the_passage() -> None:
    found = ordered((10.0, 20.0, 0.0, 10.0))
    assert found.first == datetime(2027, 5, 8, 21, tzinfo=UTC)
    assert found.last - timedelta(hours=3) < DEPARTURE + timedelta(days=4.0) <= found.last
    assert not found.cut_short


def test_a_passage_longer_than_any_forecast_is_told_to_go_on_without() -> None:
    found = ordered((10.0, 20.0, 0.0, 10.0), days=25.0)
    assert (found.hours, found.cut_short) == (384.0, True)


def test_the_hours_are_cut_only_after_the_grid_and_the_members() -> None:
    found = ordered((-37.0, -19.0, 172.0, 187.0), most=20_000, days=9.0)
    assert [one.what for one in found.thinned][-1] in {"hours", "step_h"}
    assert (found.members, found.spacing_deg) == (1, 2.0)


@pytest.mark.external(source="ecCodes", kind="library")
@pytest.mark.parametrize("members", [1, 21])
@pytest.mark.parametrize("holds", ["moments", "spans"])
@pytest.mark.parametrize("bits", sorted(set(BITS.values())))
def test_a_message_is_as_long_as_reckoned(members: int, holds: str, bits: int) -> None:
    import eccodes

    rows, columns = 37, 29
    template = {(False, "moments"): 0, (False, "spans"): 8, (True, "moments"): 1, (True, "spans"): 11}
    message = eccodes.codes_grib_new_from_samples("regular_ll_sfc_grib2")
    keys = {
        "productDefinitionTemplateNumber": template[members > 1, holds],
        "Ni": columns,
        "Nj": rows,
        "iDirectionIncrementInDegrees": 0.25,
        "jDirectionIncrementInDegrees": 0.25,
        "packingType": "grid_simple",
    }
    for key, value in keys.items():
        eccodes.codes_set(message, key, value)
    eccodes.codes_set(message, "bitsPerValue", bits)
    rng = np.random.default_rng(1)
    eccodes.codes_set_values(message, rng.uniform(0.0, 300.0, rows * columns))
    assert eccodes.codes_get(message, "bitsPerValue") == bits
    length = len(eccodes.codes_get_message(message))
    eccodes.codes_release(message)
    assert length == FRAME_BYTES + PRODUCT_BYTES[members > 1, holds] + -(-rows * columns * bits // 8)


def test_the_kilobytes_are_the_sum_over_messages() -> None:
    found = ordered((10.0, 20.0, 0.0, 10.0), most=3_000_000)
    points, several = found.area.rows * found.area.columns, found.members > 1
    size = 0
    for each in found.variables:
        messages = found.members * (found.times if each.holds == "moments" else found.times - 1)
        size += messages * (FRAME_BYTES + PRODUCT_BYTES[several, each.holds] + -(-points * each.bits // 8))
    assert found.kilobytes == pytest.approx(size / 1000.0)


@pytest.mark.external(source="ECMWF open data, IFS 2026-03-10 00Z on 0.25 degree, total cloud", kind="dataset")
def test_a_coarser_grid_costs_what_is_said_of_it(open_data: Path) -> None:
    """Light by cloud drawn from fewer nodes, along 2.5 degrees eastward, against that of all nodes, 50 S to 50 N."""
    pytest.importorskip("cfgrib")
    (part,) = open_parts(open_data / "weather" / "ECMWF_ifs_oper_surface_20260310T00.grib2")
    cover = part["tcc"].sortby("latitude").sel(latitude=slice(-50.0, 50.0)).load()
    part.close()
    true = index_of_total(cover.to_numpy())
    found = []
    for nodes in (2, 4, 8):
        fewer = cover.isel(latitude=slice(None, None, nodes), longitude=slice(None, None, nodes))
        drawn = fewer.interp(latitude=cover["latitude"], longitude=cover["longitude"]).to_numpy()
        error = (index_of_total(drawn) - true)[:, :-8]
        error = error[np.isfinite(error).all(axis=1)]
        sums = np.cumsum(error, axis=1)
        found.append(float(np.sqrt((((sums[:, 10:] - sums[:, :-10]) / 10.0) ** 2).mean()) / true.mean()))
    assert found == pytest.approx([0.035, 0.063, 0.097], abs=0.003)
