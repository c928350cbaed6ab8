"""The local page as a skipper uses it, without a browser: start, read, change, plan, the morning, two plans."""

from __future__ import annotations

import html
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import xarray as xr
from logged_plan import write_log
from web_case import DEMO, Caller, demo_parts, serving, words_of

from planner.app.verbs.explain import TOPICS, explain
from planner.faces.web.jobs import Jobs
from planner.faces.web.settings import panel_rows, read_settings, shown
from planner.faces.web.shelf import Entry, Shelf

COARSE = "model.points=15\nmodel.roll_nodes=1"
SLEEPING = (sys.executable, "-c", "import time; time.sleep(60)")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Caller]:
    with serving(tmp_path_factory.mktemp("shelf")) as caller:
        yield caller


@pytest.fixture(scope="module")
def checked(page: Caller) -> str:
    """The demo, read."""
    plan = page.post("/plans", {"from": "demo"}).headers["Location"]
    page.until_done(plan)
    return plan


@pytest.fixture(scope="module")
def planned(page: Caller) -> str:
    """The demo, planned six hours later with 80 %, in a plan of its own."""
    plan = page.post("/plans", {"from": "demo"}).headers["Location"]
    page.until_done(plan)
    form = {"departure": "2027-05-09T16:00", "offset": "+12:00", "soc": "80", "confidence": "85", "more": COARSE}
    page.post(f"{plan}/run", {**form, "arrival_soc": "40", "quiet": "23:00-05:00"})
    page.until_done(plan)
    return plan


def summary(page: Caller, plan: str) -> dict[str, object]:
    content: dict[str, object] = json.loads(page.get(f"{plan}/out/plan.json").text)
    return content


def test_an_empty_shelf_offers_demo_and_files(tmp_path: Path) -> None:
    with serving(tmp_path) as page:
        words = words_of(page.get("/").text)
    assert "Nothing yet" in words
    assert "Start from the demo" in words


def test_the_demo_is_understood(page: Caller, checked: str) -> None:
    words = words_of(page.get(checked).text)
    assert "21 members" in words
    assert "6 panels" in words
    assert "22:00 to 06:00" in words


def test_the_forecast_is_told_variable_by_variable(page: Caller, checked: str) -> None:
    words = words_of(page.get(checked).text)
    assert "The forecast, as understood" in words
    assert "It was begun at Sat 8 May 2027 12:00 UTC." in words
    assert "low, middle and high cloud (cll, clm, clh)" in words


def test_a_forecast_that_is_refused_is_told_all_the_same(page: Caller, tmp_path: Path) -> None:
    with xr.open_dataset(DEMO / "forecast.nc") as forecast:
        forecast.drop_vars(["u10", "v10"]).to_netcdf(tmp_path / "cloud.nc")
    parts = demo_parts(forecast=("cloud.nc", (tmp_path / "cloud.nc").read_bytes()))
    plan = page.upload("/plans", parts).headers["Location"]
    words = words_of(page.until_done(plan))
    assert "it holds no 10 m wind toward east" in words
    assert "needs typed wind, or a further file" in words
    assert "low, middle and high cloud (cll, clm, clh)" in words


def test_what_is_odd_is_told_beside_what_was_understood(page: Caller) -> None:
    boat = (DEMO / "boat.toml").read_bytes().replace(b"max_heel_deg = 22.0", b"max_heel_deg = 2.0")
    plan = page.upload("/plans", demo_parts(boat=("boat.toml", boat))).headers["Location"]
    words = words_of(page.until_done(plan))
    assert "boat.engine.max_heel_deg = 2 is beyond what boats have" in words
    assert "6 panels" in words


def test_what_a_plan_would_refuse_is_told_before_and_can_be_put_right(page: Caller) -> None:
    late = (DEMO / "passage.toml").read_bytes().replace(b"2027-05-09T10", b"2027-05-17T10")
    plan = page.upload("/plans", demo_parts(passage=("passage.toml", late))).headers["Location"]
    text = page.until_done(plan)
    assert "lies outside the forecast's times" in words_of(text)
    assert "2027-05-17T10:00" in text  # in the form


