"""Calibration, inverse prediction and its limits against statsmodels, uncertainties, scipy and their frozen results.

The frozen numbers were computed with statsmodels 0.15, scipy 1.17 and uncertainties 3.2 from the same nine points.
"""

import math
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from uncertainties import correlated_values, ufloat
from uncertainties.umath import sqrt

from parchd.physics.calibration import Fit, fieller_kpa, fit
from parchd.physics.transducers import LinearVoltage

REFERENCE_KPA = tuple(-10.0 * step for step in range(9))
VOLTS = (0.503, 0.901, 1.302, 1.699, 2.104, 2.501, 2.899, 3.304, 3.700)
# 0.5 V to 4.5 V for 0 to -100 kPa: a nominal line only, every result is in kPa of the reference.
NOMINAL = LinearVoltage(0.5, 0.0, 4.5, -100.0)
SPOILT = 4


def kpa(volts: float) -> float:
    return NOMINAL.indicated_kpa(volts, 0.0)


def fitted(volts: tuple[float, ...] = VOLTS, degree: int = 1, without: tuple[int, ...] = ()) -> Fit:
    return fit(tuple(zip(map(kpa, volts), REFERENCE_KPA, strict=True)), degree, without=without)


def their_fit(indicated: list[float], references: tuple[float, ...], degree: int) -> Any:
    return sm.OLS(np.array(indicated), np.vander(np.array(references), degree + 1, increasing=True)).fit()


# V, readings in the mean: x0, u(x0), 95 % limits after Fieller.
PREDICTIONS = [
    (1.302, 1, -20.0080579, 0.0556230, (-20.139537, -19.876481)),
    (2.104, 1, -40.0639075, 0.0540270, (-40.191662, -39.936154)),
    (2.104, 5, -40.0639075, 0.0285884, (-40.131509, -39.996307)),
]


@pytest.mark.parametrize(("volts", "m", "x0", "u", "limits"), PREDICTIONS)
def test_inverse_predictions_come_out(volts: float, m: int, x0: float, u: float, limits: tuple[float, float]) -> None:
    line = fitted()
    assert line.reference_kpa(kpa(volts)) == pytest.approx(x0, abs=1e-6)
    assert line.u_kpa(kpa(volts), m) == pytest.approx(u, abs=1e-6)
    assert fieller_kpa(line, kpa(volts), m) == pytest.approx(limits, abs=2e-6)


def test_a_prediction_away_from_the_points_is_less_sure() -> None:
    line = fitted()
    assert line.reference_kpa(kpa(3.0)) == pytest.approx(-62.4704428, abs=1e-6)
    assert line.u_kpa(kpa(3.0)) == pytest.approx(0.0560356, abs=1e-6)


def test_standard_errors_of_intercept_and_slope() -> None:
    # statsmodels: se(a) = .00125975 V, se(b) = 2.6460e-5 V/kPa; 1 V is 25 kPa on the nominal line.
    line = fitted()
    assert math.sqrt(line.covariance[0][0]) / 25.0 == pytest.approx(0.00125975, abs=5e-9)
    assert math.sqrt(line.covariance[1][1]) / 25.0 == pytest.approx(2.6460e-5, abs=5e-10)
    assert (line.n, line.dof, line.span) == (9, 7.0, (-80.0, 0.0))


@pytest.mark.parametrize("volts", [0.7, 2.104, 3.5])
def test_inverting_the_prediction_interval_of_statsmodels_gives_the_limits(volts: float) -> None:
    theirs = their_fit([kpa(one) for one in VOLTS], REFERENCE_KPA, 1)

    def edge(x: float, side: int) -> float:
        frame = theirs.get_prediction(np.array([[1.0, x]])).summary_frame(alpha=0.05)
        return float(frame[("obs_ci_lower", "obs_ci_upper")[side]].iloc[0]) - kpa(volts)

    limits = brentq(edge, -150.0, 50.0, args=(1,), xtol=1e-12), brentq(edge, -150.0, 50.0, args=(0,), xtol=1e-12)
    assert fieller_kpa(fitted(), kpa(volts)) == pytest.approx(limits, abs=1e-8)


