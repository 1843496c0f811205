"""Slow response: when water comes it takes ever longer to fall.

How far it trails a neighbour then is measured here as well, and weighed together with how it comes apart from it.
"""

from collections.abc import Callable, Iterator, Sequence

from parchd.diagnosis.clip_days import is_only_off
from parchd.diagnosis.falls_seen import BESIDE_H, Seen, remember
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trails import Trail, follow, told, trails
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, is_shallowest
from parchd.diagnosis.wane import typical

SLOW_H = 10.0
"""A sound cup follows within an hour or two; a wetting front takes some hours more to pass."""
OWN, OTHERS = 3.0, 2.4
"""How many times its own best, and its neighbours' time in the same wetting."""
PLAIN_H, PLAIN, PLAIN_OWN = 12.0, 3.0, 3.0
TWICE, ALONE = 3, 4
"""Slow falls in a row: beside neighbours that were quick, and where none can be trusted; more further down, where water
dawdles."""
BESIDE_TIMES, ALONE_TIMES, USUAL = ((3, 2.5), (2, 4.0)), ((4, 2.0), (3, 3.0)), 3
"""Falls in a row, and how many times slower each was than falls used to be: as many times as its neighbours took in the
same wetting, once so many have told what is usual; or as its own best, where none of them can be trusted."""
AS_DRY = 0.5
"""There, too: ground is about as dry after a fall that ended at so much of what these did, or above."""
AS_SLOW, SELDOM = 0.8, 0.25
"""Where none of them can be trusted so many of the falls before may have been about as slow."""
FAST_H, SOUND_OWN = 5.0, 1.6
AGAIN = 3
"""After so many wettings in which it did not trail its neighbours it is over."""


def watch(look: Look) -> Iterator[Case | Over]:
    """Measure a wetting once it is over, and compare it with those before and with the neighbours'."""
    seen = remember(look)
    wetted = follow(look) if is_shallowest(look) else None
    if look.has(FindingKind.SLOW_RESPONSE):
        if _is_over(look, seen, wetted):
            yield Over(FindingKind.SLOW_RESPONSE, look.now_us)
        return
    if look.has(FindingKind.LOST_WATER, FindingKind.POOR_CONTACT, FindingKind.AIR_LEAK):
        return  # What its neighbours tell weighs more, and counts its wettings as well.
    if seen is not None:
        alone = not any(look.trusts(near) or is_only_off(look, near) for near in look.neighbours.level)
        case = _judge(seen, shallowest=is_shallowest(look), alone=alone)
        if case is not None:
            yield case


def _is_over(look: Look, seen: list[Seen] | None, wetted: list[Trail] | None) -> bool:
    """Whether it followed the last wettings as neighbours did; without neighbours, as fast as ever."""
    if wetted is not None:
        last = told(wetted)[-AGAIN:]
        return len(last) == AGAIN and max(last) < 0.0
    return seen is not None and not trails(look) and _is_sound(seen)


def _judge(seen: list[Seen], *, shallowest: bool, alone: bool) -> Case | None:
    """Judge the newest falls by the ones before, and by the neighbours.

    Args:
        alone: no neighbour at its depth can be trusted. Where one did not fall, no front of water came, and what fell
            slowly followed cooler days, or water that found its way from elsewhere.
    """
    slow = _slow(seen, shallowest=shallowest, alone=alone) or (slowed(seen, alone=alone) if shallowest else [])
    if not slow:
        return None
    own_h, last = typical([fall.relax_h for fall in seen[: seen.index(slow[0])]]), seen[-1]
    beside = any(fall.others_h > 0.0 for fall in slow)
    facts = [
        Fact("fell towards wet soil with a time constant of", last.relax_h, "h"),
        Fact("slow falls one after the other", len(slow)),
        Fact("the last one from", last.begin * HOUR_US, "time"),
    ]
    if own_h == own_h:
        facts.insert(1, Fact("at its best before", own_h, "h"))
    if last.others_h > 0.0:
        facts.insert(1, Fact("neighbours at its depth", last.others_h, "h"))
    return Case(FindingKind.SLOW_RESPONSE, slow[0].begin * HOUR_US, 0.9 if beside else 0.7, tuple(facts))


