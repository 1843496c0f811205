"""A wrong unit told by neighbours: what it reads, and how it moves, is what they do times a factor."""

import math
from collections.abc import Sequence

from parchd.diagnosis.factors import BESIDE_NEIGHBOURS, PSI_KPA, factor_of, total_change
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, NAN, hour_of, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import days, middle, scatter
from parchd.diagnosis.verdict import Case, Look, median, since

SPAN_DAYS, KNOWN_SHARE = 16, 0.625
LEAST_PEER_KPA, LEAST_SWING_KPA = 4.0, 3.0
LEAST_CORRELATION = 0.8
SIDED = 0.5
"""On the logarithmic scale it lies nearer to the factor than to the rest of the zone."""
LATELY_H, APART_LOG = 12, SIDED * math.log(PSI_KPA)
"""Halfway to the least factor between units that are mixed up."""
EVEN_LOG, FACTOR_LOG, SWING_LOG = 0.15, 0.2, 0.35
"""Scatter of the ratio over the days; distance of levels, and of swings, from a factor: natural logarithms."""
BELOW_DAYS, BELOW_KNOWN, FREE_KPA = 8, 6, -1.0
"""What reads less than free water all the time has some error: that it moves in proportion tells which sooner."""
EMPTY = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP)
HOLDS_KPA = 1.5
"""A tube that is empty, or nearly so, holds less."""
BELOW_LOG, MOST_SWING = 0.45, 0.4
"""Then soils may differ by more; no zero that is off makes it move so much less than its neighbours do."""


def in_proportion(look: Look) -> Case | None:
    """Levels and swings that are those of the neighbours times a factor, day after day."""
    own, both = _vacuum_days(look, look.standing, SPAN_DAYS), pairs(look, SPAN_DAYS)
    if len(both) < KNOWN_SHARE * SPAN_DAYS or len(both) < 0.8 * len(known(own)):
        return None
    logs = [math.log(x / y) for x, y in both]
    factor = factor_of(math.exp(middle(logs)), FACTOR_LOG)
    if factor is None or scatter(logs) > EVEN_LOG or not _off_from_others(look, own, math.log(factor)):
        return None
    swing = swing_share(both)
    if not swing or abs(math.log(swing / factor)) > SWING_LOG or _together(both) < LEAST_CORRELATION:
        return None
    return _case(look, SPAN_DAYS, both)


def below_water(look: Look) -> Case | None:
    """It reads less than free water, and moves as its neighbours do, but by a fraction: no zero that is off does."""
    own, both = _vacuum_days(look, look.standing, BELOW_DAYS), pairs(look, BELOW_DAYS)
    days_kpa = known(own)
    if len(both) < BELOW_KNOWN or len(both) < len(days_kpa) or look.has(*EMPTY) or middle(days_kpa) < HOLDS_KPA:
        return None
    if _has_long_been_off(look) or max(days_kpa) - look.instrument.head_kpa > FREE_KPA:
        return None
    level_log, swing = middle([math.log(x / y) for x, y in both]), swing_share(both)
    factor = factor_of(math.exp(level_log), BELOW_LOG)
    if factor is None or factor > MOST_SWING or not _off_from_others(look, own, math.log(factor)):
        return None
    if not 0.0 < swing <= MOST_SWING or abs(math.log(swing) - level_log) > SWING_LOG or not _goes_with_any(look, own):
        return None
    return _case(look, BELOW_DAYS, both)


def _has_long_been_off(look: Look) -> bool:
    """Whether its level shifted weeks ago: a unit taken for a shift is told before, and soil may keep still."""
    found = look.state.findings.get(FindingKey(FindingKind.LEVEL_SHIFT, look.instrument.subject))
    return found is not None and look.hour - hour_of(found.start_us) > 24 * SPAN_DAYS


def swing_share(both: Sequence[tuple[float, float]]) -> float:
    """How much it changes from day to day in terms of what its neighbours do; 0: they hardly do."""
    mine, theirs = zip(*both, strict=True)
    others = total_change(theirs)
    return total_change(mine) / others if others >= LEAST_SWING_KPA else 0.0


