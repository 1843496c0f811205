"""Trends that wild values do not move, and signals that stand still."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from parchd.workbench.live_steady import LEAST_SAMPLES, Limits, Standing, stand, trend

LIMITS = Limits(window_s=10.0)
numbers = st.floats(-100.0, 100.0).map(lambda x: round(x, 3))


@given(numbers, numbers, st.lists(st.integers(0, 500), min_size=4, max_size=60, unique=True))
def test_the_trend_of_a_line_is_that_line(slope: float, offset: float, times: list[int]) -> None:
    found = trend([(float(t), offset + slope * t) for t in sorted(times)])
    assert found.slope == pytest.approx(slope, abs=1e-9 + 1e-9 * abs(slope))
    assert found.level == pytest.approx(offset + slope * max(times), abs=1e-6)
    assert found.spread == pytest.approx(0.0, abs=1e-6)


@given(st.lists(numbers, min_size=4, max_size=40), numbers, st.floats(0.1, 10.0))
def test_a_shift_and_a_scale_go_through(values: list[float], shift: float, factor: float) -> None:
    points = [(float(t), y) for t, y in enumerate(values)]
    one, other = trend(points), trend([(t, shift + factor * y) for t, y in points])
    assert other.slope == pytest.approx(factor * one.slope, abs=1e-6)
    assert other.spread == pytest.approx(factor * one.spread, abs=1e-6)


def test_a_quarter_of_wild_values_hardly_moves_the_trend() -> None:
    clean = [(float(t), 70.0 - 0.01 * t) for t in range(100)]
    wild = [(t, 0.0 if t % 4 == 1 else y) for t, y in clean]
    assert trend(wild).slope == pytest.approx(-0.01, rel=0.2)
    assert trend(wild).level == pytest.approx(clean[-1][1], abs=0.5)


def test_the_slope_is_that_of_scipy() -> None:
    rng = random.Random(5)
    points = [(t + rng.random() * 0.5, 20.0 - 0.3 * t + rng.gauss(0.0, 1.0)) for t in range(100)]
    slope, *_ = stats.theilslopes([y for _, y in points], [x for x, _ in points])
    assert trend(points).slope == pytest.approx(slope, rel=1e-12)


def test_thousands_of_samples_are_judged_quickly_and_alike() -> None:
    rng = random.Random(5)
    points = [(t * 0.1, 70.0 - 0.01 * t * 0.1 + rng.gauss(0.0, 0.1)) for t in range(3000)]
    assert trend(points).slope == pytest.approx(-0.01, rel=0.05)
    assert trend(points).spread == pytest.approx(0.1, rel=0.1)


def noisy(
    count: int, slope_per_s: float = 0.0, sigma: float = 0.02, interval_s: float = 0.5
) -> list[tuple[float, float]]:
    rng = random.Random(11)
    return [(n * interval_s, 20.0 + slope_per_s * n * interval_s + rng.gauss(0.0, sigma)) for n in range(count)]


def test_a_signal_must_be_watched_for_the_whole_window() -> None:
    found = stand(noisy(15), LIMITS)
    assert found.standing is Standing.WAITING
    assert found.part == pytest.approx(0.7)
    assert stand(noisy(21), LIMITS).standing is Standing.STEADY


@pytest.mark.parametrize(
    ("slope_per_s", "sigma", "standing"),
    [(0.0, 0.02, Standing.STEADY), (0.05, 0.02, Standing.MOVING), (-0.05, 0.02, Standing.MOVING),
     (0.0, 2.0, Standing.NOISY), (0.005, 0.02, Standing.STEADY)],
)  # fmt: skip
def test_what_moves_or_scatters_is_not_steady(slope_per_s: float, sigma: float, standing: Standing) -> None:
    assert stand(noisy(40, slope_per_s, sigma), LIMITS).standing is standing


def test_only_the_last_stretch_counts() -> None:
    settled = [(t, 20.0 + 60.0 * math.exp(-t / 3.0)) for t in (n * 0.5 for n in range(100))]
    assert stand(settled[:22], LIMITS).standing is Standing.MOVING
    found = stand(settled, LIMITS)
    assert found.standing is Standing.STEADY
    assert found.since_s == pytest.approx(settled[-1][0] - 10.0)


def test_slow_samples_make_the_window_longer() -> None:
    slow = noisy(LEAST_SAMPLES, interval_s=600.0)
    assert stand(slow[:-1], LIMITS).standing is Standing.WAITING
    assert stand(slow, LIMITS).standing is Standing.STEADY


def test_coarse_steps_of_a_converter_do_not_look_like_movement() -> None:
    toggling = [(n * 0.5, 20.0 + 0.122 * (n % 3 == 0)) for n in range(30)]  # a 10 bit step of 0.122 kPa: facts 3.5
    assert stand(toggling, LIMITS).standing is Standing.STEADY


def test_one_moment_with_many_samples_is_no_trend() -> None:
    assert stand([(0.0, 20.0)] * 20, LIMITS).standing is Standing.WAITING


def test_noise_that_would_hide_a_movement_is_watched_longer() -> None:
    """A noisy board on a pump that leaks 1.2 kPa a minute: one window cannot tell, four can."""
    rng, taken = random.Random(1), 0
    for _ in range(20):
        leaking = [(float(t), 40.0 - 0.02 * t + rng.gauss(0.0, 0.2)) for t in range(60)]
        taken += stand(leaking, LIMITS).standing is Standing.STEADY
        assert stand(leaking[:12], LIMITS).standing is not Standing.STEADY
    assert taken <= 2
    still = [(float(t), 40.0 + rng.gauss(0.0, 0.2)) for t in range(60)]
    assert stand(still, LIMITS).standing is Standing.STEADY
