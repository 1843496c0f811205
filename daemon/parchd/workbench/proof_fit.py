"""The curve of a tensiometer that returns to rest: an exponential to a plateau."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from parchd.workbench.chart import Point, thinned

LEAST_POINTS = 6
_MOST_POINTS = 300
_GRID = 40
_ENOUGH = 8.0  # time constants; what comes later says nothing more, and would hide a fast curve among blocks
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """y(t) = plateau + jump exp(-(t - start) / tau).

    Args:
        tau_s: time constant: 63 % of the way is gone after it, 95 % after three.
        rms: root of the mean square of what the points are off.
        interval_s: usual time between the points.
    """

    start_s: float
    tau_s: float
    plateau: float
    jump: float
    rms: float
    interval_s: float

    @property
    def resolved(self) -> bool:
        """Whether the points lie close enough to tell the time constant; else it is an upper bound at best."""
        return self.tau_s >= 1.5 * self.interval_s

    def at(self, t_s: float) -> float:
        return self.plateau + self.jump * math.exp(-(t_s - self.start_s) / self.tau_s)

    def left_at(self, t_s: float) -> float:
        """How far it still is from the plateau."""
        return abs(self.jump) * math.exp(-(t_s - self.start_s) / self.tau_s)


def first_order(points: Sequence[Point]) -> FirstOrder:
    """Fit by least squares: plateau and jump are linear, the time constant is searched by golden section.

    Source: dpsi(t) = dpsi0 exp(-t/tau), after Richards 1949 and Klute and Gardner 1962 (from memory).

    Args:
        points: in the order of time, `LEAST_POINTS` at least.

    Raises:
        ValueError: too few points.

    >>> fit = first_order([(t, 2.0 + 30.0 * math.exp(-t / 20.0)) for t in range(0, 100, 2)])
    >>> round(fit.tau_s, 3), round(fit.plateau, 3), round(fit.jump, 3)
    (20.0, 2.0, 30.0)
    """
    if len(points) < LEAST_POINTS:
        raise ValueError(f"a time constant needs {LEAST_POINTS} values or more, not {len(points)}")
    fit = _fitted(points)
    near = [point for point in points if point[0] <= fit.start_s + _ENOUGH * fit.tau_s]
    return _fitted(near) if _MOST_POINTS <= len(near) < len(points) else fit


def _fitted(points: Sequence[Point]) -> FirstOrder:
    few = thinned(points, _MOST_POINTS)
    start_s, span_s = few[0][0], few[-1][0] - few[0][0]
    interval_s = median(later - earlier for (earlier, _), (later, _) in pairwise(points))
    moved = [(t - start_s, y) for t, y in few]
    low, high = math.log(max(interval_s, span_s / 1000.0) / 4.0), math.log(span_s * 10.0)
    step = (high - low) / _GRID
    best = min((low + step * number for number in range(_GRID + 1)), key=lambda at: _solved(moved, math.exp(at))[2])
    tau_s = math.exp(_golden(lambda at: _solved(moved, math.exp(at))[2], best - step, best + step))
    plateau, jump, squares = _solved(moved, tau_s)
    return FirstOrder(start_s, tau_s, plateau, jump, math.sqrt(squares / len(moved)), interval_s)


def _solved(points: Sequence[Point], tau_s: float) -> tuple[float, float, float]:
    """Give plateau, jump and the sum of squares for a time constant."""
    falls = [math.exp(-t / tau_s) for t, _ in points]
    mean_fall, mean_y = fmean(falls), fmean(y for _, y in points)
    spread = math.fsum((fall - mean_fall) ** 2 for fall in falls)
    shared = math.fsum((fall - mean_fall) * (y - mean_y) for fall, (_, y) in zip(falls, points, strict=True))
    jump = shared / spread if spread > 0.0 else 0.0
    plateau = mean_y - jump * mean_fall
    squares = math.fsum((y - plateau - jump * fall) ** 2 for fall, (_, y) in zip(falls, points, strict=True))
    return plateau, jump, squares


def _golden(cost: Callable[[float], float], low: float, high: float) -> float:
    """Find the lowest place of a function that falls and then rises."""
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = cost(left), cost(right)
    while high - low > 1e-6:
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = cost(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = cost(right)
    return (low + high) / 2.0