def _goes_with_any(look: Look, own: Sequence[float]) -> bool:
    """Whether it moves from day to day as some neighbour of its zone does."""
    beside = (_vacuum_days(look, one, len(own)) for one in look.neighbours.zone if look.trusts(one))
    both = ([(x, y) for x, y in zip(own, theirs, strict=True) if x == x and y == y] for theirs in beside)
    return any(len(one) >= BELOW_KNOWN and _together(one) >= LEAST_CORRELATION for one in both)


def _case(look: Look, span_days: int, both: Sequence[tuple[float, float]]) -> Case:
    facts = (
        Fact(BESIDE_NEIGHBOURS, math.exp(middle([math.log(x / y) for x, y in both]))),
        Fact("their changes from day to day, times", swing_share(both)),
        Fact("for", float(len(both)), "days"),
    )
    return Case(FindingKind.WRONG_UNIT, begin_of(look, 24 * span_days) * HOUR_US, 0.85, facts)


def begin_of(look: Look, hours: int) -> int:
    """The first hour that was looked at."""
    return max(look.hour - hours + 1, look.standing.hours.begin, look.standing.since)


def _peers(look: Look) -> Sequence[Standing]:
    return look.neighbours.level or look.neighbours.zone


def pairs(look: Look, span_days: int) -> list[tuple[float, float]]:
    """Its vacuum and the neighbours', day by day, where both tell something."""
    own, beside = _vacuum_days(look, look.standing, span_days), _median_days(look, _peers(look), span_days)
    return [(x, y) for x, y in zip(own, beside, strict=True) if y > LEAST_PEER_KPA and x > 0.0]


def _off_from_others(look: Look, own: Sequence[float], factor_log: float) -> bool:
    """Whether the others of the zone side with the neighbours: one of the two is wrong, and it may be the other."""
    names = {one.instrument.name for one in _peers(look)}
    others = [one for one in look.neighbours.zone if one.instrument.name not in names]
    beside = _median_days(look, others or look.neighbours.source, len(own))
    logs = [math.log(x / y) for x, y in zip(own, beside, strict=True) if x > 0.0 and y > 0.0]
    return len(logs) >= KNOWN_SHARE * len(own) and middle(logs) / factor_log > SIDED


def _vacuum_days(look: Look, standing: Standing, span_days: int) -> list[float]:
    """Vacuum at the transducer, day by day: what a factor works on."""
    first = look.hour + 1 - 24 * span_days
    hours = since(standing.hours.column("mean_kpa", first, look.hour + 1), first, standing.since)
    return [value + standing.instrument.head_kpa for value in days(hours)]


def _median_days(look: Look, of: Sequence[Standing], span_days: int) -> list[float]:
    columns = [_vacuum_days(look, one, span_days) for one in of if look.trusts(one)]
    return [median(values) for values in zip(*columns, strict=True)] if columns else [NAN] * span_days


def _together(both: Sequence[tuple[float, float]]) -> float:
    """Correlation of two series."""
    own, peers = zip(*both, strict=True)
    mean_x, mean_y = sum(own) / len(own), sum(peers) / len(peers)
    xy = sum((x - mean_x) * (y - mean_y) for x, y in both)
    xx, yy = sum((x - mean_x) ** 2 for x in own), sum((y - mean_y) ** 2 for y in peers)
    return xy / math.sqrt(xx * yy) if xx > 0.0 and yy > 0.0 else 0.0


def is_apart(look: Look) -> bool:
    """Whether it read a multiple, or a fraction, of what its neighbours did in the last hours."""
    own = _vacuums(look, look.standing)
    columns = [_vacuums(look, one) for one in _peers(look) if look.trusts(one)]
    pairs = zip(own, map(median, zip(*columns, strict=True)), strict=False)
    logs = [math.log(x / y) for x, y in pairs if x > 0.0 and y > LEAST_PEER_KPA]
    return bool(logs) and abs(middle(logs)) >= APART_LOG


def _vacuums(look: Look, standing: Standing) -> list[float]:
    hours = standing.hours.column("mean_kpa", look.hour + 1 - LATELY_H, look.hour + 1)
    return [value + standing.instrument.head_kpa for value in hours]
