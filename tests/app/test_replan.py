"""From a fix on: what the plan foresaw gives back its rest; a lower bank runs sooner; what is wrong is said."""

from __future__ import annotations

import csv
import json
import re
import sys
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from coarse_demo import COARSE, coarse_inputs, coarse_plan, quietly

sys.path.insert(0, str(Path(__file__).parents[1] / "faces"))
from logged_plan import write_log

from planner.app.inputs import read_inputs
from planner.app.verbs.replan import replan
from planner.domain.errors import InputError
from planner.domain.inputs.given import Inputs, Override
from planner.domain.results.note import NOTHING
from planner.domain.results.replan import Replan
from planner.flow.plan import plan_from
from planner.flow.recall import Recall
from planner.flow.stages import collected, extended
from planner.presentation.outputs import write
from planner.presentation.words.notes import said
from planner.readers.last_plan import read_last_plan

DEMO = Path(__file__).parents[2] / "data" / "demo"
ON_ONE_TRACK = (Override("model.tracks", "control"),)
DAY = 144  # steps
DAY_ONE = datetime.fromisoformat("2027-05-10T10:00:00+12:00")


@pytest.fixture(scope="module")
def last(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("last")
    write(coarse_plan(), folder)
    return folder


def at_day_one(last: Path | None = None, *, less: float = 0.0) -> Replan:
    return _at_day_one(last, less)


@lru_cache(maxsize=4)
def _at_day_one(last: Path | None, less: float) -> Replan:
    track = coarse_plan().track
    return replan(
        coarse_inputs(),
        fix=(float(track["lat"][DAY]), float(track["lon"][DAY])),
        time=DAY_ONE,
        soc=float(coarse_plan().planned["bank_soc"][0, DAY]) - less,
        last=last,
    )


def test_the_foreseen_fix_and_charge_give_back_the_rest_of_the_track_and_sun() -> None:
    rest, track = at_day_one().plan, coarse_plan().track.isel(time=slice(DAY, None))
    for name in ("lat", "heading_deg", "speed_over_ground_kn", "boom_angle_deg"):
        np.testing.assert_allclose(rest.track[name], track[name], atol=1e-6, err_msg=name)
    # a forecast a day older is trusted less: the whole passage under the light that the rest has
    older = extended(rest.voyage.inputs, Recall())
    sun = collected(coarse_plan().track, older, coarse_inputs(), Recall())["controller_power_w"].values[:, DAY:].sum()
    # the sky's view is looked at on other steps and read between them; salt is counted from the first step
    assert rest.harvest["controller_power_w"].values.sum() == pytest.approx(sun, rel=5e-3)


def test_the_foreseen_fix_and_charge_give_back_the_engine_runs_to_an_increment() -> None:
    """Ladders are made anew from here, on fewer watches: a run may move or be cut in two, the hours stay."""
    step_h = coarse_plan().track.attrs["step_s"] / 3600.0
    driving = coarse_plan().track["under_engine"].values[DAY:] > 0
    running = coarse_plan().ledger["engine_on"].values[:, DAY:] > 0
    before = np.median((running & ~driving).sum(axis=1) * step_h)
    assert at_day_one().plan.charging_hours.p50 == pytest.approx(before, abs=0.5)


def test_a_tenth_less_in_the_bank_charges_more_and_says_whence(last: Path) -> None:
    as_foreseen, lower = at_day_one(last), at_day_one(last, less=0.1)
    assert lower.plan.charging_hours.p50 >= as_foreseen.plan.charging_hours.p50
    changes = {change.what.code: change for change in lower.changes}
    assert "-28 Ah" in said(changes["bank"].now) or "-29 Ah" in said(changes["bank"].now)
    assert changes["position"].now.code == "place_kept"
    assert changes["arrival"].why == NOTHING


def test_the_next_watch_acts_as_the_old_ladder_said(last: Path) -> None:
    lower = at_day_one(last, less=0.1)
    action = next(change for change in lower.changes if change.what.code == "watch_from")
    old, new = (int(str(note.figures["minutes"])) for note in (action.foreseen, action.now))
    assert abs(old - new) <= 30  # one increment: ladders made anew may round otherwise


def test_with_nothing_changed_nothing_has_a_reason(last: Path) -> None:
    changes = {change.what.code: change for change in at_day_one(last).changes}
    for name in ("arrival", "sun_to_come", "load_to_come"):
        assert changes[name].why == NOTHING, name


def short_inputs(folder: Path) -> Inputs:
    """The demo's boat and forecast on a day and a half, begun with little in the bank."""
    text = (DEMO / "passage.toml").read_text(encoding="utf-8")
    for name in ("boat.toml", "forecast.nc"):
        text = text.replace(f'"{name}"', f'"{(DEMO / name).as_posix()}"')
    text = re.sub(r"^route = .*\n", "", text, flags=re.MULTILINE)
    for name, position in (("start", "35-10.0S 174-20.0E"), ("end", "32-30.0S 175-20.0E")):
        text += f'\n[[waypoints]]\nname = "{name}"\nposition = "{position}"\n'
    (folder / "passage.toml").write_text(text, encoding="utf-8")
    return read_inputs(folder / "passage.toml", (*COARSE, *ON_ONE_TRACK, Override("start.state_of_charge", 0.65)))


def test_a_log_of_less_sun_and_less_charge_asks_for_more_engine_and_says_why(tmp_path: Path) -> None:
    """As planned for nine hours, but four fifths of the yields, and at the fix an eighth less in the bank."""
    inputs = short_inputs(tmp_path)
    plan = plan_from(inputs, progress=quietly)
    write(plan, tmp_path / "last")
    with write_log(tmp_path / "last" / "plan.nc", tmp_path / "log.csv", days=9.0 / 24.0).open() as stream:
        heading, *rows = csv.reader(stream)
    for number, row in enumerate(rows, start=1):
        row[1:4] = [str(round(0.8 * float(watts))) for watts in row[1:4]]
        row[-2] = str(round(float(row[-2]) - 12.0 * number / len(rows)))
    log = tmp_path / "less.csv"
    log.write_text("\n".join(",".join(row) for row in [heading, *rows]), encoding="utf-8")

    less = replan(
        inputs,
        fix=(float(plan.track["lat"][54]), float(plan.track["lon"][54])),
        time=inputs.passage.departure + timedelta(hours=9),
        last=tmp_path / "last",
        readings=log,
        meter_error=0.05,
    )
    assert less.bank.state_of_charge == pytest.approx(float(plan.planned["bank_soc"][0, 54]) - 0.12, abs=0.02)
    assert less.bank.source.code == "by_log_monitor"
    assert [note.code for note in less.by_log] == ["log_bank", "log_sky", "log_overruled"]
    assert less.by_log[1].figures["found"] == pytest.approx(0.8, abs=0.1)
    sky = less.plan.voyage.inputs.seen_sky
    assert sky is not None
    assert sky.error < 0.0
    engine = next(change for change in less.changes if change.what.code == "engine_to_charge")
    before, now = (float(str(note.figures["hours"])) for note in (engine.foreseen, engine.now))
    assert now > before
    assert said(engine.why).startswith("+")
    assert "h from the bank" in said(engine.why)


def test_fuel_so_far_comes_from_the_log(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("start,stop,fuel_l\n2027-05-09T12:00+12:00,2027-05-09T14:00+12:00,3.5\n")
    track = coarse_plan().track
    result = replan(
        coarse_inputs(),
        fix=(float(track["lat"][DAY]), float(track["lon"][DAY])),
        time=DAY_ONE,
        soc=0.6,
        engine_log=log,
    )
    assert result.engine_so_far is not None
    assert (result.engine_so_far.hours, result.engine_so_far.fuel_l) == (2.0, 3.5)
    assert result.plan.boat.engine.tank_l == coarse_inputs().boat.engine.tank_l - 3.5


def refused(tmp_path: Path, **changes: object) -> str:
    given: dict[str, object] = {
        "fix": "33-56S 175-17E",
        "time": "2027-05-10T10:00+12:00",
        "soc": "60%",
    }
    with pytest.raises(InputError) as caught:
        replan(coarse_inputs(), **(given | changes))  # type: ignore[arg-type]
    return str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fix": "somewhere"}, "is no latitude and longitude"),
        ({"fix": "175.3, -33.9"}, "swapped"),
        ({"fix": "33.9 175.3"}, "off the route"),
        ({"soc": "72"}, "Did you mean 72%?"),
        ({"soc": "full"}, "is no charge"),
        ({"soc": None}, "nothing is said of the bank"),
        ({"soc": None, "volts": 13.4}, "LiFePO4 rests at nearly one voltage"),
        ({"meter_error": 2.0}, "is not 0 to 0.5"),
        ({"time": "2027-05-10T10:00"}, "no offset from UTC"),
        ({"following": "nothing"}, "Did you mean 'northing'?"),
    ],
)
def test_bad_values_are_refused_and_nothing_is_written(
    tmp_path: Path, changes: dict[str, object], words: str
) -> None:
    assert words in refused(tmp_path, **changes)


