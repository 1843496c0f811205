"""A zero that sinks, seen beside a neighbour: two cups that move alike must also read nought alike.

One that reads more where its neighbour reads nought may stand in soil that water reaches less.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.lag import STEP_H, course
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, is_shallowest

EVERY_H = 96
NOTE, KEPT = "offset.seen", 14
"""Note: hour and offset of the last looks that told something, one after the other, the newest last."""

SPAN_H = 14 * 24
LIKE = 0.92
WET_SHARE, WET_KPA = 5, 3.0
"""A fifth of the hours, the wettest: there the neighbour must read nearly nought, so that nothing is drawn far out."""
GAIN = 3.0
"""One may move three times as far as the other; more is another soil."""
LEAST_KPA = 0.4

BELOW_KPA, MOVED_KPA = -3.2, 3.0
"""What calibration and two soils make, and what it must have moved."""
LOOKS, BEFORE, OLDEST = 3, 2, 8
WITHIN_H = 40 * 24
FAST_KPA_D, ROOM_KPA = 0.35, 2.0
"""No zero drifts faster: what came at once was a shift."""
MOST_SHARE = 0.6
RIGHT_KPA = 1.5
FRESH_H = 8 * 24


class Seen(NamedTuple):
    """What it reads too much where its neighbour reads nought."""

    hour: int
    kpa: float


def watch(look: Look) -> Iterator[Case | Over]:
    """Every four days compare it with the neighbours at its depth; only the shallowest dry and wet so alike."""
    if not is_shallowest(look) or look.has(FindingKind.LEVEL_SHIFT, FindingKind.SWAPPED):
        return
    offsets = [found for n in look.neighbours.level if look.trusts(n) and (found := _offset(look, n)) is not None]
    if not offsets:
        return
    least_kpa: float = min(offsets, key=abs)
    seen = [*_seen(look), Seen(look.hour, round(least_kpa, 1))][-KEPT:]
    look.standing.notes[NOTE] = flat(seen)
    if look.has(FindingKind.ZERO_DRIFT):
        if reads_right(look):
            yield Over(FindingKind.ZERO_DRIFT, look.now_us)
        return
    case = _judge(seen)
    if case is not None:
        yield case


def reads_right(look: Look) -> bool:
    """Whether the last two looks, the newest of them a fresh one, saw it read nought where a neighbour did."""
    seen = _seen(look)[-2:]
    fresh = len(seen) == 2 and look.hour - seen[-1].hour <= FRESH_H
    return fresh and all(abs(one.kpa) <= RIGHT_KPA for one in seen)


def _seen(look: Look) -> list[Seen]:
    return [Seen(int(hour), kpa) for hour, kpa in rows(look.standing.notes.get(NOTE), len(Seen._fields))]


def _offset(look: Look, near: Standing) -> float | None:
    """Where a neighbour's course leads when it reads nought; ``None``: they are not alike enough to tell."""
    if look.hour - SPAN_H < max(look.standing.since, near.since):
        return None
    own, theirs = course(look.standing, look.hour, SPAN_H), course(near, look.hour, SPAN_H)
    if own is None or theirs is None:
        return None
    count = SPAN_H // STEP_H
    mean, mean_theirs = sum(own) / count, sum(theirs) / count
    spread = sqrt(sum((value - mean) ** 2 for value in own) / count)
    spread_theirs = sqrt(sum((value - mean_theirs) ** 2 for value in theirs) / count)
    if min(spread, spread_theirs) < LEAST_KPA or not 1.0 / GAIN < spread / spread_theirs < GAIN:
        return None
    product = sum((a - mean) * (b - mean_theirs) for a, b in zip(own, theirs, strict=True)) / count
    wettest = sorted(range(count), key=lambda number: theirs[number])[: count // WET_SHARE]
    wet_kpa = middle([theirs[number] for number in wettest])
    if product < LIKE * spread * spread_theirs or wet_kpa > WET_KPA:
        return None
    return middle([own[number] for number in wettest]) - spread / spread_theirs * wet_kpa


def _judge(seen: Sequence[Seen]) -> Case | None:
    """Judge the last looks by those before."""
    last, before = seen[-LOOKS:], seen[:-LOOKS]
    if len(before) < BEFORE or last[-1].hour - last[0].hour > WITHIN_H:
        return None
    usual_kpa = middle([one.kpa for one in before[:OLDEST]])
    below = all(one.kpa <= BELOW_KPA and one.kpa - usual_kpa <= -MOVED_KPA for one in last)
    if abs(usual_kpa) > MOVED_KPA or not below:
        return None
    if _came_at_once(seen):
        return None
    facts = (
        Fact("reads beside a neighbour at nought", last[-1].kpa, "kPa"),
        Fact("used to read there", usual_kpa, "kPa"),
        Fact("for", (last[-1].hour - last[0].hour) / 24.0, "days"),
    )
    return Case(FindingKind.ZERO_DRIFT, before[-1].hour * HOUR_US, 0.8, facts)


def _came_at_once(seen: Sequence[Seen]) -> bool:
    """Whether the largest change between two looks is more than a zero drifts: then water or a shift is behind it."""
    steps = [(late.kpa - early.kpa, (late.hour - early.hour) / 24.0) for early, late in pairwise(seen)]
    size_kpa, days = max(steps, key=lambda step: abs(step[0]))
    whole_kpa = abs(seen[-1].kpa - seen[0].kpa)
    return abs(size_kpa) >= max(MOVED_KPA, FAST_KPA_D * days + ROOM_KPA, MOST_SHARE * whole_kpa)
