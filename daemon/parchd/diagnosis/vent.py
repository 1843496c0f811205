"""Blocked vents: a gauge that cannot breathe feels the weather."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, Over, Verdict, median, since

SPAN_DAYS = (7, 14, 21)
STRIDE_H = 3
DAY_H = 24
"""Differences to the same hour of the day before: daily ripple and most of the soil fall out."""
LEAST_AIR_KPA = 1.0
BLOCKED, BLOCKED_WITHIN = -1.0, 0.35
LEAST_CORRELATION, LEAST_STRENGTH = 0.6, 4.5
"""The slope in terms of its standard error; differences three hours apart are worth an eighth of independent ones."""
INDEPENDENT = DAY_H / STRIDE_H
FREE = -0.3
TRIM = 3.0


class Line(NamedTuple):
    """A fitted line: slope, its standard error, correlation and number of points."""

    slope: float
    error: float
    correlation: float
    points: int


def watch(look: Look) -> Iterator[Verdict]:
    """Compare tension with the pressure of the air; once a day is enough."""
    if not look.instrument.vented or not len(look.state.air):
        return
    if look.has(FindingKind.BLOCKED_VENT):
        line = _line(look, SPAN_DAYS[0])
        if line is not None and line.slope > FREE and abs(line.slope) < 1.0 + FREE and line.error < -FREE:
            yield Over(FindingKind.BLOCKED_VENT, (look.hour + 1 - 24 * SPAN_DAYS[0]) * HOUR_US)
        return
    for span_days in SPAN_DAYS:
        line = _line(look, span_days)
        if line is not None and _is_blocked(line):
            yield _case(look, line, span_days)
            return


def _is_blocked(line: Line) -> bool:
    return (
        abs(line.slope - BLOCKED) < BLOCKED_WITHIN
        and line.correlation < -LEAST_CORRELATION
        and -line.slope > LEAST_STRENGTH * line.error
    )


def _case(look: Look, line: Line, span_days: int) -> Case:
    first = look.hour + 1 - 24 * span_days
    air = known(look.state.air.column("mean_kpa", first, look.hour + 1))
    facts = (
        Fact("tension for each kPa of the barometer", line.slope, "kPa"),
        Fact("correlation", -100.0 * line.correlation, "%"),
        Fact("the barometer moved by", max(air) - min(air), "kPa"),
        Fact("within", float(span_days), "days"),
    )
    return Case(FindingKind.BLOCKED_VENT, first * HOUR_US, min(0.95, 0.6 + 0.04 * -line.slope / line.error), facts)


def _line(look: Look, span_days: int) -> Line | None:
    """Fit the day's change of tension, less that of the neighbours, on the day's change of air pressure."""
    first, end = look.hour + 1 - 24 * span_days, look.hour + 1
    air = look.state.air.column("mean_kpa", first, end)
    numbers = known(air)
    if len(numbers) < 0.7 * len(air) or max(numbers) - min(numbers) < LEAST_AIR_KPA:
        return None
    own, beside = _column(look.standing, first, end), _beside(look, first, end)
    tension = [x - y for x, y in zip(own, beside, strict=True)]
    points = [
        (air[n] - air[n - DAY_H], tension[n] - tension[n - DAY_H]) for n in range(len(air) - 1, DAY_H - 1, -STRIDE_H)
    ]
    points = [(x, y) for x, y in points if x == x and y == y]
    return fit(points) if len(points) >= 0.6 * (span_days - 1) * INDEPENDENT else None


def _column(standing: Standing, first: int, end: int) -> list[float]:
    return since(standing.hours.column("mean_kpa", first, end), first, standing.since)


def _beside(look: Look, first: int, end: int) -> list[float]:
    """What neighbours that can be believed did; zeros where there are none."""
    groups = (look.neighbours.level, look.neighbours.station, look.neighbours.zone)
    near = next((group for group in groups if any(look.trusts(one) for one in group)), ())
    columns = [_column(one, first, end) for one in near if look.trusts(one)]
    if not columns:
        return [0.0] * (end - first)
    return [median(values) for values in zip(*columns, strict=True)]


def fit(points: Sequence[tuple[float, float]]) -> Line | None:
    """Fit a line, twice leaving out what lies far from it; the error reckons with overlapping differences.

    >>> line = fit([(x / 10, 3.0 - x / 10) for x in range(40)])
    >>> line is not None and round(line.slope, 3)
    -1.0
    """
    kept = list(points)
    for _ in range(3):
        if len(kept) < 2 * INDEPENDENT:
            return None
        slope, offset = _least_squares(kept)
        if slope != slope:
            return None
        rest = [abs(y - slope * x - offset) for x, y in kept]
        limit = TRIM * 1.4826 * sorted(rest)[len(rest) // 2]
        fewer = [point for point, off in zip(kept, rest, strict=True) if off <= limit]
        if len(fewer) == len(kept) or len(fewer) < 0.6 * len(points):
            break
        kept = fewer
    return _judged(kept)


def _least_squares(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    count = len(points)
    mean_x, mean_y = sum(x for x, _ in points) / count, sum(y for _, y in points) / count
    xx = sum((x - mean_x) ** 2 for x, _ in points)
    xy = sum((x - mean_x) * (y - mean_y) for x, y in points)
    slope = xy / xx if xx > 0.0 else NAN
    return slope, mean_y - slope * mean_x


def _judged(points: Sequence[tuple[float, float]]) -> Line:
    count = len(points)
    slope, offset = _least_squares(points)
    mean_x, mean_y = sum(x for x, _ in points) / count, sum(y for _, y in points) / count
    xx = sum((x - mean_x) ** 2 for x, _ in points)
    yy = sum((y - mean_y) ** 2 for _, y in points)
    left = sum((y - slope * x - offset) ** 2 for x, y in points)
    free = max(1.0, count / INDEPENDENT - 2.0)
    error = math.sqrt(left / count / free / (xx / count)) if xx > 0.0 else math.inf
    correlation = slope * math.sqrt(xx / yy) if yy > 0.0 else 0.0
    return Line(slope, max(error, 1e-6), correlation, count)