def test_what_is_set_is_planned_and_shown_again(page: Caller, planned: str) -> None:
    content = summary(page, planned)
    assert content["departure"] == "2027-05-09T04:00:00Z"
    assert content["policy"][0]["soc"]["planned"] == 0.8  # type: ignore[index]
    text = page.get(planned).text
    assert 'value="23:00-05:00"' in text
    assert "The bank leaves with 80" in words_of(text)


def test_every_output_can_be_taken_away(page: Caller, planned: str) -> None:
    folder = page.server.site.shelf.folder / "plans" / planned.removeprefix("/plan/") / "out"
    for path in filter(Path.is_file, folder.iterdir()):
        answer = page.get(f"{planned}/out/{path.name}")
        assert answer.status == 200, path.name
        assert answer.headers["Content-Length"] == str(path.stat().st_size)
        assert "attachment" in answer.headers["Content-Disposition"]


def test_outputs_are_those_of_the_set_that_the_plan_names(page: Caller, planned: str) -> None:
    copy = page.server.site.shelf.folder / "plans" / planned.removeprefix("/plan/") / "out" / "hourly.csv"
    hourly = copy.read_bytes()
    copy.write_bytes(b"of an older plan")
    try:
        assert page.get(f"{planned}/out/hourly.csv").text == hourly.decode()
        assert f"{len(hourly) / 1e3:.0f} kB" in words_of(page.get(planned).text)
    finally:
        copy.write_bytes(hourly)


def test_a_plan_of_another_format_is_told_and_the_rest_shown(page: Caller, planned: str) -> None:
    shelf = page.server.site.shelf
    newer = shelf.new()
    (newer.folder / "out").mkdir()
    (newer.folder / "out" / "plan.json").write_text('{"format": 2, "planner_version": "9.1", "files": {}}')
    newer.note("job-plan", {"name": "done", "what": "plan"})
    newer.note("result-plan", {"job": "done", "answer": ["It was planned."]})
    try:
        text = words_of(page.get("/").text)
        assert "2 was given, written by planner 9.1, and planner" in text
        assert "reads 1. Plan again with this planner" in text
        beside = page.get(f"/beside?one={planned.removeprefix('/plan/')}&other={newer.id}")
        assert beside.status == 404
        assert "2 was given, written by planner 9.1" in words_of(beside.text)
        assert page.get(f"/plan/{newer.id}").status == 200
        assert page.get(f"/plan/{newer.id}/out/plan.json").status == 404
    finally:
        shelf.strike(newer)


def test_the_report_leads_back(page: Caller, planned: str) -> None:
    text = page.get(f"{planned}/report").text
    assert f'href="{planned}"' in text
    kept = page.get(f"{planned}/out/report.html").text
    assert planned not in kept


def test_a_change_of_a_plan_is_a_new_plan_beside_it(page: Caller, planned: str) -> None:
    before = summary(page, planned)
    answer = page.post(f"{planned}/run", {"departure": "2027-05-09T12:00", "offset": "+12:00", "soc": "300"})
    assert answer.status == 422
    assert "300 % is not 0 to 100 %" in words_of(answer.text)
    form = {"departure": "2027-05-09T12:00", "offset": "+12:00", "soc": "90", "confidence": "90", "more": COARSE}
    other = page.post(f"{planned}/run", {**form, "arrival_soc": "50", "quiet": ""}).headers["Location"]
    assert other != planned
    page.until_done(other)
    assert summary(page, planned) == before
    assert summary(page, other)["departure"] == "2027-05-09T00:00:00Z"
    beside = page.get(f"/beside?one={planned[-16:]}&other={other[-16:]}")
    assert beside.status == 200
    assert "First plan" in beside.text
    assert "Sun 9 May 12:00" in words_of(beside.text)


