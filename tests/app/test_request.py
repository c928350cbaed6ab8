"""What to ask a forecast service for: by the passage's own waters and days, and within a limit."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

import planner
from planner.app.inputs import asked_overrides, corridor_of, read_inputs
from planner.app.verbs.request import request, size_of
from planner.domain.errors import InputError
from planner.faces.cli import main


def test_the_box_holds_the_corridor_across_the_antimeridian(demo: Path) -> None:
    found = request(demo)
    south, north, west, east = corridor_of(read_inputs(demo, asked_overrides(None, ())).route)
    area = found.area
    assert area.over_antimeridian
    assert area.east < 0 < area.west < 180
    assert area.south <= south < area.south + found.spacing_deg
    assert area.north - found.spacing_deg < north <= area.north
    assert (area.west, area.east + 360.0) == (area.west_360, area.east_360)
    assert area.west <= west < area.west + found.spacing_deg
    assert area.east_360 - found.spacing_deg < east <= area.east_360
    assert (area.rows - 1) * found.spacing_deg == area.north - area.south
    assert (area.columns - 1) * found.spacing_deg == area.east_360 - area.west_360


def test_its_days_hold_the_passage(demo: Path) -> None:
    found = request(demo)
    departure = datetime.fromisoformat("2027-05-09T10:00:00+12:00")
    assert found.first <= departure < found.last
    assert (found.last - found.first).total_seconds() / 3600.0 == found.hours == (found.times - 1) * found.step_h
    planned = planner.plan(planner.read_passage(demo, {"model.points": 6, "model.roll_nodes": 1}))
    assert found.last >= planned.arrival


def test_the_forecast_need_not_be_there_yet(demo: Path) -> None:
    text = demo.read_text(encoding="utf-8")
    for name in ("ens/*.nc", "tomorrow.nc"):
        demo.write_text(
            re.sub(r"^forecast = .*$", f'forecast = "{name}"', text, flags=re.MULTILINE), encoding="utf-8"
        )
        assert request(demo).times > 1


def test_a_limit_is_kept_in_the_order_that_is_told(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sizes = [request(demo, limit=limit) for limit in ("100MB", "20MB", "2MB", "300kB", "50kB", "20kB")]
    kinds = [[one.what for one in each.thinned] for each in sizes]
    for fewer, more in pairwise(kinds):
        assert more[: len(fewer)] == fewer
    assert kinds[0] == []
    for each in sizes:
        assert each.limit_kilobytes is not None
        assert each.kilobytes <= each.limit_kilobytes
    assert main(["weather", "--request", str(demo), "--limit", "50kB", "--quiet"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    for each in (
        "within the 50 kB allowed",
        "To keep the limit, in this order: rain left out; the grid every 0.5\N{DEGREE SIGN}",
        "simple packing",
    ):
        assert each in words
    assert re.search(r"172\S* ?\S*E eastward to 17\d\S*W, across 180", words)


def test_even_the_smallest_that_is_too_large_is_refused_and_told(demo: Path) -> None:
    with pytest.raises(
        InputError, match=r"the smallest order of use is of \d+ kB, and 5 kB are allowed: a single run"
    ):
        request(demo, limit="5kB")


def test_a_current_from_the_forecast_is_asked_for(demo: Path) -> None:
    text = demo.read_text(encoding="utf-8").replace("[[watches]]", '[current]\nsource = "forecast"\n\n[[watches]]', 1)
    demo.write_text(text, encoding="utf-8")
    names = [each.standard_name for each in request(demo, limit="60kB").variables]
    assert {"surface_eastward_sea_water_velocity", "surface_northward_sea_water_velocity"} <= set(names)
    assert "rainfall_flux" not in names


def test_json_and_the_call_agree(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["weather", "--request", str(demo), "--json", "--quiet"]) == 0
    shown = capsys.readouterr().out
    assert planner.json_of(planner.request(demo)) == shown
    told = json.loads(shown)
    assert told["area"]["over_antimeridian"] is True
    assert datetime.fromisoformat(told["first"]).tzinfo == UTC
    assert len(repr(planner.request(demo)).splitlines()) < 20


@pytest.mark.parametrize(("limit", "size"), [("50kB", 50_000), ("1.5 MB", 1_500_000), ("800b", 800), (700, 700)])
def test_a_size_is_a_number_and_its_unit(limit: str | int, size: int) -> None:
    assert size_of(limit) == size


@pytest.mark.parametrize(
    "given", [["--request", "p.toml", "f.nc"], ["--fetch", "https://h/x"], ["--for", "p.toml"], []]
)
def test_what_is_not_clear_is_asked_back(given: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["weather", *given]) == 2
    assert "--fetch ADDRESS --for PASSAGE.toml" in capsys.readouterr().err