def test_a_folder_without_a_plan_is_refused(tmp_path: Path) -> None:
    assert "holds no plan.json" in refused(tmp_path, last=tmp_path)


def test_rows_of_another_plan_are_refused(tmp_path: Path, last: Path) -> None:
    for name in ("plan.json", "hourly.csv"):
        (tmp_path / name).write_bytes((last / name).read_bytes())
    (tmp_path / "hourly.csv").write_text("time\n")
    assert "hourly.csv is not the one" in refused(tmp_path, last=tmp_path)


def test_a_manifest_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(json.dumps({"engine": 1}))
    assert "is no plan of this program" in refused(tmp_path, last=tmp_path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("begin,stop\n", "this column is missing"),
        ("start,stop\n2027-05-09T12:00,2027-05-09T14:00+12:00\n", "no offset from UTC"),
        ("start,stop\n2027-05-09T14:00Z,2027-05-09T12:00Z\n", "Are the two swapped?"),
        ("start,stop,fuel_l\n2027-05-09T12:00Z,2027-05-09T14:00Z,-2\n", "no amount of litres"),
        ("start,stop,relev\u00e9\n", "byte 16 is not UTF-8 text; the letters seem to be in Latin-1"),
    ],
)
def test_bad_logs_are_refused(tmp_path: Path, text: str, words: str) -> None:
    log = tmp_path / "log.csv"
    log.write_text(text, encoding="latin-1")
    assert words in refused(tmp_path, engine_log=log)


def test_where_all_is_as_planned_the_last_card_keeps_the_reserve_and_without_a_last_plan_none_is_tried(
    last: Path,
) -> None:
    tried = at_day_one(last).last_card
    assert tried is not None
    assert tried.keeps
    assert tried.kept.members == coarse_plan().reserve_kept.members
    assert tried.run_min == pytest.approx(tried.run_anew_min, abs=90.0)
    assert at_day_one().last_card is None


def test_the_ladders_of_a_plan_come_back_from_its_files(last: Path) -> None:
    ladders = read_last_plan(last).ladders
    for row, ladder in zip(coarse_plan().watches, ladders, strict=False):
        assert (row.start, row.stop.soc_percent) == (ladder.start, ladder.stop_percent)
        assert [(rung.from_percent, rung.minutes) for rung in row.ladder] == list(ladder.rungs)
    assert [row.start for row in coarse_plan().later_watches] == [
        ladder.start for ladder in ladders[len(coarse_plan().watches) :]
    ]
