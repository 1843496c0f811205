"""Blocked vents: a gauge that cannot breathe feels the weather."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, Hours, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, Verdict, median, since

STRIDE_H = 4
DAY_H = 24
"""Differences to the same hour of the day before: daily ripple and most of the soil fall out."""
LEAST_AIR_KPA = 1.0
BLOCKED, BLOCKED_WITHIN = -1.0, 0.4
LEAST_STRENGTH = {7: 6.0, 14: 4.8, 21: 4.4, 28: 4.2}
"""By days looked back upon: the slope in terms of its standard error. Short spans have few independent points."""
SPAN_DAYS = tuple(LEAST_STRENGTH)
INDEPENDENT = DAY_H / STRIDE_H
"""Differences hours apart that overlap by nearly a day are worth one independent one together."""
KNOWN_SHARE = 0.6
FREE = -0.3
TRIM = 3.0


class Point(NamedTuple):
    """Changes within a day: of the air's pressure, of the neighbours, and of the tensiometer itself."""

    air: float
    beside: float
    own: float


class Line(NamedTuple):
    """What tension does for each kPa of the barometer: slope, its standard error, and how many points tell it."""

    slope: float
    error: float
    points: int


def watch(look: Look) -> Iterator[Verdict]:
    """Compare tension with the pressure of the air; once in two days is enough."""
    if not look.instrument.vented or not len(look.state.air):
        return
    points = _points(look)
    if look.has(FindingKind.BLOCKED_VENT):
        line = _line(look, points, SPAN_DAYS[0])
        if line is not None and FREE < line.slope < -FREE and line.error < -FREE:
            yield Over(FindingKind.BLOCKED_VENT, (look.hour + 1 - 24 * SPAN_DAYS[0]) * HOUR_US)
        return
    for span_days in SPAN_DAYS:
        line = _line(look, points, span_days)
        if line is not None and _is_blocked(line, span_days):
            yield _case(look, line, span_days)
            return


def _is_blocked(line: Line, span_days: int) -> bool:
    return abs(line.slope - BLOCKED) < BLOCKED_WITHIN and -line.slope > LEAST_STRENGTH[span_days] * line.error


def _case(look: Look, line: Line, span_days: int) -> Case:
    first = look.hour + 1 - 24 * span_days
    air = known(look.state.air.column("mean_kpa", first, look.hour + 1))
    facts = (
        Fact("tension for each kPa of the barometer", line.slope, "kPa"),
        Fact("give or take", 2.0 * line.error, "kPa"),
        Fact("the barometer moved by", max(air) - min(air), "kPa"),
        Fact("within", float(span_days), "days"),
    )
    return Case(FindingKind.BLOCKED_VENT, first * HOUR_US, min(0.95, 0.6 + 0.04 * -line.slope / line.error), facts)


def _line(look: Look, points: Sequence[Point], span_days: int) -> Line | None:
    """Fit the newest days; ``None``: too little is known, or the pressure hardly changed."""
    due = round((span_days - 1) * INDEPENDENT)
    newest = [point for point in points[:due] if sum(point) == sum(point)]
    air = known(look.state.air.column("mean_kpa", look.hour + 1 - 24 * span_days, look.hour + 1)[::STRIDE_H])
    if len(newest) < KNOWN_SHARE * due or max(air) - min(air) < LEAST_AIR_KPA:
        return None
    return fit(newest)


def _points(look: Look) -> list[Point]:
    """Changes within a day, every few hours of four weeks, the newest first."""
    air = _every(look, look.state.air, 0)
    own = _every(look, look.standing.hours, look.standing.since)
    beside = _beside(look, len(known(own)))
    step = round(INDEPENDENT)
    return [
        Point(air[n] - air[n + step], beside[n] - beside[n + step], own[n] - own[n + step])
        for n in range(len(air) - step)
    ]


def _every(look: Look, hours: Hours, earliest: int) -> list[float]:
    """Every few hours of four weeks, the newest first."""
    first = look.hour + 1 - 24 * SPAN_DAYS[-1]
    return since(hours.column("mean_kpa", first, look.hour + 1), first, earliest)[::-STRIDE_H]


def _beside(look: Look, wanted: int) -> list[float]:
    """What the nearest neighbours read that can be believed and say enough; zeros where there are none."""
    near = look.neighbours
    for group in (near.level, near.station, near.zone, near.source):
        columns = [_every(look, one.hours, one.since) for one in group if look.trusts(one)]
        if columns:
            values = columns[0] if len(columns) == 1 else [median(row) for row in zip(*columns, strict=True)]
            if len(known(values)) >= KNOWN_SHARE * wanted:
                return values
    return [0.0] * round(SPAN_DAYS[-1] * INDEPENDENT)


def fit(points: Sequence[Point]) -> Line | None:
    """Fit own changes by those of the air and of the neighbours, twice leaving out what lies far off.

    >>> line = fit([Point(n % 7 - 3.0, n % 5 - 2.0, 3.0 - (n % 7) + 0.5 * (n % 5)) for n in range(40)])
    >>> line is not None and round(line.slope, 3)
    -1.0
    """
    kept, plane = list(points), None
    for _ in range(3):
        plane = _Plane.through(kept) if len(kept) >= 2 * INDEPENDENT else None
        if plane is None:
            return None
        rest = [abs(plane.off(point)) for point in kept]
        limit = TRIM * 1.4826 * middle(rest)
        fewer = [point for point, off in zip(kept, rest, strict=True) if off <= limit]
        if len(fewer) == len(kept) or len(fewer) < KNOWN_SHARE * len(points):
            break
        kept = fewer
    assert plane is not None
    return plane.line(kept)


class _Plane(NamedTuple):
    """Least squares through points: means, slopes, and what the air's changes add of their own."""

    means: Point
    air: float
    beside: float
    spread: float

    @classmethod
    def through(cls, points: Sequence[Point]) -> "_Plane | None":
        count = len(points)
        x0, p0, y0 = (sum(values) / count for values in zip(*points, strict=True))
        xx = xp = pp = xy = py = 0.0
        for air, beside, own in points:
            x, p, y = air - x0, beside - p0, own - y0
            xx, xp, pp, xy, py = xx + x * x, xp + x * p, pp + p * p, xy + x * y, py + p * y
        spread = xx - xp * xp / pp if pp > 0.0 else xx
        if spread <= 1e-9 * xx or xx <= 0.0:
            return None
        slope = (xy - xp * py / pp if pp > 0.0 else xy) / spread
        return cls(Point(x0, p0, y0), slope, (py - slope * xp) / pp if pp > 0.0 else 0.0, spread)

    def off(self, point: Point) -> float:
        """How far a point lies above the plane."""
        x, p, y = (value - mean for value, mean in zip(point, self.means, strict=True))
        return y - self.air * x - self.beside * p

    def line(self, points: Sequence[Point]) -> Line:
        """The slope with its error; overlapping differences count for fewer."""
        left = sum(self.off(point) ** 2 for point in points) / len(points)
        free = max(1.0, len(points) / INDEPENDENT - 3.0)
        return Line(self.air, max(math.sqrt(left * len(points) / self.spread / free), 1e-6), len(points))
