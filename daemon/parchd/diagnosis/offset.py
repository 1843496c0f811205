"""A zero that is right, seen beside a neighbour: two cups that move alike must also read nought alike.

One that does not may stand in other soil.
"""

from collections.abc import Iterator
from math import sqrt
from typing import NamedTuple

from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.lag import STEP_H, course
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look, Over, is_shallowest

EVERY_H = 96
NOTE, KEPT = "offset.seen", 2
"""Note: hour and offset of the last looks that told something, one after the other, the newest last."""

SPAN_H = 14 * 24
LIKE = 0.92
WET_SHARE, WET_KPA = 5, 3.0
"""A fifth of the hours, the wettest: there the neighbour must read nearly nought, so that nothing is drawn far out."""
GAIN = 3.0
"""One may move three times as far as the other; more is another soil."""
LEAST_KPA = 0.4

RIGHT_KPA = 1.5
FRESH_H = 8 * 24


class Seen(NamedTuple):
    """What it reads too much where its neighbour reads nought."""

    hour: int
    kpa: float


def watch(look: Look) -> Iterator[Over]:
    """Every four days compare it with the neighbours at its depth; only the shallowest dry and wet so alike."""
    if not is_shallowest(look) or look.has(FindingKind.LEVEL_SHIFT, FindingKind.SWAPPED):
        return
    offsets = [found for n in look.neighbours.level if look.trusts(n) and (found := _offset(look, n)) is not None]
    if not offsets:
        return
    least_kpa: float = min(offsets, key=abs)
    look.standing.notes[NOTE] = flat([*_seen(look), Seen(look.hour, round(least_kpa, 1))][-KEPT:])
    if look.has(FindingKind.ZERO_DRIFT) and reads_right(look):
        yield Over(FindingKind.ZERO_DRIFT, look.now_us)


def reads_right(look: Look) -> bool:
    """Whether the last two looks, the newest of them a fresh one, saw it read nought where a neighbour did."""
    seen = _seen(look)
    fresh = len(seen) == KEPT and look.hour - seen[-1].hour <= FRESH_H
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
