"""How fast tension wanes when water comes: the course of single falls, measured to their end."""

from collections.abc import Sequence
from typing import NamedTuple

from parchd.diagnosis.hours import NAN, Hours, known

LEAST_KPA, LEAST_SHARE = 3.0, 0.3
LONGEST_H = 96
"""After four days of a clogged cup's fall at most a fifth is left."""
ASTRIDE_H = 12
BEGINS = 0.12
"""Share of it that goes within six hours of its begin, and at most in the half day before."""
RISES = 0.35
"""It is over once so much of it has come back."""
FAST_H = 5.0
"""One fall so fast shows that the cup is open."""
BACK_H, BACK = 14, 0.5
"""What comes back by half within hours was a hand on the tube."""


class Wane(NamedTuple):
    """One fall of tension.

    Args:
        begin: hour of its top.
        top_kpa, floor_kpa: from where to where.
        relax_h: how long the rest would have taken at the steepest hour's pace: the time constant of an exponential.
        steepest: that hour.
    """

    begin: int
    top_kpa: float
    floor_kpa: float
    relax_h: float
    steepest: int

    @property
    def size_kpa(self) -> float:
        return self.top_kpa - self.floor_kpa


def wane(hours: Hours, first: int, last: int, until: int) -> Wane | None:
    """Find the fall that begins between two hours.

    Args:
        first, last: it begins at ``first`` or later and before ``last``.
        until: hours known, four days after ``last`` at best.
    """
    raw = hours.column("mean_kpa", first - ASTRIDE_H, until + 1)
    tops, rest = known(raw[ASTRIDE_H : ASTRIDE_H + last - first]), known(raw[ASTRIDE_H:])
    if not tops or max(tops) - min(rest) < max(LEAST_KPA, LEAST_SHARE * max(tops)):
        return None
    course = _smooth(raw)
    for at in range(ASTRIDE_H, ASTRIDE_H + last - first):
        found = _from(course, at)
        if found is not None:
            begin = first - ASTRIDE_H + at
            return found._replace(begin=begin, steepest=begin + found.steepest)
    return None


def _smooth(raw: Sequence[float]) -> list[float]:
    """Take the middle of five hours each, and the last known where nothing is known."""
    filled, last = [], NAN
    for value in raw:
        last = value if value == value else last
        filled.append(last)
    inner = [sorted(filled[at - 2 : at + 3])[2] for at in range(2, len(filled) - 2)]
    return [*filled[:2], *inner, *filled[-2:]]


def _from(course: Sequence[float], at: int) -> Wane | None:
    """Measure the fall that begins at a place of a course, if one does."""
    top = course[at]
    ahead = course[at : at + LONGEST_H + 1]
    if len(ahead) < BACK_H or not top - min(ahead) >= max(LEAST_KPA, LEAST_SHARE * top):
        return None
    end, floor = _floor(ahead)
    size = top - floor
    around = max(course[at - ASTRIDE_H : at + ASTRIDE_H + 1])
    if size < max(LEAST_KPA, LEAST_SHARE * top) or top < around - BEGINS * size or top - ahead[6] < BEGINS * size:
        return None
    if end + BACK_H < len(ahead) and max(ahead[end : end + BACK_H]) > top - BACK * size:
        return None
    pace, where = max((ahead[i] - ahead[i + 1], i) for i in range(end))
    return Wane(0, top, floor, (ahead[where] - floor) / pace, where) if pace > 0.0 else None


def _floor(ahead: Sequence[float]) -> tuple[int, float]:
    """Where it ends: the lowest before it rises again."""
    end, floor = 0, ahead[0]
    for number, value in enumerate(ahead):
        if value < floor:
            end, floor = number, value
        elif value - floor > RISES * (ahead[0] - floor):
            break
    return end, floor


def typical(values: Sequence[float]) -> float:
    """What it can do: the second best of several; with few, the best, where that is fast. NaN: not known.

    >>> typical([9.0, 2.0, 3.0, 8.0]), typical([2.0, 5.0]), typical([9.0])
    (3.0, 2.0, nan)
    """
    ordered = sorted(values)
    if len(ordered) > 2:
        return ordered[1]
    return ordered[0] if ordered and (len(ordered) == 2 or ordered[0] <= FAST_H) else NAN