def test_the_heading_to_turn(page: Caller, planned: str) -> None:
    page.post(f"{planned}/headings", {"at": "day 2 10:00", "hours": "3", "step": "45"})
    page.until_done(planned, "headings")
    assert "Headings from Tue 11 May 10:00" in words_of(page.get(f"{planned}/headings").text)
    assert page.post(f"{planned}/headings", {"at": "noon", "hours": "3", "step": "45"}).status == 303
    assert "'noon' is no moment" in words_of(page.until_done(planned, "headings"))


def test_a_log_dropped_in_is_held_against_the_model(page: Caller, planned: str, tmp_path: Path) -> None:
    entry = page.server.site.shelf.find(planned.rsplit("/", 1)[-1])
    assert entry is not None
    log = write_log(entry.folder / "out" / "plan.nc", tmp_path / "display.csv", days=2.0).read_bytes()
    assert page.upload(f"{planned}/reconcile", [("log", log, "display.csv"), ("clock", b"")]).status == 303
    assert "controllers yield as expected" in words_of(page.until_done(planned, "reconcile"))
    shown = page.get(f"{planned}/reconcile")
    assert "sha256-" in shown.text
    assert "Readings against the model: Sun 9 May 16:00" in words_of(shown.text)
    assert 'href="/"' in shown.text


def test_a_log_that_is_none_is_told_by_its_columns(page: Caller, planned: str) -> None:
    page.upload(f"{planned}/reconcile", [("log", b"when,who\nnoon,cook\n", "notes.csv")])
    told = words_of(page.until_done(planned, "reconcile"))
    assert "column" in told or "heading" in told
    refused = page.upload(f"{planned}/reconcile", [("log", b"x", "notes.exe")])
    assert refused.status == 422
    assert "is no log by the ending of its name" in words_of(refused.text)


def test_the_morning_after(page: Caller, planned: str) -> None:
    form = [("fix", b"-33.2 176.0"), ("time", b"day 2 08:00"), ("soc", b"61%")]
    rest = page.upload(f"{planned}/replan", form).headers["Location"]
    words = words_of(page.until_done(rest))
    assert "From the fix of Tue 11 May 2027 08:00 ship's time (Mon 10 May 20:00 UTC), day 2, to" in words
    assert "Days are numbered from the first departure, Sun 9 May 2027 16:00" in words
    assert "The bank leaves with 61" in words
    assert "Against the last plan" in words_of(page.get(f"{rest}/changes").text)


def test_a_fix_from_before_the_last_one_is_refused_on_the_page(page: Caller, planned: str) -> None:
    form = [("fix", b"-33.2 176.0"), ("time", b"day 2 08:00"), ("soc", b"61%")]
    rest = page.upload(f"{planned}/replan", form).headers["Location"]
    page.until_done(rest)
    earlier = page.upload(f"{rest}/replan", [form[0], ("time", b"day 2 07:00"), form[2]]).headers["Location"]
    words = words_of(page.until_done(earlier))
    assert "Tue 11 May 2027 07:00 ship's time (Mon 10 May 19:00 UTC) is older than the last fix" in words


def test_a_fix_that_is_none_is_told_and_nothing_is_begun(page: Caller, planned: str) -> None:
    before = page.plans()
    answer = page.upload(f"{planned}/replan", [("fix", b"somewhere"), ("time", b"later"), ("soc", b"full")])
    words = words_of(answer.text)
    for told in ("'somewhere' is no latitude", "'full' is no charge", "'later' is no moment"):
        assert told in words
    assert 'value="somewhere"' in answer.text
    assert page.plans() == before


def test_a_fix_beyond_the_passage_can_be_put_right_where_it_failed(page: Caller, planned: str) -> None:
    form = [("fix", b"-33.2 176.0"), ("time", b"2027-06-30T08:00:00+12:00"), ("soc", b"61%")]
    rest = page.upload(f"{planned}/replan", form).headers["Location"]
    page.until_done(rest)
    text = page.get(rest).text
    assert "What is wrong" in text
    assert 'value="-33.2 176.0"' in text
    again = page.upload(f"{rest}/replan", [form[0], ("time", b"day 2 08:00"), form[2]]).headers["Location"]
    assert again == rest
    assert "The bank leaves with 61" in words_of(page.until_done(rest))
    assert page.get(f"{rest}/changes").status == 200


