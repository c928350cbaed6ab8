"""An ensemble's sunlight against another model's: what setting its members apart does to its coverage and score."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.stats import norm


@pytest.fixture(scope="module")
def scoring(script: Callable[[str], ModuleType]) -> ModuleType:
    return script("score_ensemble")


@pytest.mark.external(source="Gneiting and Raftery 2007, JASA 102, 359-378, eq. 5: CRPS of a normal", kind="paper")
@pytest.mark.parametrize(("mean", "sd", "seen"), [(5.0, 1.0, 5.0), (5.0, 2.0, 9.0), (8.0, 0.5, 7.0)])
def test_the_score_is_that_of_a_normal_in_the_limit(scoring: ModuleType, mean: float, sd: float, seen: float) -> None:
    members = norm.ppf((np.arange(2000) + 0.5) / 2000.0, mean, sd)
    z = (seen - mean) / sd
    exact = sd * (z * (2.0 * norm.cdf(z) - 1.0) + 2.0 * norm.pdf(z) - 1.0 / np.sqrt(np.pi))
    found = scoring.score(members[:, None], np.array([seen]))
    assert found.crps * seen == pytest.approx(exact, rel=2e-3)
    assert found.coverage == float(abs(z) <= norm.ppf(0.9))
    assert found.ranks.sum() == 1
    assert found.ranks[round(2000 * norm.cdf(z))] == 1


@pytest.mark.external(source="NOAA GEFS, GFS and NAM 2019-05-15, from SolarArbiter's files", kind="dataset")
def test_setting_members_apart_covers_no_less_at_little_cost_of_score(scoring: ModuleType, open_data: Path) -> None:
    run = scoring.read_run(open_data)
    for name, days in (("GFS 0.25", 1), ("GFS 0.25", 3), ("NAM 12 km", 1), ("GFS matched", 1), ("GFS matched", 3)):
        truth = scoring.energy(run.truths[name], days)
        raw, apart = (
            scoring.score(scoring.energy(run.ghi(*setting), days), truth)
            for setting in (scoring.AS_IT_COMES, scoring.CORRECTED)
        )
        assert apart.coverage >= raw.coverage, (name, days)
        # beside the truth itself, read with its spans of twelve hours past the tenth day as they are
        assert apart.crps - raw.crps < 0.005, (name, days)


@pytest.mark.external(source="NOAA GEFS 2019-05-15, from SolarArbiter's files", kind="dataset")
def test_members_among_themselves_are_covered_a_little_too_well(scoring: ModuleType, open_data: Path) -> None:
    run = scoring.read_run(open_data)
    raw, apart = (scoring.among_members(run, s, 1) for s in (scoring.AS_IT_COMES, scoring.CORRECTED))
    # of 20 others p10 to p90 holds some 0.8 x 19/21 of a 21st that is one of them
    assert raw.coverage == pytest.approx(0.8 * 19.0 / 21.0, abs=0.04)
    assert raw.coverage < apart.coverage < 0.95
    assert apart.crps < 1.05 * raw.crps
    assert raw.ranks.sum() == raw.cases == 21 * scoring.DAYS
