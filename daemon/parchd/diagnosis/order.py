"""Two depths of one station that are exchanged: beside another station each does what the other depth does there.

Every four days the last ten days are weighed, and what that gives is added up: once is seldom enough.
"""

from collections.abc import Iterator
from typing import NamedTuple

from parchd.contract import Flag
from parchd.diagnosis import frost
from parchd.diagnosis.apart import weight_lately
from parchd.diagnosis.findings import Fact, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.diagnosis.order_signs import Pair, Signs, odds, signs
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look

EVERY_H = 24
NEWEST, SUM = "order.hour", "order.sum"
"""Notes of the upper one: the hour of the newest weighing; and, by the lower one's name, what they add up to."""

SPAN_H, STEP_H = 10 * 24, 4 * 24
MOST, ENOUGH, ENOUGH_OF_SLOW = 5.0, 10.0, 15.0
"""How far one weighing can move the sum, and what this must reach; below nothing the sum does not go. More where a
clogged cup is thought of, which comes to look like a deep one; and then nothing counts while one of the two keeps
nearer to its own depth."""
SLOW_H, PLAINLY_SLOW = 28 * 24, 12.0
"""What has been held for a clogged cup for so long is one: an exchange would have shown itself by then. So is what a
clogged cup explains so much better than any sound one: natural logarithm; an exchange looks half as much like it."""
SAME_DEPTH_M = 0.12
SHAKEN = frozenset({FindingKind.NOISY_SUPPLY})
TOLD_H = 48


class Sum(NamedTuple):
    """What the weighings add up to, and the hour of the first of them."""

    total: float
    since: int


def watch(look: Look) -> Iterator[Case]:
    """Every four days weigh it and those below it; tell what was found of those above it."""
    if _is_condemned(look, look.standing):
        return
    told = _told(look)
    if told is not None:
        yield told
    elif _is_time(look):
        yield from _weigh(look)


def _is_condemned(look: Look, standing: Standing) -> bool:
    """Whether its readings are none of the soil, whichever depth they come from; or whether it is known already."""
    kinds = look.state.findings.of(standing.instrument.subject)
    return any(kind is FindingKind.SWAPPED or CONSEQUENCES[kind].flag is Flag.FAIL for kind in kinds)


def _told(look: Look) -> Case | None:
    """The other half of what has been found of another of the station."""
    for other in look.neighbours.station:
        found = look.state.findings.get(FindingKey(FindingKind.SWAPPED, other.instrument.subject))
        news = found is not None and look.now_us - found.found_us <= TOLD_H * HOUR_US
        if found is not None and news and look.instrument.name in found.others:
            facts = (Fact("exchanged with", other.instrument.name),)
            return Case(FindingKind.SWAPPED, found.start_us, found.confidence, facts, (other.instrument.name,))
    return None


def _is_time(look: Look) -> bool:
    newest = look.standing.notes.get(NEWEST, 0)
    return isinstance(newest, int) and look.hour - newest >= STEP_H and not _is_shaken(look)


def _is_shaken(look: Look) -> bool:
    """Whether its source, or ice, moves all of them together, whatever the soil does."""
    noisy = not look.state.findings.of(f"source/{look.instrument.source}").isdisjoint(SHAKEN)
    return noisy or frost.was_cold(look, SPAN_H)


def _weigh(look: Look) -> Iterator[Case]:
    """Add to the sums; tell of the largest, if it is enough."""
    seen: list[tuple[Sum, Standing, Signs]] = []
    for lower in look.neighbours.station:
        sign = _signs(look, lower)
        if sign is not None:
            total = _added(_sum(look, lower), _weight(look, sign), look.hour)
            look.standing.notes[_note(lower)] = [*total]
            look.standing.notes[NEWEST] = look.hour
            seen.append((total, lower, sign))
    likest = max(seen, key=lambda one: one[0].total, default=None)
    enough = ENOUGH_OF_SLOW if look.has(FindingKind.SLOW_RESPONSE) else ENOUGH
    if likest is not None and likest[0].total >= enough:
        yield _case(look, *likest)


def _weight(look: Look, sign: Signs) -> float:
    slow = look.state.findings.get(FindingKey(FindingKind.SLOW_RESPONSE, look.instrument.subject))
    weight = odds(sign)
    if slow is not None and (sign.nearer < 0.0 or _is_clogged(look, slow)):
        return min(weight, 0.0)
    return weight


def _is_clogged(look: Look, slow: Finding) -> bool:
    plainly = weight_lately(look, FindingKind.SLOW_RESPONSE) >= PLAINLY_SLOW
    return plainly or look.now_us - slow.found_us > SLOW_H * HOUR_US


def _note(lower: Standing) -> str:
    return f"{SUM}.{lower.instrument.name}"


def _sum(look: Look, lower: Standing) -> Sum:
    match look.standing.notes.get(_note(lower)):
        case [int() | float() as total, int() as since]:
            return Sum(total, since)
    return Sum(0.0, look.hour)


def _added(before: Sum, more: float, hour: int) -> Sum:
    """Add a weighing; from nothing the sum begins anew."""
    total = max(0.0, before.total + min(max(more, -MOST), MOST))
    return Sum(round(total, 2), before.since if before.total > 0.0 else hour)


def _signs(look: Look, lower: Standing) -> Signs | None:
    """Compare the two with a station beside them; ``None``: there is none, or too little is known."""
    if _depth(lower) - _depth(look.standing) <= SAME_DEPTH_M or _is_condemned(look, lower):
        return None
    here = (look.standing, lower)
    for there in _beside(look, lower):
        if look.hour - SPAN_H >= max(max(one.since, one.hours.begin - 1) for one in (*here, *there)):
            found = signs(_felt(here, look.hour), _felt(there, look.hour))
            if odds(found) == odds(found):
                return found
    return None


def _beside(look: Look, lower: Standing) -> Iterator[tuple[Standing, Standing]]:
    """Trusted pairs of another station that stand as deep as the two."""
    for near in look.neighbours.level:
        for far in look.state.neighbours[near.instrument.channel].station:
            if abs(_depth(far) - _depth(lower)) <= SAME_DEPTH_M and look.trusts(near) and look.trusts(far):
                yield near, far


def _felt(pair: tuple[Standing, Standing], hour: int) -> Pair:
    """What the transducers felt: without the correction for the water above the cups, which may be the other's."""
    return Pair(*(_vacuum(one, hour) for one in pair))


def _vacuum(standing: Standing, hour: int) -> list[float]:
    head_kpa = standing.instrument.head_kpa
    return [kpa + head_kpa for kpa in standing.hours.column("mean_kpa", hour + 1 - SPAN_H, hour + 1)]


def _depth(standing: Standing) -> float:
    return standing.instrument.place.depth_m


def _case(look: Look, total: Sum, lower: Standing, sign: Signs) -> Case:
    start = total.since - SPAN_H // 2
    facts = (
        Fact("moves as the neighbours do that stand as deep as", lower.instrument.name),
        Fact("correlation of how far apart the two are with the two of another station", sign.apart),
        Fact("within", (look.hour - start) / 24.0, "days"),
    )
    return Case(FindingKind.SWAPPED, start * HOUR_US, 0.85, facts, (lower.instrument.name,))
