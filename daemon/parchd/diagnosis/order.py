"""Two depths of one station that are exchanged: each moves as the neighbours at the other's depth do."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import sqrt

from parchd.contract import Flag
from parchd.diagnosis import frost
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.front import comes_from_below
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look

EVERY_H = 24
TIMES, PARTNER = "order.times", "order.with"
"""Notes: how many looks in a row have found it, and with whom."""

SPAN_H, STEP_H = 14 * 24, 6
KNOWN = 0.8
LEAST_KPA = 0.05
"""Changes over six hours; less than this tells nothing."""
CROSSED, LIKE = 0.3, 1.2
"""By how much the two correlations crosswise must exceed the two straight ones, and what they must reach together."""
LOOKS = 3
LEAST_HEADS_KPA, HEADS_SHARE = 1.0, 0.8
"""Exchanged, each is corrected for the other's water: in wet soil their gap grows by twice the difference."""
SAME_DEPTH_M = 0.12
SHAKEN = frozenset({FindingKind.NOISY_SUPPLY})
TOLD_H = 48


def watch(look: Look) -> Iterator[Case]:
    """Once a day compare two weeks of both depths with two weeks of the neighbours at both depths."""
    notes = look.standing.notes
    if _is_condemned(look, look.standing) or _is_shaken(look) or frost.was_cold(look, SPAN_H):
        notes.pop(TIMES, None)
        return
    told = _told(look)
    if told is not None:
        yield told
        return
    likest = max(((_crossed(look, other), other) for other in look.neighbours.station), key=_first, default=None)
    if likest is None or not likest[0] >= CROSSED:
        notes.pop(TIMES, None)
        return
    more, other = likest
    times = notes.get(TIMES)
    count = times + 1 if isinstance(times, int) and notes.get(PARTNER) == other.instrument.name else 1
    notes[TIMES], notes[PARTNER] = count, other.instrument.name
    if count >= LOOKS:
        yield _case(look, other, more, count)


def _is_condemned(look: Look, standing: Standing) -> bool:
    """Whether its readings are none of the soil, whichever depth they come from; or whether it is known already."""
    kinds = look.state.findings.of(standing.instrument.subject)
    return any(kind is FindingKind.SWAPPED or CONSEQUENCES[kind].flag is Flag.FAIL for kind in kinds)


def _is_shaken(look: Look) -> bool:
    """Whether its source moves all of them together, whatever the soil does."""
    return not look.state.findings.of(f"source/{look.instrument.source}").isdisjoint(SHAKEN)


def _told(look: Look) -> Case | None:
    """The other half of what has been found of another of the station."""
    for other in look.neighbours.station:
        found = look.state.findings.get(FindingKey(FindingKind.SWAPPED, other.instrument.subject))
        news = found is not None and look.now_us - found.found_us <= TOLD_H * HOUR_US
        if found is not None and news and look.instrument.name in found.others:
            facts = (Fact("exchanged with", other.instrument.name),)
            return Case(FindingKind.SWAPPED, found.start_us, found.confidence, facts, (other.instrument.name,))
    return None


def _first(pair: tuple[float, Standing]) -> float:
    return pair[0]


def _crossed(look: Look, other: Standing) -> float:
    """By how much the two are more like the neighbours of the other's depth; minus infinity: not, or not known."""
    if abs(_depth(other) - _depth(look.standing)) <= SAME_DEPTH_M or _is_condemned(look, other):
        return float("-inf")
    beside, across = _beside(look, look.standing), _beside(look, other)
    if beside is None or across is None:
        return float("-inf")
    first = max(one.since for one in (look.standing, other, beside, across))
    if look.hour - SPAN_H < first:
        return float("-inf")
    own, theirs, near, far = (_changes(one, look.hour) for one in (look.standing, other, beside, across))
    one_way = _likeness(own, far)
    crosswise = one_way + _likeness(theirs, near) if one_way > LIKE - 1.01 else NAN
    straight = _likeness(own, near) + _likeness(theirs, far) if crosswise >= LIKE else NAN
    if straight != straight:
        return float("-inf")
    upper_first = _depth(other) > _depth(look.standing)
    pair, pair_there = (look.standing, other), (beside, across)
    here, there = (own, theirs), (near, far)
    if not upper_first:
        pair, pair_there, here, there = pair[::-1], pair_there[::-1], here[::-1], there[::-1]
    wrong = _restless(here) < _restless(there) and _is_wrong(pair, pair_there, look.hour)
    return crosswise - straight if wrong else float("-inf")


