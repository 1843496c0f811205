"""Calibration lines against two independent regressions and their frozen results."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import linregress

from parchd.physics.calibration import Line, fit
from parchd.physics.transducers import LinearVoltage, Ratiometric, Transducer

REFERENCE_KPA = tuple(-10.0 * step for step in range(9))
VOLTS = (0.503, 0.901, 1.302, 1.699, 2.104, 2.501, 2.899, 3.304, 3.700)

# Least squares of volts on reference by scipy 1.17 and statsmodels 0.15, which agree: V = A + B x.
A_V, B_V_KPA, S_V = 0.5019111111, -0.03998833333, 0.0020495838

KINDS: list[Transducer] = [LinearVoltage(0.5, 0.0, 4.5, -100.0), Ratiometric(0.0, -100.0)]


def line_of(kind: Transducer) -> Line:
    return fit(tuple((kind.gauge_kpa(volts, 5.0), x) for volts, x in zip(VOLTS, REFERENCE_KPA, strict=True)))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("volts", "expected_kpa"), [(1.302, -20.0080579), (2.104, -40.0639075), (3.000, -62.4704428)])
def test_a_fit_of_indicated_pressure_is_the_fit_of_the_volts(
    kind: Transducer, volts: float, expected_kpa: float
) -> None:
    # The line of x on y would give -20.00812 at 1.302 V: the last digits tell the two apart.
    assert line_of(kind).reference_kpa(kind.gauge_kpa(volts, 5.0)) == pytest.approx(expected_kpa, abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_intercept_slope_and_scatter_are_those_of_the_volts(kind: Transducer) -> None:
    line, v_per_kpa = line_of(kind), -0.04
    assert 0.5 + v_per_kpa * line.intercept_kpa == pytest.approx(A_V, abs=1e-9)
    assert v_per_kpa * line.slope == pytest.approx(B_V_KPA, abs=1e-10)
    assert line.residual_kpa is not None
    assert -v_per_kpa * line.residual_kpa == pytest.approx(S_V, abs=1e-9)
    assert line.residual_kpa / line.slope == pytest.approx(0.05125, abs=1e-5)
    assert line.n == 9


@settings(deadline=None)
@given(st.lists(st.floats(-2.0, 2.0), min_size=9, max_size=9))
def test_it_agrees_with_scipy_for_any_scatter(errors: list[float]) -> None:
    indicated = [x + error for x, error in zip(REFERENCE_KPA, errors, strict=True)]
    ours = fit(tuple(zip(indicated, REFERENCE_KPA, strict=True)))
    theirs = linregress(REFERENCE_KPA, indicated)
    assert ours.slope == pytest.approx(theirs.slope, abs=1e-10)
    assert ours.intercept_kpa == pytest.approx(theirs.intercept, abs=1e-10)
    residuals = np.array(indicated) - theirs.intercept - theirs.slope * np.array(REFERENCE_KPA)
    assert ours.residual_kpa == pytest.approx(np.sqrt(residuals @ residuals / 7.0), abs=1e-9)
