"""The exponential behind a return to rest."""

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from parchd.workbench.proof_fit import first_order


def curve(
    tau_s: float, plateau: float, jump: float, interval_s: float, end_s: float, sigma: float = 0.0
) -> list[tuple[float, float]]:
    rng = random.Random(3)
    times = [n * interval_s for n in range(int(end_s / interval_s) + 1)]
    return [(t, plateau + jump * math.exp(-t / tau_s) + rng.gauss(0.0, sigma)) for t in times]


@settings(max_examples=40, deadline=None)
@given(st.floats(2.0, 200.0), st.floats(-5.0, 5.0), st.floats(5.0, 70.0), st.sampled_from([-1.0, 1.0]))
def test_what_went_in_comes_out(tau_s: float, plateau: float, jump: float, sign: float) -> None:
    fit = first_order(curve(tau_s, plateau, sign * jump, tau_s / 10.0, tau_s * 6.0))
    assert fit.tau_s == pytest.approx(tau_s, rel=1e-3)
    assert fit.plateau == pytest.approx(plateau, abs=0.01)
    assert fit.jump == pytest.approx(sign * jump, rel=1e-3)
    assert fit.resolved


def test_the_shares_of_a_step_are_those_of_a_first_order_system() -> None:
    """Facts 4.1: 63.2 % is gone after one time constant, 86.5 after two, 95.0 after three, 99.0 after 4.6."""
    fit = first_order(curve(20.0, 0.0, 30.0, 0.5, 120.0))
    gone = [1.0 - fit.at(fit.start_s + count * fit.tau_s) / fit.at(fit.start_s) for count in (1.0, 2.0, 3.0, 4.6)]
    assert gone == pytest.approx([0.632, 0.865, 0.950, 0.990], abs=5e-4)


@pytest.mark.parametrize("tau_s", [3.0, 25.0, 140.0])
def test_the_fit_is_that_of_scipy(tau_s: float) -> None:
    points = curve(tau_s, 0.4, 28.0, 1.0, 250.0, sigma=0.1)
    fit = first_order(points)
    t, y = np.array(points).T
    start = (y[-1], y[0] - y[-1], tau_s)
    (plateau, jump, tau), _ = curve_fit(lambda t, c, a, tau: c + a * np.exp(-t / tau), t, y, p0=start)
    assert fit.plateau == pytest.approx(plateau, abs=0.01)
    assert fit.jump == pytest.approx(jump, rel=1e-3)
    assert fit.tau_s == pytest.approx(tau, rel=2e-3)


def test_a_fast_curve_is_found_among_thousands_of_later_samples() -> None:
    assert first_order(curve(1.5, 0.2, 30.0, 0.05, 600.0, sigma=0.05)).tau_s == pytest.approx(1.5, rel=0.02)


def test_samples_too_far_apart_tell_an_upper_bound_only() -> None:
    assert not first_order(curve(2.0, 0.0, 30.0, 10.0, 300.0)).resolved


def test_it_tells_how_far_there_is_to_go() -> None:
    fit = first_order(curve(60.0, 0.5, 30.0, 1.0, 120.0))
    assert fit.left_at(120.0) == pytest.approx(30.0 * math.exp(-2.0), rel=1e-3)


def test_five_values_are_too_few() -> None:
    with pytest.raises(ValueError, match="6 values or more, not 5"):
        first_order(curve(1.0, 0.0, 1.0, 1.0, 4.0))
