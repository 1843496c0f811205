import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.head import head_kpa, inclined_height_m, tension_kpa

GAUGES = st.floats(-100.0, 20.0)
HEIGHTS = st.floats(-2.0, 2.0)
TEMPERATURES = st.floats(0.0, 40.0)


@settings(deadline=None)
@given(GAUGES, HEIGHTS, st.floats(0.001, 1.0), TEMPERATURES)
def test_more_water_above_the_cup_means_less_tension(gauge: float, height: float, more: float, water_c: float) -> None:
    assert tension_kpa(gauge, height + more, water_c) < tension_kpa(gauge, height, water_c)


@settings(deadline=None)
@given(GAUGES, TEMPERATURES)
def test_without_height_the_vacuum_is_the_tension(gauge: float, water_c: float) -> None:
    assert tension_kpa(gauge, 0.0, water_c) == -gauge


def test_zero_has_no_minus_sign() -> None:
    assert math.copysign(1.0, tension_kpa(0.0, 0.0, 20.0)) == 1.0


def test_a_transducer_below_its_cup_adds_its_head() -> None:
    assert tension_kpa(-10.0, -0.5, 20.0) == 10.0 + head_kpa(0.5, 20.0)


def test_free_water_is_never_clipped() -> None:
    assert tension_kpa(3.0, 0.6, 20.0) < -8.8


@pytest.mark.parametrize(("angle_deg", "expected"), [(90.0, 1.2), (30.0, 0.6), (0.0, 0.0)])
def test_a_sloping_tube_counts_by_its_sine(angle_deg: float, expected: float) -> None:
    assert inclined_height_m(1.2, angle_deg) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("angle_deg", [-1.0, 90.1, math.nan])
def test_a_tube_cannot_lean_beyond_upright_or_level(angle_deg: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 90 degrees"):
        inclined_height_m(1.0, angle_deg)
