"""Points of a calibration: what was indicated at what the reference said."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

Points = tuple[tuple[float, float], ...]
"""Pairs of indicated pressure and pressure of the reference, kPa."""

Direction = Literal["up", "down"]
"""Whether a point was reached with the vacuum growing or shrinking."""

LEAST_SPAN_KPA = 1.0
_PLAUSIBLE_KPA = 300.0


def directions(references_kpa: Sequence[float]) -> tuple[Direction, ...]:
    """Tell from the order in which points were taken with which run each belongs.

    A turning point belongs to the run that reached it, the first point to the run that it starts, and one that repeats
    its neighbour to the same run. One run only, or a single point, is all "up" unless the vacuum shrinks.

    Args:
        references_kpa: in the order of time, negative for vacuum.

    >>> directions([0.0, -40.0, -80.0, -40.0, 0.0])
    ('up', 'up', 'up', 'down', 'down')
    """
    found: list[Direction] = []
    for before, here in pairwise(references_kpa):
        if here == before and found:
            found.append(found[-1])
        else:
            found.append("up" if here <= before else "down")
    first: list[Direction] = found[:1] or ["up"]
    return tuple((first + found)[: len(references_kpa)])


def check_numbers(points: Points) -> None:
    if not points:
        raise ValueError("a calibration needs at least one point")
    for number in (number for point in points for number in point):
        if not abs(number) <= _PLAUSIBLE_KPA:
            raise ValueError(f"a calibration point of {number:g} kPa cannot be right: are both numbers in kPa?")


def check_span(points: Points, degree: int) -> None:
    references = sorted({reference for _, reference in points})
    span = references[-1] - references[0]
    if span < LEAST_SPAN_KPA:
        raise ValueError(
            f"the references of {len(points)} calibration points span {span:g} kPa: a line needs 1 kPa or more; "
            "give one point for an offset alone"
        )
    if len(references) <= degree:
        raise ValueError(f"a curve needs {degree + 1} different references at least, not {len(references)}")


def kept(points: Points, without: Sequence[int]) -> tuple[int, ...]:
    """Give the positions of the points that are not left out."""
    wrong = [index for index in without if not 0 <= index < len(points)]
    if wrong:
        raise ValueError(f"there is no calibration point {wrong[0]}: they count from 0 to {len(points) - 1}")
    left = tuple(index for index in range(len(points)) if index not in without)
    if not left:
        raise ValueError("all calibration points are left out")
    return left
