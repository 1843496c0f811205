"""Poor contact: while the soil dries the cup follows only in part, and after water it is right at once."""

from collections.abc import Iterator, Sequence

from parchd.diagnosis.drying import Cycle, cycles, follow, now_going
from parchd.diagnosis.falls_seen import seen_falls
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, is_shallowest

EVERY_H = 24
BASE = "contact.share"
"""Note: share of the neighbours' drying that it followed before."""

WET_KPA = 13.0
"""A cycle that begins below it began with water at the cup: then the gap was closed."""
LEAST_BASE = 0.6
"""It has shown that it can follow."""
TWICE_SHARE, TWICE_MOST = 0.55, 0.65
DEEP_SHARE, DEEP_MOST, DEEP_CYCLES = 0.5, 0.6, 4
"""Cycles in a row; deeper down water that reached one station and not the other does much the same."""
ONCE, ONCE_GROWTH, ONCE_DAYS, ONCE_FROM_KPA = 0.28, 0.45, 4, 9.0
"""One cycle tells, if it began wet and went far."""
DRY_SHARE, DRY_CYCLES, DRY_GROWTH = 0.4, 3, 0.4
"""Cycles in a row that began dry, or anyhow: the gap never closed."""
SLOW_H = 8.0
AGAIN_SHARE = 0.85
_EXPLAINED = FindingKind.SLOW_RESPONSE, FindingKind.LOST_WATER, FindingKind.AIR_LEAK


def watch(look: Look) -> Iterator[Case | Over]:
    """Follow how it dries, and judge the last cycles by those before."""
    follow(look)
    going = now_going(look)
    seen = [*cycles(look), *([going] if going is not None and going.tells else [])]
    if look.has(FindingKind.POOR_CONTACT):
        if _follows_again(look, seen):
            yield Over(FindingKind.POOR_CONTACT, look.now_us)
        return
    if not seen or seen[-1].hour != look.hour or look.has(*_EXPLAINED) or _falls_slowly(look):
        return
    poor = _poor(seen, shallowest=is_shallowest(look))
    if poor:
        before = middle([one.share for one in seen[: len(seen) - len(poor)]])
        look.standing.notes[BASE] = round(before, 2)
        yield _case(poor, before)


def _falls_slowly(look: Look) -> bool:
    last = seen_falls(look)[-2:]
    return bool(last) and all(fall.relax_h >= SLOW_H for fall in last)


def _poor(seen: Sequence[Cycle], *, shallowest: bool) -> list[Cycle]:
    """The last cycles if they tell of poor contact; none: they do not."""
    share, most, need = (TWICE_SHARE, TWICE_MOST, 2) if shallowest else (DEEP_SHARE, DEEP_MOST, DEEP_CYCLES)
    wet = [number for number, one in enumerate(seen) if one.from_kpa <= WET_KPA]
    if len(wet) >= need and wet[-1] == len(seen) - 1:
        last = [seen[number] for number in wet[-need:]]
        base = _base(seen[: wet[-need]])
        if all(one.share <= min(share * base, most) for one in last):
            return list(seen[wet[-need] :])
    if not shallowest:
        return []
    base = _base(seen[:-1])
    now = seen[-1]
    far = now.theirs >= ONCE_GROWTH and now.days >= ONCE_DAYS and now.from_kpa <= ONCE_FROM_KPA
    if far and now.share <= ONCE * min(base, 1.0):
        return [now]
    last = [one for one in seen if one.theirs >= DRY_GROWTH][-DRY_CYCLES:]
    base = _base([one for one in seen if one.hour < last[0].hour]) if len(last) == DRY_CYCLES else 0.0
    return last if base and all(one.share <= DRY_SHARE * min(base, 1.0) for one in last) else []


def _base(before: Sequence[Cycle]) -> float:
    """What it followed before; 0: it never did, or that is not known."""
    base = middle([one.share for one in before]) if before else 0.0
    return base if base >= LEAST_BASE else 0.0


def _follows_again(look: Look, seen: Sequence[Cycle]) -> bool:
    base = look.standing.notes.get(BASE)
    last = seen[-2:]
    return isinstance(base, int | float) and len(last) == 2 and all(one.share >= AGAIN_SHARE * base for one in last)


def _case(poor: Sequence[Cycle], before: float) -> Case:
    facts = (
        Fact("followed its neighbours' drying by", 100.0 * middle([one.share for one in poor]), "%"),
        Fact("before that by", 100.0 * before, "%"),
        Fact("from water to water, times", len(poor)),
        Fact("began at", poor[-1].from_kpa, "kPa"),
    )
    start = poor[0].hour - 24 * poor[0].days
    return Case(FindingKind.POOR_CONTACT, start * HOUR_US, 0.8 if len(poor) > 1 else 0.7, facts)
