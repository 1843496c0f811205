"""Student's t against scipy and the table of the GUM."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t

from parchd.physics.student import t_factor

# GUM (JCGM 100:2008) table G.2: fraction 95 % and 95.45 %.
TABLE = {1: (12.71, 13.97), 2: (4.30, 4.53), 3: (3.18, 3.31), 5: (2.57, 2.65), 7: (2.36, 2.43), 10: (2.23, 2.28),
         20: (2.09, 2.13), 50: (2.01, 2.05), 100: (1.984, 2.025)}  # fmt: skip


@settings(deadline=None, max_examples=200)
@given(st.floats(1.0, 1e6), st.floats(0.3, 0.99999))
def test_it_agrees_with_scipy(dof: float, confidence: float) -> None:
    assert t_factor(dof, confidence) == pytest.approx(t.ppf((1.0 + confidence) / 2.0, dof), rel=1e-9)


@pytest.mark.parametrize("dof", TABLE)
def test_the_table_of_the_gum_comes_out(dof: int) -> None:
    at_95, at_two_sigma = TABLE[dof]
    assert t_factor(float(dof), 0.95) == pytest.approx(at_95, abs=0.006)
    assert t_factor(float(dof)) == pytest.approx(at_two_sigma, abs=0.006)


def test_seven_degrees_of_freedom_as_statsmodels_has_them() -> None:
    assert t_factor(7.0, 0.95) == pytest.approx(2.3646243, abs=1e-7)
