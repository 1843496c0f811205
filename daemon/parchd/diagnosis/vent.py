"""Blocked vents: a gauge that cannot breathe feels the weather."""

import math
from collections.abc import Iterator, Sequence
from operator import mul
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
LEAST_STRENGTH = {7: 4.0, 14: 5.0, 21: 5.0, 28: 5.0}
"""By days looked back upon: the slope in terms of its standard error. By chance it comes to 4.6 in the course of many
seasons, as soils go their own ways for weeks, but to 2.7 within a single one; a blocked vent goes on to 5 and more."""
SPAN_DAYS = tuple(LEAST_STRENGTH)
INDEPENDENT = DAY_H / STRIDE_H
"""Differences hours apart that overlap by nearly a day are worth one independent one together."""
KNOWN_SHARE = 0.6
FREE, SURELY_FREE = -0.3, -0.1
"""Above the second nothing more is looked at: a vent that was blocked a week ago pulls four weeks further down."""
DENIES = 3.0
"""So many standard errors less than a blocked vent's slope are no chance, within a half of the days."""
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
            look.standing.notes["vent.free"] = look.hour + 1 - 24 * SPAN_DAYS[0]
            yield Over(FindingKind.BLOCKED_VENT, (look.hour + 1 - 24 * SPAN_DAYS[0]) * HOUR_US)
        return
    longest = _line(look, points, SPAN_DAYS[-1])
    if longest is not None and longest.slope > SURELY_FREE:
        return
    for span_days in SPAN_DAYS:
        line = _line(look, points, span_days)
        if (
            line is not None
            and is_blocked(line, span_days)
            and in_both_halves(points[: round((span_days - 1) * INDEPENDENT)])
        ):
            yield _case(look, line, span_days)
            return


def is_blocked(line: Line, span_days: int) -> bool:
    """Whether it goes with the barometer as a blocked vent does, too clearly for chance.

    >>> [is_blocked(Line(-1.1, error, 125), 28) for error in (0.25, 0.2)]
    [False, True]
    """
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
    free = look.standing.notes.get("vent.free", 0)
    own = _every(look, look.standing.hours, max(look.standing.since, free if isinstance(free, int) else 0))
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
        plane = _through(kept) if len(kept) >= 2 * INDEPENDENT else None
        if plane is None:
            return None
        rest = _rest(plane, kept)
        limit = TRIM * 1.4826 * middle([abs(off) for off in rest])
        fewer = [point for point, off in zip(kept, rest, strict=True) if -limit <= off <= limit]
        if len(fewer) == len(kept) or len(fewer) < KNOWN_SHARE * len(points):
            break
        kept = fewer
    assert plane is not None
    rest = _rest(plane, kept)
    free = max(1.0, len(kept) / INDEPENDENT - 3.0)
    error = math.sqrt(sum(map(mul, rest, rest)) / plane.spread / free)
    return Line(plane.air, max(error, 1e-6), len(kept))


def in_both_halves(points: Sequence[Point]) -> bool:
    """Whether it shows in each half of the days by itself, or may: a storm, or a wetting, comes once.

    >>> air = [n % 7 - 3.0 for n in range(80)]
    >>> in_both_halves([Point(one, n % 5 - 2.0, -one) for n, one in enumerate(air)])
    True
    >>> in_both_halves([Point(one, n % 5 - 2.0, -one if n < 40 else n % 3) for n, one in enumerate(air)])
    False
    """
    half = len(points) // 2
    lines = (fit([one for one in part if sum(one) == sum(one)]) for part in (points[:half], points[half:]))
    return all(line is None or (line.slope < FREE and not _denies(line)) for line in lines)


def _denies(line: Line) -> bool:
    """Whether it goes with the barometer by surely less than a blocked vent does."""
    return line.slope > BLOCKED + max(BLOCKED_WITHIN, DENIES * line.error)


class _Plane(NamedTuple):
    """Least squares: a constant, two slopes, and what the air's changes add of their own."""

    constant: float
    air: float
    beside: float
    spread: float


def _through(points: Sequence[Point]) -> _Plane | None:
    count = len(points)
    x, p, y = (list(values) for values in zip(*points, strict=True))
    x0, p0, y0 = sum(x) / count, sum(p) / count, sum(y) / count
    xx, xp, pp = _about(x, x, x0, x0), _about(x, p, x0, p0), _about(p, p, p0, p0)
    xy, py = _about(x, y, x0, y0), _about(p, y, p0, y0)
    least = 1e-9 * count
    spread = xx - xp * xp / pp if pp > least else xx
    if spread <= least:
        return None
    air = (xy - xp * py / pp if pp > least else xy) / spread
    beside = (py - air * xp) / pp if pp > least else 0.0
    return _Plane(y0 - air * x0 - beside * p0, air, beside, spread)


def _about(one: Sequence[float], other: Sequence[float], mean: float, other_mean: float) -> float:
    return float(sum(map(mul, one, other))) - len(one) * mean * other_mean


def _rest(plane: _Plane, points: Sequence[Point]) -> list[float]:
    """How far points lie above the plane."""
    constant, air, beside, _ = plane
    return [y - constant - air * x - beside * p for x, p, y in points]
