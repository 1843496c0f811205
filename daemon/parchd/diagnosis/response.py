"""Slow response: when water comes it takes ever longer to fall.

How far it trails a neighbour then is measured here as well, and weighed together with how it comes apart from it.
"""

from collections.abc import Iterator

from parchd.diagnosis.falls_seen import NOBODY, Seen, remember
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trails import Trail, follow, told, trails
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
LATER, BEFORE = ((2, 1.8), (3, 1.5)), 5
"""Falls in a row, and how many times longer each took than all but one of so many and more before them."""
WHOLE_KPA, WHOLE_SHARE = 4.0, 0.5
"""There only falls count that are so large, and a share of what there was: water that stops short comes slowly in any
ground."""
DAWDLED_H, ALL_DAWDLED = 8.0, 2.0
"""There, too: what took so long tells nothing where it took neighbours more than half of that, or they did not fall."""
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
        case = _judge(seen, shallowest=is_shallowest(look))
        if case is not None:
            yield case


def _is_over(look: Look, seen: list[Seen] | None, wetted: list[Trail] | None) -> bool:
    """Whether it followed the last wettings as neighbours did; without neighbours, as fast as ever."""
    if wetted is not None:
        last = told(wetted)[-AGAIN:]
        return len(last) == AGAIN and max(last) < 0.0
    return seen is not None and not trails(look) and _is_sound(seen)


def _judge(seen: list[Seen], *, shallowest: bool) -> Case | None:
    """Judge the newest falls by the ones before, and by the neighbours.

    Where a neighbour at its depth did not fall, no front of water came, and what fell slowly followed cooler days, or
    water that found its way from elsewhere.
    """
    slow = _slow(seen, shallowest=shallowest) or (slowed(seen) if shallowest else [])
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


def _slow(seen: list[Seen], *, shallowest: bool) -> list[Seen]:
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
        alone = seen[-1].others_h == NOBODY
        quick = [one for one in plain if 0.0 < PLAIN * one.others_h <= one.relax_h]
        enough = len(beside) >= ALONE or (has_own and ((alone and len(plain) >= ALONE) or len(quick) >= TWICE))
    return slow if enough else []


def slowed(seen: list[Seen]) -> list[Seen]:
    """The last falls if each took longer by far than falls used to take here, all but one of them."""
    telling = [fall for fall in seen if _tells(fall)]
    if telling[-1:] != seen[-1:]:
        return []
    for count, times in LATER:
        before, slow = sorted(fall.relax_h for fall in telling[:-count]), telling[-count:]
        if len(before) >= BEFORE and min(fall.relax_h for fall in slow) >= max(SLOW_H, times * before[-2]):
            return slow
    return []


def _tells(fall: Seen) -> bool:
    """Whether it came down all the way, and where that took long no ground around explains it."""
    if fall.top_kpa - fall.floor_kpa < max(WHOLE_KPA, WHOLE_SHARE * fall.top_kpa):
        return False
    if fall.relax_h < DAWDLED_H or fall.others_h == NOBODY:
        return True
    return 0.0 < ALL_DAWDLED * fall.others_h <= fall.relax_h


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
