"""Numbers that come in one after another: how they move, how they scatter, and when they stand still."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from statistics import median

from parchd.workbench.chart import Point, thinned

LEAST_SAMPLES = 8
_MOST_FOR_SLOPE = 120
_LONGER, _CLEAR = (2.0, 4.0), 1.5
_NORMAL = 1.4826  # makes the median deviation of normal noise its standard deviation


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight line through values in time that a few wild ones do not move.

    Args:
        slope: by second.
        level: where it stands at the last time.
        spread: standard deviation about it, judged by the middle half.
    """

    slope: float
    level: float
    spread: float


def trend(points: Sequence[Point]) -> Trend:
    """Fit the line whose slope is the median of the slopes between all pairs of points.

    Up to 29 of 100 points may be anything. Many points are made fewer first.

    Args:
        points: seconds and values, two at least at different times.

    Source: Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63:1379.

    >>> trend([(0.0, 20.0), (1.0, 21.1), (2.0, 22.0), (3.0, 23.2), (4.0, 40.0), (5.0, 25.1), (6.0, 26.0)]).slope
    1.0
    """
    few = thinned(points, _MOST_FOR_SLOPE)
    slope = median((y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(few, 2) if x1 != x2)
    offset = median(y - slope * x for x, y in few)
    spread = _NORMAL * median(abs(y - offset - slope * x) for x, y in points)
    return Trend(slope, offset + slope * points[-1][0], spread)


class Standing(StrEnum):
    WAITING = "waiting"
    """Too few samples yet."""
    MOVING = "moving"
    NOISY = "noisy"
    STEADY = "steady"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a signal counts as steady.

    Args:
        window_s: length of the stretch that is looked at.
        drift_kpa: most that it may move in this stretch; noise that looks like it is allowed for.
        spread_kpa: most that it may scatter, as a standard deviation.
    """

    window_s: float = 15.0
    drift_kpa: float = 0.1
    spread_kpa: float = 0.5


@dataclass(frozen=True, slots=True)
class Stand:
    """How a signal stands.

    Args:
        standing: the verdict.
        part: share of the samples that are needed, 0 to 1.
        drift_kpa_per_min: how it moves.
        spread_kpa: how it scatters.
        since_s: where the stretch that was looked at begins.
    """

    standing: Standing
    part: float
    drift_kpa_per_min: float = 0.0
    spread_kpa: float = 0.0
    since_s: float = 0.0


def stand(points: Sequence[Point], limits: Limits) -> Stand:
    """Judge the last stretch of a signal.

    The stretch is as long as `Limits.window_s`, or as `LEAST_SAMPLES` samples take; up to four times as long where
    noise would hide a movement.

    Args:
        points: seconds and kPa since the pressure was set, in order.

    >>> still = [(second * 2.0, 20.0 + 0.01 * (second % 2)) for second in range(10)]
    >>> stand(still[:3], Limits()).standing.value, stand(still, Limits()).standing.value
    ('waiting', 'steady')
    >>> stand([(s, k + s * 0.1) for s, k in still], Limits()).standing.value
    'moving'
    """
    if len(points) < 2:
        return Stand(Standing.WAITING, len(points) / LEAST_SAMPLES)
    found, hidden_kpa = _over(points, limits, limits.window_s)
    for factor in _LONGER:
        if found.standing is not Standing.STEADY or hidden_kpa <= _CLEAR * limits.drift_kpa:
            break
        found, hidden_kpa = _over(points, limits, factor * limits.window_s)
    return found


def _over(points: Sequence[Point], limits: Limits, window_s: float) -> tuple[Stand, float]:
    """Judge a stretch of a length; give as well the movement that its noise would hide."""
    end_s = points[-1][0]
    start_s = min(end_s - window_s, points[-min(len(points), LEAST_SAMPLES)][0])
    part = min(len(points) / LEAST_SAMPLES, (end_s - points[0][0]) / window_s, 1.0)
    window = [point for point in points if point[0] >= start_s - 1e-9]
    line = trend(window) if window[0][0] < end_s else Trend(0.0, window[-1][1], 0.0)
    hidden_kpa = 2.0 * line.spread * math.sqrt(12.0 / len(window))
    standing = Standing.WAITING
    if part >= 1.0:
        standing = _judged(line, hidden_kpa, end_s - window[0][0], limits)
    return Stand(standing, part, line.slope * 60.0, line.spread, window[0][0]), hidden_kpa


def _judged(line: Trend, hidden_kpa: float, length_s: float, limits: Limits) -> Standing:
    """A slope counts as movement when it is more than the noise makes by itself in 19 of 20 cases."""
    if abs(line.slope) * length_s > max(limits.drift_kpa, hidden_kpa):
        return Standing.MOVING
    return Standing.NOISY if line.spread > limits.spread_kpa else Standing.STEADY
