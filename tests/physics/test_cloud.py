"""Cloud to clear-sky index: its limits, its order, and a few values by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.physics.sky.cloud import (
    MODEL_HIGH,
    MODEL_LOW,
    MODEL_MIDDLE,
    MODEL_TOTAL,
    OBSERVER_BROKEN,
    OBSERVER_CLOSED,
    PowerLaw,
    index_of_layers,
    index_of_observer,
    index_of_total,
)

COVER = st.floats(0.0, 1.0)


def layers(low: float, middle: float, high: float) -> float:
    return float(index_of_layers(np.array(low), np.array(middle), np.array(high)))


def test_cloudless_sky_loses_nothing() -> None:
    assert layers(0.0, 0.0, 0.0) == 1.0
    assert float(index_of_total(np.array(0.0))) == 1.0


def test_a_power_law_by_hand() -> None:
    assert float(PowerLaw(depth=0.8, exponent=2.0).passes(np.array(0.5))) == pytest.approx(1.0 - 0.8 * 0.25)


def test_overcast_layers_multiply() -> None:
    expected = (1.0 - MODEL_LOW.depth) * (1.0 - MODEL_MIDDLE.depth) * (1.0 - MODEL_HIGH.depth)
    assert layers(1.0, 1.0, 1.0) == pytest.approx(expected)
    assert expected > 0.05


def test_low_overcast_takes_far_more_than_high() -> None:
    assert layers(1.0, 0.0, 0.0) < 0.6 < layers(0.0, 0.0, 1.0)


@given(a=COVER, b=COVER, other=COVER)
def test_more_cloud_never_gives_more_light(a: float, b: float, other: float) -> None:
    less, more = sorted((a, b))
    assert layers(more, other, other) <= layers(less, other, other)
    assert layers(other, more, other) <= layers(other, less, other)
    assert layers(other, other, more) <= layers(other, other, less)
    assert float(index_of_total(np.array(more))) <= float(index_of_total(np.array(less)))


def test_an_observers_oktas_by_hand() -> None:
    # 6 oktas: 1 - 0.357 x 0.75 = 0.73225; 0.75 ** 8 = 0.100113; 1 - 0.154 x 0.100113 = 0.984583; their product
    assert float(index_of_observer(np.array(0.75))) == pytest.approx(0.720961, abs=1e-6)
    assert float(index_of_observer(np.array(1.0))) == pytest.approx(0.643 * 0.846)
    assert float(index_of_observer(np.array(0.0))) == 1.0


@pytest.mark.parametrize("law", [MODEL_LOW, MODEL_MIDDLE, MODEL_HIGH, MODEL_TOTAL, OBSERVER_BROKEN, OBSERVER_CLOSED])
def test_every_relation_lets_some_light_through(law: PowerLaw) -> None:
    assert 0.0 < law.depth < 1.0


def test_cover_a_rounding_beyond_its_limits_is_held() -> None:
    assert index_of_total(np.array([-0.001, 1.001])).tolist() == index_of_total(np.array([0.0, 1.0])).tolist()