@settings(deadline=None, max_examples=50)
@given(
    st.sampled_from([1, 2]),
    st.lists(st.floats(-0.5, 0.5), min_size=9, max_size=9),
    st.floats(-75.0, -5.0),
    st.integers(1, 10),
)
def test_covariance_and_uncertainty_agree_with_statsmodels_and_uncertainties(
    degree: int, errors: list[float], reference: float, m: int
) -> None:
    indicated = [0.5 + 1.02 * x + 2e-4 * x * x + e for x, e in zip(REFERENCE_KPA, errors, strict=True)]
    ours = fit(tuple(zip(indicated, REFERENCE_KPA, strict=True)), degree)
    theirs = their_fit(indicated, REFERENCE_KPA, degree)
    covariance = theirs.cov_params()
    assert ours.coefficients == pytest.approx(theirs.params.tolist(), rel=1e-7, abs=1e-10)
    assert ours.s_kpa == pytest.approx(math.sqrt(theirs.scale), rel=1e-7, abs=1e-10)
    np.testing.assert_allclose(ours.covariance, covariance, rtol=1e-6, atol=1e-14)
    if theirs.scale < 1e-12:  # nothing to propagate
        return
    a, b, *rest = correlated_values(theirs.params, covariance)
    y = ufloat(ours.indicated_kpa(reference), math.sqrt(theirs.scale / m))
    x = (y - a) / b
    if rest:
        # The root on the branch where the curve rises.
        x = 2.0 * (y - a) / (b + sqrt(b * b + 4.0 * rest[0] * (y - a)))
    assert ours.reference_kpa(y.nominal_value) == pytest.approx(x.nominal_value, abs=1e-6)
    assert ours.u_kpa(y.nominal_value, m) == pytest.approx(x.std_dev, rel=1e-4)


def test_a_bad_point_is_named_and_leaving_it_out_cures_the_line() -> None:
    spoilt = (*VOLTS[:SPOILT], VOLTS[SPOILT] + 0.4, *VOLTS[SPOILT + 1 :])
    line = fitted(spoilt)
    # Ordinary least squares: intercept .54635556 V; the slope stays, for the point is the middle one.
    assert 0.5 - line.intercept_kpa / 25.0 == pytest.approx(0.54635556, abs=1e-8)
    assert line.suspects == (SPOILT,)
    cured = fitted(spoilt, without=(SPOILT,))
    assert (cured.suspects, cured.left_out, cured.n) == ((), (SPOILT,), 8)
    # Robust regression of all nine (Huber, statsmodels RLM): .50204 and -.03998032 V/kPa.
    assert 0.5 - cured.intercept_kpa / 25.0 == pytest.approx(0.50204, abs=0.0006)
    assert -cured.slope / 25.0 == pytest.approx(-0.03998032, abs=2e-5)


@settings(deadline=None, max_examples=50)
@given(st.sampled_from([1, 2]), st.lists(st.floats(-3.0, 3.0), min_size=9, max_size=9))
def test_the_points_named_are_those_of_statsmodels_outlier_test(degree: int, errors: list[float]) -> None:
    indicated = [0.5 + 1.02 * x + 1e-4 * x * x + e for x, e in zip(REFERENCE_KPA, errors, strict=True)]
    theirs = their_fit(indicated, REFERENCE_KPA, degree)
    if theirs.scale < 1e-2:  # closer than a hand gauge can tell: nobody is named
        return
    table = theirs.outlier_test(method="bonferroni", alpha=0.01)
    named = {index for index, p in enumerate(np.asarray(table)[:, 2]) if p < 0.01}
    ours = fit(tuple(zip(indicated, REFERENCE_KPA, strict=True)), degree)
    assert set(ours.suspects) == named


def test_no_point_of_the_clean_nine_is_named() -> None:
    assert fitted().suspects == ()
    assert fitted(degree=2).suspects == ()
