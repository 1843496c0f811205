import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.student import TWO_SIGMA, t_factor

CONFIDENCES = st.floats(0.5, 0.9999)


@settings(deadline=None)
@given(st.floats(1.0, 500.0), st.floats(1.1, 5.0), CONFIDENCES)
def test_more_degrees_of_freedom_make_a_smaller_factor(dof: float, times: float, confidence: float) -> None:
    assert t_factor(dof, confidence) > t_factor(dof * times, confidence) > t_factor(math.inf, confidence)


def test_two_standard_deviations_of_a_normal_distribution_are_k_2() -> None:
    assert pytest.approx(0.9545, abs=5e-5) == TWO_SIGMA
    assert t_factor(math.inf) == pytest.approx(2.0, abs=1e-12)


@pytest.mark.parametrize("confidence", [0.5, 0.9, TWO_SIGMA, 0.9999])
def test_one_degree_of_freedom_is_the_cauchy_distribution(confidence: float) -> None:
    assert t_factor(1.0, confidence) == pytest.approx(math.tan(math.pi * confidence / 2.0), rel=1e-11)


@pytest.mark.parametrize("confidence", [0.5, 0.9, TWO_SIGMA, 0.9999])
def test_two_degrees_of_freedom_have_a_closed_form(confidence: float) -> None:
    assert t_factor(2.0, confidence) == pytest.approx(confidence * math.sqrt(2.0 / (1.0 - confidence**2)), rel=1e-11)


@pytest.mark.parametrize(("dof", "confidence"), [(0.0, 0.95), (-1.0, 0.95), (math.nan, 0.95), (5.0, 0.0), (5.0, 1.0)])
def test_arguments_out_of_range_are_refused(dof: float, confidence: float) -> None:
    with pytest.raises(ValueError, match=r"degrees of freedom|confidence"):
        t_factor(dof, confidence)
