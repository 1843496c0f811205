import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.units import KPA_PER, from_kpa, pf, to_kpa


@pytest.mark.parametrize("unit", KPA_PER)
@settings(deadline=None)
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back_changes_nothing(unit: str, value: float) -> None:
    assert from_kpa(to_kpa(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("unit", KPA_PER)
def test_arrays_go_through_as_numbers_do(unit: str) -> None:
    values = np.array([-20.0, 0.0, 33.0, math.nan])
    np.testing.assert_array_equal(to_kpa(values, unit), [to_kpa(value, unit) for value in values.tolist()])
    np.testing.assert_array_equal(from_kpa(values, unit), [from_kpa(value, unit) for value in values.tolist()])


@pytest.mark.parametrize("unit", ["kpa", "centibar", ""])
def test_an_unknown_unit_is_an_error_that_lists_the_known_ones(unit: str) -> None:
    with pytest.raises(ValueError, match=r"unknown unit .* known are kPa, .*, J/kg"):
        to_kpa(1.0, unit)


@pytest.mark.parametrize("tension_kpa", [0.0, -0.0, -3.9, math.nan])
def test_there_is_no_pf_at_saturation_or_below(tension_kpa: float) -> None:
    assert pf(tension_kpa) is None


@settings(deadline=None)
@given(st.floats(1e-6, 1e6))
def test_pf_is_never_infinite_and_ten_to_the_pf_are_centimetres(tension_kpa: float) -> None:
    value = pf(tension_kpa)
    assert value is not None
    assert math.isfinite(value)
    assert 10.0**value == pytest.approx(from_kpa(tension_kpa, "cmH2O"), rel=1e-9)
