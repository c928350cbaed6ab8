"""Faults are found in logs made by the scalar reference, through the CSV and the whole of reconcile.

A handful of seeds; ``scripts/bench_reconcile.py`` has the rates.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from made_log import Aboard, Faults, Strays
from made_passage import BOATS, write_passage

from planner.app.inputs import read_inputs
from planner.app.verbs.reconcile import reconcile
from planner.faces.cli import main
from planner.flow.recall import Recall

DAYS = 4.0
AMISS = {"weak", "substring out", "shaded"}
WEAK = Faults("bimini port", light_fraction=0.8, since_days=1.0)


@pytest.fixture(scope="module")
def passage_file(tmp_path_factory) -> Path:
    return write_passage(tmp_path_factory.mktemp("made"), BOATS[1])


@pytest.fixture(scope="module")
def aboard(passage_file) -> Aboard:
    inputs = read_inputs(passage_file)
    return Aboard(BOATS[1], inputs.boat, inputs.passage.watches, inputs.passage.start.state_of_charge)


@pytest.fixture(scope="module")
def reconciled(passage_file, aboard, tmp_path_factory):
    """Reconcile a made log of some days; shadows are cast once."""
    inputs, recall, folder = read_inputs(passage_file), Recall(), tmp_path_factory.mktemp("logs")

    def run(seed: int, faults: Faults | None = None, strays: Strays | None = None):
        log = aboard.log(seed, faults, strays=strays)
        path = log.first_days(DAYS).write(folder / "log.csv")
        return reconcile(inputs, path, recall=recall), log.truth

    return run


def test_a_healthy_boat_raises_no_alarm(reconciled):
    for seed in (201, 202):
        found, _ = reconciled(seed)
        assert {one.verdict for one in found.controllers} <= {"as expected", "cannot tell", "full bank"}
        assert not found.clock.corrected
        assert not found.bank.tired


def test_what_sound_panels_are_off_by_is_measured_and_is_no_fault(reconciled):
    pairs, widths = [], []
    for seed in (208, 209, 210):
        found, truth = reconciled(seed, strays=Strays(panels=0.03, light=0.04, loads=0.1))
        told = [one for one in found.controllers if one.ratio is not None]
        assert not {one.verdict for one in told} & AMISS
        pairs += [(one.ratio, truth.stray[one.controller]) for one in told]
        widths += [one.ratio.high - one.ratio.low for one in told]
    read = np.array([[told.value, true] for told, true in pairs])
    assert len(pairs) >= 12
    # nine in ten hold the truth, and they are narrower than the tolerance of panels would have them
    assert np.mean([told.low <= true <= told.high for told, true in pairs]) >= 0.9
    assert np.median(widths) < 0.13
    assert np.corrcoef(read.T)[0, 1] > 0.6


def test_the_weak_panel_is_named_and_by_how_much(reconciled):
    found, truth = reconciled(203, WEAK)
    verdicts = {one.controller: one for one in found.controllers}
    weak = verdicts.pop("bimini port")
    assert weak.verdict in AMISS
    assert weak.ratio.low - 0.02 < truth.ratio < weak.ratio.high + 0.02
    assert weak.since is not None
    assert 1.0 <= (weak.since - found.first).total_seconds() / 86400.0 + 0.05 < 2.0
    assert not {one.verdict for one in verdicts.values()} & AMISS


def test_a_panel_weak_from_the_first_reading_is_named(reconciled):
    found, truth = reconciled(206, Faults("bimini port", light_fraction=0.55))
    weak = next(one for one in found.controllers if one.controller == "bimini port")
    assert weak.verdict in AMISS
    assert weak.since is None
    assert weak.ratio.low - 0.02 < truth.ratio < weak.ratio.high + 0.02


def test_a_substring_that_drops_out_is_told_from_a_weak_panel(reconciled):
    found, _ = reconciled(207, Faults("bimini port", substring_out=True, since_days=1.0))
    verdicts = {one.controller: one.verdict for one in found.controllers}
    assert verdicts.pop("bimini port") == "substring out"
    assert not set(verdicts.values()) & AMISS


def test_a_load_that_is_not_listed_is_found(reconciled):
    found, truth = reconciled(204, Faults(unlisted_w=40.0))
    assert found.loads.found
    told = found.loads.unexplained_w
    assert told.low - 3.0 < truth.unexplained_w(DAYS) < told.high + 3.0


def test_a_clock_an_hour_fast_is_set_back(reconciled):
    found, _ = reconciled(205, Faults(clock_fast_min=60.0))
    assert found.clock.corrected
    assert found.clock.fast_min.value == pytest.approx(60.0, abs=12.0)
    assert not {one.verdict for one in found.controllers} & AMISS


def test_the_verb_writes_page_figures_and_mapping(passage_file, aboard, tmp_path, capsys):
    path = aboard.log(203, WEAK).first_days(2.0).write(tmp_path / "display.csv")
    out = tmp_path / "out"
    asked = ["reconcile", str(passage_file), str(path), "--out", str(out), "--json"]
    assert main(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["controller"] for one in told["controllers"]] == [one.name for one in aboard.boat.controller]
    kept = json.loads((out / "reconcile.json").read_text(encoding="utf-8"))
    assert told["format"] == 1
    assert told == {name: value for name, value in kept.items() if name not in {"set", "files"}}
    assert {"reconcile.html", "log-mapping.toml"} <= {path.name for path in (out / kept["set"]).iterdir()}
    departure = read_inputs(passage_file).passage.departure
    for day in told["controllers"][0]["days"]:
        assert datetime.fromisoformat(day["begins"]) == departure + timedelta(days=day["day"] - 1)
    page = (out / "reconcile.html").read_text(encoding="utf-8")
    assert "The answer" in page
    assert "http" not in page.replace("http-equiv", "")
    again = ["reconcile", str(passage_file), str(path), "--map", str(out / "log-mapping.toml"), "--json", "--quiet"]
    assert main(again) == 0
    assert json.loads(capsys.readouterr().out)["loads"] == told["loads"]


def test_a_bad_log_is_refused_by_name(passage_file, tmp_path, capsys):
    path = tmp_path / "notes.csv"
    path.write_text("when,who\nnoon,cook\n", encoding="utf-8")
    assert main(["reconcile", str(passage_file), str(path), "--out", str(tmp_path / "out"), "--quiet"]) == 2
    complaint = capsys.readouterr().err
    assert "notes.csv" in complaint
    assert not (tmp_path / "out").exists()
