"""How a tensiometer trails a neighbour: as the neighbour's course would look through a clogged cup."""

from collections.abc import Sequence
from itertools import accumulate
from math import exp, sqrt
from typing import NamedTuple

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.standing import Standing

STEP_H = 3
SPAN_H, LEAD_H = 21 * 24, 72
"""Three weeks, and three days before them in which the smoothing settles."""
TAUS_H = (0, 3, 6, 12, 24, 48)
KNOWN = 0.8
LEAST_KPA = 0.3
ROOM = 0.002
"""What a fit may be better than any: where both are good, neither is better."""


class Trail(NamedTuple):
    """The time constant that fits best.

    Args:
        tau_h: one of those tried.
        likeness: correlation with the neighbour's course through such a cup.
        gain: how many times less it leaves unexplained than the neighbour's course as it is.
    """

    tau_h: int
    likeness: float
    gain: float


def trail(own: Standing, other: Standing, hour: int) -> Trail | None:
    """Compare three weeks of two tensiometers; ``None``: too little is known, or nothing moved."""
    earliest = max(own.since, other.since)
    if hour - SPAN_H - LEAD_H < earliest:
        return None
    mine, theirs = course(own, hour, SPAN_H + LEAD_H), course(other, hour, SPAN_H + LEAD_H)
    if mine is None or theirs is None:
        return None
    skip = LEAD_H // STEP_H
    fits = [_likeness(mine[skip:], _smoothed(theirs, tau_h)[skip:]) for tau_h in TAUS_H]
    if any(fit != fit for fit in fits):
        return None
    best = max(range(len(fits)), key=lambda number: fits[number])
    gain = (1.0 - fits[0] ** 2) / (1.0 - fits[best] ** 2 + ROOM)
    return Trail(TAUS_H[best], fits[best], gain)


def course(standing: Standing, hour: int, span_h: int) -> list[float] | None:
    """Take the highest of every three hours, gaps filled; ``None``: too much is unknown."""
    values = standing.hours.column("mean_kpa", hour - span_h + 1, hour + 1)
    if sum(values) == sum(values):
        return list(map(max, values[::STEP_H], values[1::STEP_H], values[2::STEP_H]))
    groups = [known(values[begin : begin + STEP_H]) for begin in range(0, len(values), STEP_H)]
    tops = [max(group) if group else NAN for group in groups]
    if len(known(tops)) < KNOWN * len(tops):
        return None
    first = next(value for value in tops if value == value)
    return list(accumulate(tops, lambda last, value: value if value == value else last, initial=first))[1:]


def _smoothed(course: Sequence[float], tau_h: int) -> list[float]:
    if tau_h == 0:
        return list(course)
    share = 1.0 - exp(-STEP_H / tau_h)
    return list(accumulate(course, lambda felt, value: felt + share * (value - felt)))


def _likeness(one: Sequence[float], other: Sequence[float]) -> float:
    """Correlation; NaN where one of them hardly moves."""
    count = len(one)
    mean_one, mean_other = sum(one) / count, sum(other) / count
    a = [value - mean_one for value in one]
    b = [value - mean_other for value in other]
    square_a, square_b = sum(value * value for value in a), sum(value * value for value in b)
    if min(square_a, square_b) < count * LEAST_KPA**2:
        return NAN
    return sum(x * y for x, y in zip(a, b, strict=True)) / sqrt(square_a * square_b)