def _is_wrong(pair: tuple[Standing, Standing], pair_there: tuple[Standing, Standing], hour: int) -> bool:
    """Whether this station is the wrong one: its gap in wet soil is too large, and water comes from below."""
    heads_kpa = pair[1].instrument.head_kpa - pair[0].instrument.head_kpa
    if heads_kpa >= LEAST_HEADS_KPA and _gap(pair, hour) - _gap(pair_there, hour) < HEADS_SHARE * heads_kpa:
        return False
    return comes_from_below(*pair, pair_there[0], hour - SPAN_H)


def _gap(station: tuple[Standing, Standing], hour: int) -> float:
    """How much more the upper one reads than the lower one when each is at its wettest."""
    lows = [sorted(known(one.hours.column("mean_kpa", hour - SPAN_H, hour + 1))) for one in station]
    upper, lower = (low[len(low) // 10] if low else NAN for low in lows)
    return upper - lower


def _restless(station: tuple[Sequence[float], Sequence[float]]) -> float:
    """How much more the upper one moves than the lower one: it tells which of two stations is the wrong one."""
    upper, lower = (sum(change * change for change in known(changes)) for changes in station)
    return upper / max(lower, 1e-9)


def _depth(standing: Standing) -> float:
    return standing.instrument.place.depth_m


def _beside(look: Look, of: Standing) -> Standing | None:
    """A trusted neighbour at the depth of one of the two, at another station."""
    station = of.instrument.place.station
    for one in look.neighbours.zone:
        place = one.instrument.place
        if place.station != station and abs(place.depth_m - _depth(of)) <= SAME_DEPTH_M and look.trusts(one):
            return one
    return None


def _changes(standing: Standing, hour: int) -> list[float]:
    """Changes over six hours; what somebody's hand did for an hour does not show."""
    high = standing.hours.column("mean_kpa", hour - SPAN_H, hour + 1)
    if sum(high) == sum(high):
        marks = [high[0], *map(max, high[STEP_H - 2 :: STEP_H], high[STEP_H - 1 :: STEP_H], high[STEP_H::STEP_H])]
    else:
        marks = [max(known(high[max(0, at - 2) : at + 1]), default=NAN) for at in range(0, len(high), STEP_H)]
    return [late - early for early, late in pairwise(marks)]


def _likeness(one: Sequence[float], other: Sequence[float]) -> float:
    """Correlation of what both know; NaN: too little is known, or nothing moves."""
    pairs = [(a, b) for a, b in zip(one, other, strict=True) if a == a and b == b]
    count = len(pairs)
    if count < KNOWN * len(one):
        return NAN
    mean_a, mean_b = sum(a for a, _ in pairs) / count, sum(b for _, b in pairs) / count
    square_a, square_b = sum((a - mean_a) ** 2 for a, _ in pairs), sum((b - mean_b) ** 2 for _, b in pairs)
    if min(square_a, square_b) < count * LEAST_KPA**2:
        return NAN
    return sum((a - mean_a) * (b - mean_b) for a, b in pairs) / sqrt(square_a * square_b)


def _case(look: Look, other: Standing, more: float, count: int) -> Case:
    facts = (
        Fact("moves as the neighbours do that stand as deep as", other.instrument.name),
        Fact("correlation gained by exchanging the two", more / 2.0),
        Fact("within", SPAN_H / 24.0, "days"),
    )
    start = look.hour - SPAN_H // 2 - EVERY_H * count
    return Case(FindingKind.SWAPPED, start * HOUR_US, 0.85, facts, (other.instrument.name,))
