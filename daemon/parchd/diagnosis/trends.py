"""Slopes and steps of short series, told by medians: a few wild values change nothing."""

from collections.abc import Sequence
from itertools import accumulate, combinations
from typing import NamedTuple

from parchd.diagnosis.hours import NAN, known

Point = tuple[float, float]


class Step(NamedTuple):
    """Where a series changes its level.

    Args:
        at: number of the first value after it.
        size: mean after it less the mean before it.
        share: how much of the scatter of the series it explains, 0 to 1.
    """

    at: int
    size: float
    share: float


def middle(values: Sequence[float]) -> float:
    """Median of numbers, all known; NaN: none.

    >>> middle([3.0, 1.0, 2.0, 10.0])
    2.5
    """
    ordered = sorted(values)
    half = len(ordered) // 2
    if not ordered:
        return NAN
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2.0


def scatter(values: Sequence[float]) -> float:
    """Median distance from the median; NaN: no values.

    >>> scatter([1.0, 2.0, 3.0, 100.0])
    1.0
    """
    centre = middle(values)
    return middle([abs(value - centre) for value in values])


def slope(points: Sequence[Point]) -> float:
    """Slope of a line: the median of the slopes between all pairs (Theil 1950, Sen 1968).

    Args:
        points: x and y, all known; at most some sixty.

    Returns:
        Change of y for one x; NaN: there are no two different x.

    >>> slope([(0, 0.0), (1, 2.0), (2, 4.0), (3, 6.0), (4, 80.0)])
    2.0
    """
    return middle([(later[1] - early[1]) / (later[0] - early[0]) for early, later in combinations(sorted(points), 2)
                   if later[0] > early[0]])  # fmt: skip


def step(values: Sequence[float], least: int = 3) -> Step | None:
    """Find where two levels describe a series best (least squares).

    Args:
        values: numbers, all known.
        least: values on either side.

    Returns:
        The step; ``None``: the series is too short.

    >>> step([1.0, 1.0, 1.0, 5.0, 5.0, 5.0])
    Step(at=3, size=4.0, share=1.0)
    """
    count = len(values)
    if count < 2 * least:
        return None
    sums = list(accumulate(values))
    total = sums[-1]
    at = max(
        range(least, count - least + 1), key=lambda k: sums[k - 1] ** 2 / k + (total - sums[k - 1]) ** 2 / (count - k)
    )
    before, after = sums[at - 1] / at, (total - sums[at - 1]) / (count - at)
    mean = total / count
    all_of_it = sum((value - mean) ** 2 for value in values)
    explained = at * (before - mean) ** 2 + (count - at) * (after - mean) ** 2
    return Step(at, after - before, explained / all_of_it if all_of_it > 0.0 else 0.0)


def days(values: Sequence[float], least: int = 12) -> list[float]:
    """Median of each whole day of hours, the newest last; NaN: too few hours are known.

    Args:
        values: by the hour, the newest last; what is left over at the front counts for nothing.
        least: hours a day must have.

    >>> days([9.0] + [1.0] * 24 + [2.0] * 24)
    [1.0, 2.0]
    """
    first = len(values) % 24
    has_gaps = sum(values) != sum(values)
    whole = [values[begin : begin + 24] for begin in range(first, len(values), 24)]
    if has_gaps:
        whole = [known(day) for day in whole]
    return [middle(day) if len(day) >= least else NAN for day in whole]
