"""Own tracks in the file set, on the terminal and on the page."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from dataclasses import replace
from pathlib import Path

import netCDF4
import numpy as np
import pytest
import xarray as xr
from own_tracks_fixture import ROW_SIZE, plan_with_own
from plan_fixture import make_plan, with_card

from planner.domain.glossary import OWN_TRACKS
from planner.domain.results.figures import Wind
from planner.domain.results.plan import Plan
from planner.presentation import outputs
from planner.presentation.files.bill_csv import to_csv
from planner.presentation.pages import report
from planner.presentation.words.answer import answer
from planner.presentation.words.bill import terminal
from planner.presentation.words.own_tracks import own_tracks_table
from planner.presentation.words.reserve_kept import kept_briefly


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_with_own()


@pytest.fixture(scope="module")
def folder(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("own")
    outputs.write(plan, folder)
    return folder


def test_the_file_belongs_to_the_set_and_goes_with_it(folder: Path, tmp_path: Path, plan: Plan) -> None:
    files = json.loads((folder / "plan.json").read_text())["files"]
    assert files["own-tracks.nc"] == hashlib.sha256((folder / "own-tracks.nc").read_bytes()).hexdigest()
    outputs.write(plan, tmp_path)
    outputs.write(make_plan(), tmp_path)
    assert not (tmp_path / "own-tracks.nc").exists()
    content = json.loads((tmp_path / "plan.json").read_text())
    assert content["own_tracks"] is None
    assert "own-tracks.nc" not in content["files"]


@pytest.mark.external(
    source="CF Conventions 1.11, appendix H.4.3, contiguous ragged array of trajectories", kind="standard"
)
def test_the_file_is_a_contiguous_ragged_array_of_trajectories(folder: Path) -> None:
    with netCDF4.Dataset(folder / "own-tracks.nc") as data:
        assert (data.Conventions, data.featureType) == ("CF-1.11", "trajectory")
        assert data["row_size"].dimensions == data["trajectory"].dimensions == ("trajectory",)
        assert data["row_size"].sample_dimension == "obs"
        assert data["trajectory"].cf_role == "trajectory_id"
        for name, standard_name in (("time", "time"), ("lat", "latitude"), ("lon", "longitude")):
            assert data[name].dimensions == ("obs",)
            assert data[name].standard_name == standard_name
        assert data["row_size"][:].sum() == data.dimensions["obs"].size
        for name, variable in data.variables.items():
            if variable.dimensions == ("obs",) and name not in {"time", "lat", "lon"}:
                assert set(variable.coordinates.split()) == {"time", "lat", "lon"}, name


def test_every_quantity_is_there_with_its_units(folder: Path) -> None:
    with xr.open_dataset(folder / "own-tracks.nc") as data:
        for name, quantity in OWN_TRACKS.items():
            assert data[name].dims == quantity.dims, name
            assert data[name].attrs["units"] == quantity.units, name
            if "obs" in quantity.dims and name not in {"lat", "lon"}:
                assert data[name].attrs["cell_methods"] == f"time: {quantity.over_step}", name


@pytest.mark.parametrize("member", [0, 1, 2])
def test_a_members_track_is_rebuilt_from_the_file(plan: Plan, folder: Path, member: int) -> None:
    with xr.open_dataset(folder / "own-tracks.nc") as data:
        end = np.cumsum(data["row_size"].values)
        mine = data.isel(obs=slice(int(end[member] - data["row_size"][member]), int(end[member])))
        assert mine.sizes["obs"] == ROW_SIZE[member]
        steps = np.arange(ROW_SIZE[member])
        as_made = steps % plan.track.sizes["time"]
        for name in ("lat", "lon", "heading_deg"):
            np.testing.assert_array_equal(mine[name], plan.track[name].values[as_made])
        np.testing.assert_array_equal(mine["bank_soc"], plan.ledger["bank_soc"].values[member][as_made])
        begin = plan.track["time"].values[0]
        np.testing.assert_array_equal(mine["time"], begin + steps * np.timedelta64(10, "m"))
        bounds = mine["time_bounds"].values
        np.testing.assert_array_equal(bounds[:, 0], mine["time"])
        np.testing.assert_array_equal(bounds[:, 1] - bounds[:, 0], np.timedelta64(10, "m"))
        arrival = data["arrival"].values[member]
        assert np.isnat(arrival) if member == 2 else arrival == bounds[-1, 1]


def test_plan_json_tells_the_figures(folder: Path) -> None:
    content = json.loads((folder / "plan.json").read_text())
    own = content["own_tracks"]
    assert (own["members"], own["arrived"]) == (3, 2)
    assert own["arrival"]["p10"].endswith("Z")
    assert own["arrival"]["p90"] is None
    assert own["arrival_soc"] == {"p10": 0.412, "p50": 0.523, "p90": 0.634}
    assert (own["as_wanted"], own["quiet_broken"]) == ({"k": 2, "n": 3}, {"k": 1, "n": 3})
    assert "tracks" not in own
    assert content["policy"][2]["drives_in"] == {"k": 1, "n": 3}


def test_plan_json_has_the_share_in_own_winds_and_what_holds_past_the_plan(folder: Path, tmp_path: Path) -> None:
    own = json.loads((folder / "plan.json").read_text())
    assert (own["reserve_kept"]["kept"], own["reserve_kept"]["members"], own["reserve_kept"]["wind"]) == (2, 3, "own")
    assert own["reserve_kept"]["low"] == 0.25
    assert own["standing_order"] == {"start_percent": 53, "stop_percent": 60}
    (later,) = own["later_watches"]
    assert later["start"] == own["arrival"]
    assert later["ladder"][0] == {"from_percent": 65, "to_percent": 100, "minutes": 0}
    outputs.write(make_plan(), tmp_path)
    control = json.loads((tmp_path / "plan.json").read_text())
    assert control["reserve_kept"]["wind"] == "control"
    assert (control["standing_order"], control["later_watches"], control["own_tracks"]) == (None, [], None)


@pytest.mark.parametrize("wind", ["control", "forecast"])
def test_a_share_without_the_winds_doubt_says_so_everywhere(wind: Wind) -> None:
    plan = make_plan()
    plan = replace(plan, reserve_kept=replace(plan.reserve_kept, wind=wind))
    how = {"control": "all on the control's track", "forecast": "wind as forecast"}[wind]
    for text in (terminal.render(plan), report.render(plan).replace("&#39;", "'"), " ".join(answer(plan))):
        said = " ".join(text.split())
        assert how in said
        assert "doubt" in said
        assert "own wind" not in said


def test_the_share_is_that_in_own_winds(plan: Plan) -> None:
    text = " ".join(terminal.render(plan).split())
    assert "Reserve 50 % kept in 2 of 3, each in its own wind (90 % asked" in text
    page = plain_page(plan)
    assert "of 3 forecasts that the engine ladder had not seen, each in its own wind, 2 stay above" in page
    assert "LESS than asked." in page
    assert "The doubt of the wind is not in it" not in page
    assert "one forecast in ten, on its own track, takes it to 21 % or less" in page


def plain_page(plan: Plan) -> str:
    return " ".join(report.render(plan).replace("&#39;", "'").replace("\N{NO-BREAK SPACE}", " ").split())


def test_the_standing_order_stands_in_the_head_and_on_every_page_of_the_bill(plan: Plan) -> None:
    words = "In any watch, at 53 % or less, quiet hours or not: start the engine at once and charge to 60 %."
    assert words in " ".join(terminal.render(plan).split())
    assert plain_page(plan).count(words) == plan.watches[-1].day
    assert "In any watch" not in terminal.render(make_plan())


def test_who_is_still_at_sea_finds_the_next_watches_on_the_last_page(plan: Plan) -> None:
    words = "65 % or more no run / 55-64 % 1 h / below 55 % 2 h / stop at 85 %"
    assert f"{words}" in " ".join(terminal.render(plan).split("If still at sea then")[1].split())
    page = plain_page(plan)
    last = page.index(f'id="page-{plan.watches[-1].day}"')
    assert page.index("If still at sea then:") > last
    assert page.count(words) == 1


def test_by_the_card_who_is_still_at_sea_goes_on_as_before(plan: Plan) -> None:
    carded = replace(with_card(make_plan()), later_watches=plan.later_watches)
    assert "If still at sea then" not in terminal.render(carded)
    assert "late, it goes on as it is" in " ".join(terminal.render(carded).split())


def test_a_watch_says_in_how_many_forecasts_the_engine_drives(plan: Plan) -> None:
    assert "drives 1/3" in terminal.render(plan)
    assert plain_page(plan).count("drives in 1 of 3") == 2  # the first 24 hours, and the first day's page
    rows = list(csv.DictReader(io.StringIO(to_csv(plan))))
    assert [row["drives_in_forecasts"] for row in rows[:4]] == ["0", "0", "1", "0"]


def test_a_plan_on_the_shelf_says_in_whose_wind() -> None:
    assert kept_briefly({"kept": 17, "members": 21, "wind": "own"}) == "17 of 21, own winds"
    assert kept_briefly({"kept": 17, "members": 21}) == "17 of 21"


def test_the_terminal_says_it_in_one_sentence(plan: Plan) -> None:
    text = " ".join(terminal.render(plan).split())
    assert "on its own track: arrives Mon 18 May 08:00 (Sat 16 May 14:00 to later than the forecast serves)" in text
    assert "with 52 % (41-63); starts the engine 5 (3 to 6) times to charge. 1 of 3 do not arrive" in text
    assert "on its own track" not in terminal.render(make_plan())


def test_the_page_sets_both_tracks_side_by_side(plan: Plan) -> None:
    page = report.render(plan)
    assert ">Each forecast on its own track</h2>" in page
    assert "Each forecast on its own track" not in report.render(make_plan())
    assert plan.own_tracks is not None
    rows = {name: cells for name, *cells in own_tracks_table(plan, plan.own_tracks).rows}
    assert rows["Arrive with the 50 % that is wanted"][1] == "2 of 3"
    assert rows["Charge in quiet hours, the reserve being near"][1] == "1 of 3"
    assert rows["Starts to charge"][1] == "5 (3 to 6)"
    assert rows["Bank at arrival [%]"] == [f"{round(100 * plan.voyage.planned_soc[-1])}", "52 (41 to 63)"]
    assert rows["Fuel [L]"][1] == "28 (18 to 41)"
