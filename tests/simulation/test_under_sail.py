"""A track on which the engine never drives: all but the driving stays as it was sailed."""

from __future__ import annotations

import numpy as np
from sailing_case import blow, boat, passage, route

from planner.simulation.ledger.bank import alternator_limit_w
from planner.simulation.track.sail import sail
from planner.simulation.track.under_sail import under_sail


def test_only_driving_is_taken_from_the_track() -> None:
    becalmed = blow(lambda hour: (1.0 if hour < 6.0 else 15.0, 270.0))
    cutter = boat(engine_below_kn=3.0)
    sailed = sail(passage(), cutter, route((-30.0, 175.0), (-29.0, 175.0)), becalmed)
    assert sailed["under_engine"].values[:30].all()
    without = under_sail(sailed)
    assert not without["under_engine"].values.any()
    assert without["under_engine"].attrs == sailed["under_engine"].attrs
    assert without.attrs == sailed.attrs
    assert without.drop_vars("under_engine").identical(sailed.drop_vars("under_engine"))
    assert sailed["under_engine"].values[:30].all()
    charging = alternator_limit_w(without, cutter.engine, cutter.bank)
    assert np.unique(charging).size == 1
    np.testing.assert_array_equal(
        charging[sailed["under_engine"].values == 0],
        alternator_limit_w(sailed, cutter.engine, cutter.bank)[sailed["under_engine"].values == 0],
    )