def test_a_fresh_forecast_that_is_bad_is_told_and_the_plan_stays(page: Caller, planned: str) -> None:
    answer = page.upload(f"{planned}/files", [("forecast", b"<html>not found</html>", "fresh.nc")])
    other = answer.headers["Location"]
    assert other != planned
    assert "neither NetCDF nor GRIB" in words_of(page.until_done(other))
    assert page.get(f"{planned}/report").status == 200


def test_own_files_without_a_passage_file(page: Caller) -> None:
    parts = [part for part in demo_parts() if part[0] != "passage"]
    parts += [("departure", b"2027-05-10T09:00"), ("offset", b"+13:00"), ("soc", b"77")]
    plan = page.upload("/plans", parts).headers["Location"]
    words = words_of(page.until_done(plan))
    assert "Mon 10 May 2027 09:00, ship's clock +13:00" in words.replace("&#39;", "'")
    assert "77% at departure" in words


def test_a_passage_file_may_type_the_weather_instead_of_a_forecast(page: Caller) -> None:
    row = b'[[weather]]\nfrom = 2027-05-09T10:00:00+12:00\nuntil = 2027-05-20T00:00:00Z\nsky = "few"\n'
    row += b'wind_from = "SE"\nwind_kn = 15\n'
    own = next(part for part in demo_parts() if part[0] == "passage")[1].replace(b'forecast = "forecast.nc"\n', b"")
    parts = [part for part in demo_parts(passage=("passage.toml", own + row)) if part[0] != "forecast"]
    words = words_of(page.until_done(page.upload("/plans", parts).headers["Location"]))
    assert "sky few, taken as 1.5 oktas; wind from SE, 135\N{DEGREE SIGN} true at 15 kn" in words


def test_what_is_missing_is_told_at_once(page: Caller) -> None:
    before = page.plans()
    words = words_of(page.upload("/plans", [("soc", b"x")]).text)
    for role in ("boat", "route", "forecast", "departure"):
        assert role in words
    assert page.plans() == before


def test_cancel_ends_the_work(tmp_path: Path) -> None:
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as page:
        plan = page.post("/plans", {"from": "demo"}).headers["Location"]
        assert "Reading the files" in page.get(plan).text
        page.post(f"{plan}/cancel", {})
        assert "Cancelled" in page.until_done(plan)


def test_a_page_closed_at_work_says_so_when_opened_again(tmp_path: Path) -> None:
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as page:
        plan = page.post("/plans", {"from": "demo"}).headers["Location"]
        entry = page.server.site.shelf.entries()[0]
        told = entry.read("job-plan")
    entry.forget("result-plan")
    entry.note("job-plan", told)
    with serving(tmp_path) as page:
        assert "Interrupted" in page.get(plan).text
        assert "interrupted" in page.get("/").text


def test_a_plan_struck_off_is_gone(tmp_path: Path) -> None:
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as page:
        plan = page.post("/plans", {"from": "demo"}).headers["Location"]
        assert page.post(f"{plan}/strike", {}).status == 422
        assert page.post(f"{plan}/strike", {"sure": "yes"}).headers["Location"] == "/"
        assert page.get(plan).status == 404
        assert page.plans() == []


def test_two_tabs_do_not_take_each_others_draft(tmp_path: Path) -> None:
    with serving(tmp_path, jobs=Jobs(worker=SLEEPING)) as page:
        plan = page.post("/plans", {"from": "demo"}).headers["Location"]
        one = page.post(f"{plan}/run", {"more": ""}).headers["Location"]
        other = page.post(f"{plan}/run", {"more": ""}).headers["Location"]
        assert len({plan, one, other}) == 3  # the first was at work already, so each tab got its own


