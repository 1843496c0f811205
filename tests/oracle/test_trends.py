"""Slopes and steps of the diagnosis beside independent libraries.

Slopes: `scipy.stats.theilslopes` (Theil 1950, Sen 1968). Steps: `ruptures.Dynp` with the cost ``l2`` and one change
point (Truong, Oudre & Vayatis 2020, Signal Processing 167:107299), which finds the least-squares split exactly.
"""

import math

import numpy as np
import pytest
import ruptures  # type: ignore[import-untyped]  # it ships no types
from scipy.stats import theilslopes

from parchd.diagnosis.trends import Point, slope, step

SEEDS = range(12)


def drifting(seed: int) -> list[Point]:
    """Days that are not all there, a drift, noise, and some days that are wild."""
    random = np.random.default_rng(seed)
    days = np.sort(random.choice(60, size=int(random.integers(4, 50)), replace=False)).astype(float)
    values = random.uniform(-0.3, 0.3) * days + random.normal(0.0, 0.4, len(days))
    values[random.random(len(days)) < 0.1] += 20.0
    return list(zip(days.tolist(), values.tolist(), strict=True))


@pytest.mark.parametrize("seed", SEEDS)
def test_slopes_agree_with_scipy(seed: int) -> None:
    points = drifting(seed)

    expected = theilslopes([y for _, y in points], [x for x, _ in points])

    assert math.isclose(slope(points), expected.slope, rel_tol=1e-12, abs_tol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_slopes_agree_where_several_values_share_a_day(seed: int) -> None:
    points = [(float(round(x / 3.0)), y) for x, y in drifting(seed)]

    expected = theilslopes([y for _, y in points], [x for x, _ in points])

    assert math.isclose(slope(points), expected.slope, rel_tol=1e-12, abs_tol=1e-12)


@pytest.mark.parametrize("least", [2, 3, 6])
@pytest.mark.parametrize("seed", SEEDS)
def test_steps_agree_with_ruptures(seed: int, least: int) -> None:
    random = np.random.default_rng(100 + seed)
    values = random.normal(0.0, 1.0, 40)
    values[int(random.integers(least, 40 - least)) :] += random.uniform(-6.0, 6.0)

    found = step(values.tolist(), least)
    expected, _ = ruptures.Dynp(model="l2", min_size=least, jump=1).fit(values).predict(n_bkps=1)

    assert found is not None
    assert found.at == expected
    assert math.isclose(found.size, values[expected:].mean() - values[:expected].mean(), abs_tol=1e-9)
