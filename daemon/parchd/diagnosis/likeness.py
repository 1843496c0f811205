"""Whether two courses go alike, a quarter of a day for a quarter of a day."""

from collections.abc import Sequence
from math import sqrt

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.trends import middle

PART_H = 6
KNOWN_SHARE = 0.8


def parts(hours: Sequence[float]) -> list[float]:
    """Median of each whole quarter of a day; NaN: nothing is known."""
    return [middle(known(hours[at : at + PART_H])) for at in range(0, len(hours) - PART_H + 1, PART_H)]


def likeness(own: Sequence[float], theirs: Sequence[float]) -> float:
    """Correlation of two series of parts; NaN: too little of one is known, or it does not move.

    >>> likeness([1.0, 2.0, 3.0], [10.0, 20.0, 30.0])
    1.0
    """
    pairs = [(a, b) for a, b in zip(own, theirs, strict=True) if a == a and b == b]
    if not pairs or len(pairs) < KNOWN_SHARE * len(own):
        return NAN
    mean, mean_theirs = (sum(column) / len(pairs) for column in zip(*pairs, strict=True))
    product = sum((a - mean) * (b - mean_theirs) for a, b in pairs)
    squares = sum((a - mean) ** 2 for a, _ in pairs) * sum((b - mean_theirs) ** 2 for _, b in pairs)
    return product / sqrt(squares) if squares > 0.0 else NAN
