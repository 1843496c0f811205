"""The course of a tensiometer by the highest of every three hours."""

from itertools import accumulate

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.standing import Standing

STEP_H = 3
KNOWN = 0.8


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