@pytest.mark.parametrize("path", ["/nothing", "/plan/0123456789abcdef", "/plan/0123456789abcdef/report"])
def test_what_is_not_there_is_404(page: Caller, path: str) -> None:
    assert page.get(path).status == 404


def test_other_methods_are_not_served(page: Caller) -> None:
    assert page.ask("PUT", "/").status == 501
    assert page.ask("HEAD", "/").status == 200


def entry_with(tmp_path: Path, boat: dict[str, object]) -> Entry:
    entry = Shelf(tmp_path).new()
    entry.note("base", {"boat": boat})
    return entry


PANELS = [
    {"name": name, "max_power_w": 100.0, "max_power_a": 5.0, "short_circuit_a": 6.0} for name in ("a", "b", "c")
]
WIRED = {
    "panel": PANELS,
    "controller": [{"name": "one", "strings": [["a"], ["b"]]}, {"name": "two", "strings": [["c"]]}],
}


def sent(*rows: tuple[str, str, str]) -> dict[str, str]:
    form = {}
    for number, (watts, controller, string) in enumerate(rows):
        form |= {
            f"panel-{number}-{key}": value
            for key, value in zip(("watts", "controller", "string"), (watts, controller, string), strict=True)
        }
        if watts:
            form[f"panel-{number}-aboard"] = "yes"
    return form


def test_wiring_as_it_was_asks_for_nothing(tmp_path: Path) -> None:
    form = sent(("100", "one", "1"), ("100", "one", "2"), ("100", "two", "1"))
    settings, faults = read_settings(entry_with(tmp_path, WIRED), form)
    assert (settings["overrides"], faults) == ({}, [])


def test_two_in_series_and_one_left_ashore(tmp_path: Path) -> None:
    form = sent(("100", "one", "1"), ("150", "one", "1"), ("", "two", "1"))
    overrides = read_settings(entry_with(tmp_path, WIRED), form)[0]["overrides"]
    assert overrides["boat.controller"] == [{"name": "one", "strings": [["a", "b"]]}]
    assert overrides["boat.panel"][1]["max_power_a"] == 7.5
    assert [panel["name"] for panel in overrides["boat.panel"]] == ["a", "b"]


def test_a_panel_left_ashore_can_come_back(tmp_path: Path) -> None:
    entry = entry_with(tmp_path, WIRED)
    entry.note("settings", {"form": sent(("100", "one", "1"), ("", "one", "2"), ("100", "two", "1"))})
    assert [(row.name, row.aboard) for row in panel_rows(entry, {})] == [("a", True), ("b", False), ("c", True)]


def test_the_form_names_every_slip(tmp_path: Path) -> None:
    form = {"departure": "soon", "offset": "", "soc": "x", "confidence": "101", "arrival_soc": "50", "quiet": "night"}
    faults = read_settings(entry_with(tmp_path, WIRED), form)[1]
    assert [fault.key for fault in faults] == ["departure", "charge at departure", "how sure", "quiet hours"]


def test_the_form_shows_what_was_understood(tmp_path: Path) -> None:
    entry = Shelf(tmp_path).new()
    assert shown(entry, {}) == {}
    wishes = {"confidence": 0.9, "arrival_soc": 0.5, "quiet_hours": [["22:00", "06:00"]]}
    passage = {"departure": "2027-05-09T10:00:00-03:30", "wishes": wishes, "start": {"state_of_charge": 0.925}}
    entry.note("understood", {"passage": passage})
    values = shown(entry, {})
    assert (values["departure"], values["offset"], values["soc"]) == ("2027-05-09T10:00", "-03:30", "92.5")


def test_every_topic_of_the_reference_is_served(page: Caller) -> None:
    listed = page.get("/reference").text
    for topic in TOPICS:
        assert f'href="/reference/{topic}"' in listed
        told = page.get(f"/reference/{topic}")
        assert told.status == 200
        assert (explain(topic).text or explain(topic).entries[0].key)[:60] in html.unescape(told.text)
    assert page.get("/reference/nothing").status == 404