def _slow(seen: list[Seen], *, shallowest: bool, alone: bool) -> list[Seen]:
    """The last falls if they are slow ones, and enough."""
    slow = _last_slow(seen)
    if not slow or slow[-1] is not seen[-1]:
        return []
    own_h = typical([fall.relax_h for fall in seen[: seen.index(slow[0])]])
    beside = [fall for fall in slow if fall.others_h > 0.0]
    has_own = own_h == own_h
    if has_own and shallowest:
        enough = len(beside) >= TWICE
    else:
        plain = [one for one in slow if one.relax_h >= max(PLAIN_H, PLAIN_OWN * own_h)]
        quick = [one for one in plain if 0.0 < PLAIN * one.others_h <= one.relax_h]
        enough = len(beside) >= ALONE or (has_own and ((alone and len(plain) >= ALONE) or len(quick) >= TWICE))
    return slow if enough else []


def slowed(seen: list[Seen], *, alone: bool) -> list[Seen]:
    """The last falls if they are far slower than falls used to be here; what was slow everywhere tells nothing."""
    if seen[-1].others_h > 0.0:
        telling = _one_each([fall for fall in seen if fall.others_h > 0.0])
        slow = _last_slower(telling, [fall.relax_h / fall.others_h for fall in telling], _usual, BESIDE_TIMES)
    elif alone:
        telling = [fall for fall in seen if not SLOW_H <= fall.relax_h < OTHERS * fall.others_h]
        slow = _last_slower(telling, [fall.relax_h for fall in telling], typical, ALONE_TIMES)
        slow = slow if _is_slow_for_so_dry(telling, slow) else []
    else:
        return []
    return slow if slow and _was_seldom_as_slow(seen[: seen.index(slow[0])], slow) else []


def _was_seldom_as_slow(before: Sequence[Seen], slow: Sequence[Seen]) -> bool:
    """Whether falls used to be quicker: some grounds take water slowly now and then."""
    least_h = AS_SLOW * min(fall.relax_h for fall in slow)
    return sum(fall.relax_h >= least_h for fall in before) <= SELDOM * len(before)


def _one_each(falls: Sequence[Seen]) -> list[Seen]:
    """Take one fall beside each fall of the neighbours: one water tells once what is usual."""
    return [
        fall for before, fall in zip([None, *falls], falls, strict=False) if before is None or not _same(before, fall)
    ]


def _same(before: Seen, fall: Seen) -> bool:
    theirs = (before.others_h, before.others_floor_kpa) == (fall.others_h, fall.others_floor_kpa)
    return theirs and fall.begin - before.begin < 2 * BESIDE_H


def _is_slow_for_so_dry(falls: Sequence[Seen], slow: Sequence[Seen]) -> bool:
    """Whether falls before that left the ground about as dry were quicker by far; true where there were none.

    Water that stops short of filling the ground comes slowly in any.
    """
    if not slow:
        return False
    least_kpa = AS_DRY * min(fall.floor_kpa for fall in slow)
    before = falls[: falls.index(slow[0])]
    usual_h = typical([fall.relax_h for fall in before if fall.floor_kpa >= least_kpa])
    least_times = min(times for _, times in ALONE_TIMES)
    return not min(fall.relax_h for fall in slow) < least_times * usual_h


def _usual(times: Sequence[float]) -> float:
    return middle(times) if len(times) >= USUAL else NAN


def _last_slower(
    falls: list[Seen],
    took: Sequence[float],
    usual: Callable[[Sequence[float]], float],
    enough: Sequence[tuple[int, float]],
) -> list[Seen]:
    """The last falls that are slow, and took so many times what was usual before them; none: they did not."""
    for count, times in enough:
        least = times * usual(took[:-count])
        if all(fall.relax_h >= SLOW_H for fall in falls[-count:]) and min(took[-count:]) >= least:
            return falls[-count:]
    return []


def _last_slow(seen: list[Seen]) -> list[Seen]:
    """The slow ones of the last falls, back to the last that was not; those that were slow everywhere tell nothing."""
    slow: list[Seen] = []
    for number in range(len(seen) - 1, -1, -1):
        fall = seen[number]
        own_h = typical([one.relax_h for one in seen[:number]])
        by_own = fall.relax_h >= OWN * own_h if own_h == own_h else fall.others_h > 0.0
        if fall.relax_h < SLOW_H or not by_own:
            break
        if fall.relax_h >= OTHERS * fall.others_h:
            slow.insert(0, fall)
    return slow


def _is_sound(seen: list[Seen]) -> bool:
    """Whether the last falls were as fast as ever."""
    own_h = typical([fall.relax_h for fall in seen[:-TWICE]]) if len(seen) > TWICE else NAN
    return len(seen) > TWICE and all(
        fall.relax_h <= max(SOUND_OWN * own_h if own_h == own_h else 0.0, FAST_H) for fall in seen[-TWICE:]
    )
