"""The verb weather: what it prints, writes and refuses; and patterns of forecast files through check and plan."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import xarray as xr

from planner.app.inputs import read_inputs
from planner.app.verbs.weather import weather
from planner.domain.errors import InputError
from planner.faces.cli import main
from planner.presentation.outputs import json_of, text_of, write
from planner.readers.config import parse_override

FORECAST = Path(__file__).parents[2] / "data" / "demo" / "forecast.nc"
SVG = "{http://www.w3.org/2000/svg}"


def members_apart(folder: Path, numbers: list[int]) -> None:
    """Write members of the demo's forecast into files of their own, named m0, m1, ... m10."""
    folder.mkdir()
    with xr.open_dataset(FORECAST) as forecast:
        dim = next(dim for dim in ("member", "number", "realization") if dim in forecast.sizes)
        for number in numbers:
            one = forecast.isel({dim: number}).drop_vars([dim, "realization"], errors="ignore")
            one.assign_coords(realization=number).to_netcdf(folder / f"m{number}.nc")


def test_the_terminal_says_what_it_holds_and_what_is_used_for_what(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "110")  # words are broken over lines by the terminal's width
    assert main(["weather", str(FORECAST), "--departure", "2027-05-09T10:00:00+12:00"]) == 0
    shown = capsys.readouterr().out
    for words in (
        *("A plan can be made with it.", "it is 10 h old: fresh", "It reaches 9.6 days beyond departure."),
        *("low, middle and high cloud (cll, clm,", "u10 and v10", "none is taken to fall"),
        *("every 3 h", "21, by their numbers", "across 180", "38 x 35"),
    ):
        assert words in re.sub(r"\s+", " ", shown), words
    assert re.search(r"t2m +2 m air temperature +K +13\.0 +28\.0", shown)
    assert all(ord(letter) < 256 for letter in shown)


def test_json_holds_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["weather", str(FORECAST), "--json"]) == 0
    shown = capsys.readouterr()
    assert shown.err == "reading ...\n"
    told = json.loads(shown.out)
    assert told["can_plan"] is True
    assert [one["name"] for one in told["held"]] == ["clt", "cll", "clm", "clh", "u10", "v10", "t2m"]
    assert told["held"][0]["first"] == "2027-05-08T12:00:00Z"
    assert told["held"][0]["grid"]["east"] == 188.0
    assert {use["need"]: use["state"] for use in told["uses"]}["waves"] == "spared"


def test_a_passage_is_looked_at_along_its_route(demo: Path) -> None:
    account = weather([str(demo)])
    assert account.route_only
    assert account.departure is not None
    assert account.joined is not None
    xr.testing.assert_equal(account.joined, read_inputs(demo).forecast)


def test_what_is_wrong_with_a_file_is_status_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bad.nc").write_bytes(b"")
    assert main(["weather", str(tmp_path / "bad.nc"), "--quiet"]) == 2
    assert "bad.nc: the file is empty (0 bytes)." in capsys.readouterr().err
    assert main(["weather", str(tmp_path / "bad.nc"), str(FORECAST)]) == 2
    shown = capsys.readouterr().out
    assert "A plan refuses this: bad.nc: the file is empty" in shown
    assert "u10 and v10" in shown


@pytest.mark.parametrize(
    ("names", "departure", "words"),
    [
        (["nowhere*.nc"], None, "no file is named like 'nowhere*.nc'"),
        ([str(FORECAST)], "tomorrow", "'tomorrow' is no date and time"),
        ([str(FORECAST)], "2027-05-09T10:00:00", "says no offset from UTC"),
        (["passage.toml", str(FORECAST)], None, "a passage file beside other files"),
    ],
)
def test_what_is_asked_wrongly_is_told(names: list[str], departure: str | None, words: str) -> None:
    with pytest.raises(InputError, match=re.escape(words)):
        weather(names, departure=departure)


def test_page_and_picture_stand_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    found = weather(FORECAST)
    assert [path.name for path in write(found, out)] == ["weather.html", "weather.svg", "weather.json"]
    account = json.loads((out / "weather.json").read_text(encoding="utf-8"))
    assert account["can_plan"] is True
    assert account["format"] == 1
    assert json.loads(json_of(found)).items() <= account.items()
    assert {path.name for path in (out / account["set"]).iterdir()} == {"weather.html", "weather.svg"}
    page = (out / "weather.html").read_text(encoding="utf-8")
    assert "http://" not in page
    assert "https://" not in page
    assert page.count('role="img"') == 6
    assert "The maps in figures" in page
    drawing = ET.fromstring((out / "weather.svg").read_text(encoding="utf-8"))
    assert drawing.tag == f"{SVG}svg"
    assert drawing.attrib["aria-label"].startswith("Map at Sat 8 May 2027 12:00 UTC: in the middle")
    meridians = {text.text for text in drawing.iter(f"{SVG}text") if text.attrib["class"] == "meridian"}
    assert {"175°E", "180°", "175°W"} <= meridians


@pytest.fixture(scope="module")
def ensemble(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("weather") / "ens"
    members_apart(folder, [0, 1, 2, 10])
    return folder


def test_a_pattern_of_members_is_checked_read_and_digested(demo: Path, ensemble: Path) -> None:
    (demo.parent / "ens").symlink_to(ensemble, target_is_directory=True)
    override = "forecast=ens/m*.nc"
    inputs = read_inputs(demo, [parse_override(override)])
    assert "4 members" in text_of(inputs)
    assert [name for name in inputs.files if name.startswith("m")] == ["m0.nc", "m1.nc", "m2.nc", "m10.nc"]
    whole = read_inputs(demo).forecast
    for quantity in ("cloud_cover", "wind_east_m_s"):
        np.testing.assert_array_equal(inputs.forecast[quantity], whole[quantity].isel(member=[0, 1, 2, 10]))
    held = weather([str(ensemble / "m*.nc")]).held
    assert {(one.members, one.numbered) for one in held} == {(4, True)}


def test_files_of_one_name_in_two_folders_keep_their_digests(demo: Path, ensemble: Path) -> None:
    for folder in ("a", "b"):
        (demo.parent / folder).mkdir()
    for folder, name in (("a", "m0.nc"), ("b", "m1.nc")):
        (demo.parent / folder / "same.nc").write_bytes((ensemble / name).read_bytes())
    files = read_inputs(demo, [parse_override("forecast=*/same.nc")]).files
    assert {"a/same.nc", "b/same.nc", "boat.toml"} <= set(files)
    assert files["a/same.nc"] != files["b/same.nc"]


def test_a_pattern_of_unequal_members_reaches_the_plans_warnings(demo: Path, tmp_path: Path) -> None:
    members_apart(tmp_path / "short", [0, 1])
    path = tmp_path / "short" / "m1.nc"
    with xr.open_dataset(path) as one:
        cut = one.isel(time=slice(0, -8)).load()
    cut.to_netcdf(path)
    coarse = [item for key in ("model.points=15", "model.step_min=10") for item in ("--set", key)]
    out = tmp_path / "out"
    pattern = f'forecast="{tmp_path}/short/*.nc"'
    assert main(["plan", str(demo), "--out", str(out), "--quiet", "--set", pattern, *coarse]) == 0
    warnings = json.loads((out / "plan.json").read_text())["warnings"]
    assert any("Forecast: The members are of unequal length: of " in warning for warning in warnings)
