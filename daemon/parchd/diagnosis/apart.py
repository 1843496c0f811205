"""A tensiometer and its neighbours have come apart: which fault would make it read what it reads?

Every four days the last twelve weeks are weighed: against what it used to be to a neighbour, against what other soil
would make of that, against a wrong zero, and against a leak, a cracked or clogged cup and poor contact that began on
one day or another. Where no neighbour at its depth can be trusted the ones further down tell something too, if less.
"""

from collections.abc import Iterator, Sequence
from math import exp
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.falls_pace import Pace
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.record import BLOCK_H, DAY, KEPT_BLOCKS, TUBES, WEIGHED, record, remember
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trails import told, trails
from parchd.diagnosis.verdict import Case, Look, is_shallowest

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    from parchd.diagnosis.weighing import Evidence

    Floats = NDArray[float64]

EVERY_H = 96
WINDOW_H = 28 * 24
DOUBTS = "apart.doubts"
"""Note: the kind that explained the last look best, how much better than anything that is no fault, and in how many
looks in a row that was enough."""

MOST_NEIGHBOURS, SAME_DEPTH_M = 2, 0.12
KNOWN_BLOCKS, FRESH_BLOCKS = 56, 2
"""Blocks that must be known of the twelve weeks, and of the last two days."""
LEAST, ENOUGH, ENOUGH_VAGUE = 3.0, 10.0, 12.0
"""How much better a fault must explain it than anything that is none: in each of two looks in a row, and in both
together; natural logarithms. Once is enough where it is as plain as that. Of a clogged cup wettings tell, days less."""
VAGUE = 0.4
"""A gap that lets so much of the drying through looks like other soil, too."""
PLAIN_NAME, LATER_NAME, WAITS = 2.0, 1.0, 2
"""How much better the best name must be than the next. More weeks tell a leak from a gap, and some doubts go by: so a
close race waits, and after so many looks less is asked."""
OTHER_NAME, LATER_H = 3.0, 8 * 24
"""How much better another name must be than a leak or a gap that was told, and how much later it may let it begin: the
days on which the tube was sound are forgotten one by one, and then the fault seems to have begun ever later. Of a
clogged cup every wetting tells anew."""
WORTH_ASKING, BELOW_SHARE, ALONE_SHARE = 2.5, 0.5, 0.8
"""From so much on the neighbours further down are asked as well, and count by half: the tensiometer is the same. One
alone counts by more, but not in full; where two tell, the one that doubts it most counts in full."""
MOST_TIMES = 1e6

_EXPLAINED = (
    FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP, FindingKind.FROZEN,
    FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER,
    FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT,
)  # fmt: skip


class Told(NamedTuple):
    """What a look tells: the evidence for each of `WEIGHED`, the best first."""

    kinds: tuple[FindingKind, ...]
    evidence: "tuple[Evidence, ...]"


def watch(look: Look) -> Iterator[Case]:
    """Remember what it read, and weigh it beside neighbours."""
    end = remember(look)
    if not is_shallowest(look):
        return
    told = None if look.has(*_EXPLAINED) else _told(look, end)
    if told is None or told.evidence[0].weight < LEAST:
        look.standing.notes.pop(DOUBTS, None)
        return
    kind, best = told.kinds[0], told.evidence[0]
    enough = best.weight + weight_lately(look, kind) >= (ENOUGH_VAGUE if _is_vague(kind, best) else ENOUGH)
    looks = (_looks_enough(look) + 1) if enough else 0
    look.standing.notes[DOUBTS] = [kind.value, round(best.weight, 2), looks]
    begin_h = (end - KEPT_BLOCKS) * BLOCK_H + round(24.0 * best.begin)
    if enough and _is_plain(look, told, looks, begin_h) and not _is_shaken(look, kind):
        yield _case(look, kind, best, begin_h)


def _is_plain(look: Look, told: Told, looks: int, begin_h: int) -> bool:
    """Whether the best name is so much better than any other, or than the one that was given."""
    best, second = told.evidence[:2]
    if not look.has(*TUBES):
        return best.weight - second.weight >= (PLAIN_NAME if looks <= WAITS else LATER_NAME)
    given = max(one.weight for kind, one in zip(told.kinds, told.evidence, strict=True) if look.has(kind))
    is_other = not look.has(told.kinds[0]) and best.weight - given >= OTHER_NAME
    return is_other and not _seems_later(look, begin_h)


def _is_vague(kind: FindingKind, best: "Evidence") -> bool:
    return kind is FindingKind.SLOW_RESPONSE or (kind is FindingKind.POOR_CONTACT and best.size >= VAGUE)


def _is_shaken(look: Look, kind: FindingKind) -> bool:
    """Whether noise of the supply may look like it: of hours by which water comes later it leaves little."""
    return kind is FindingKind.SLOW_RESPONSE and look.source_has(FindingKind.NOISY_SUPPLY)


def weight_lately(look: Look, kind: FindingKind) -> float:
    """How much better it explained the last look, if it explained that best; 0: it did not."""
    kept = look.standing.notes.get(DOUBTS)
    if not isinstance(kept, list) or kept[0] != kind.value or not isinstance(kept[1], int | float):
        return 0.0
    return float(kept[1])


def _looks_enough(look: Look) -> int:
    """In how many looks in a row, until now, a fault explained it well enough."""
    kept = look.standing.notes.get(DOUBTS)
    return kept[2] if isinstance(kept, list) and len(kept) > 2 and isinstance(kept[2], int) else 0


def _seems_later(look: Look, begin_h: int) -> bool:
    """Whether it would have begun later than the leak or the gap that was told."""
    keys = (FindingKey(kind, look.instrument.subject) for kind in (FindingKind.AIR_LEAK, FindingKind.POOR_CONTACT))
    starts = [hour_of(look.state.findings[key].start_us) for key in keys if key in look.state.findings]
    return any(begin_h > start + LATER_H for start in starts)


def _told(look: Look, end: int) -> Told | None:
    """Weigh it beside the neighbours at its depth, and beside the ones further down; ``None``: there are none."""
    beside = _weighed(look, look.neighbours.level, end)
    by_kind = {kind: min((one[kind] for one in beside), key=_weight) for kind in WEIGHED if beside}
    if not beside or max(one.weight for one in by_kind.values()) >= WORTH_ASKING:
        below = _weighed(look, _deeper(look), end)
        if below:
            by_kind = {kind: with_deeper(kind, by_kind.get(kind), [one[kind] for one in below]) for kind in WEIGHED}
    if not by_kind:
        return None
    kinds = sorted(WEIGHED, key=lambda kind: -by_kind[kind].weight)
    return Told(tuple(kinds), tuple(by_kind[kind] for kind in kinds))


def with_deeper(kind: FindingKind, level: "Evidence | None", below: "Sequence[Evidence]") -> "Evidence":
    """Take in the neighbours further down: water comes late there in any case, so of lateness they tell nothing."""
    if level is None:
        least = min(below, key=_weight)
        return least._replace(weight=least.weight if len(below) > 1 else ALONE_SHARE * least.weight)
    share = 0.0 if kind is FindingKind.SLOW_RESPONSE else BELOW_SHARE
    return level._replace(weight=level.weight + share * sum(one.weight for one in below) / len(below))


def _weight(one: "Evidence") -> float:
    return one.weight


def _deeper(look: Look) -> list[Standing]:
    """Give the tensiometers below it and below its neighbours, the nearest first."""
    depth_m = look.instrument.place.depth_m
    zone = [one for one in look.neighbours.zone if one.instrument.place.depth_m > depth_m + SAME_DEPTH_M]
    return sorted(zone, key=lambda one: one.instrument.place.depth_m)


def _weighed(look: Look, neighbours: Sequence[Standing], end: int) -> "list[dict[FindingKind, Evidence]]":
    """Weigh it beside each of the first neighbours that can be trusted and have a record."""
    import numpy as np

    from parchd.diagnosis.weighing import weigh

    own = record(look.standing, end)
    first_h = (end - KEPT_BLOCKS) * BLOCK_H
    seen = trails(look)
    falls = [Pace((one.hour - first_h) / 24.0, gain) for one, gain in zip(seen, told(seen), strict=True)]
    found: list[dict[FindingKind, Evidence]] = []
    for near in neighbours:
        if len(found) == MOST_NEIGHBOURS or not look.trusts(near):
            continue
        theirs = record(near, end)
        both = np.isfinite(own) & np.isfinite(theirs)
        if both.sum() < KNOWN_BLOCKS or both[-2 * DAY :].sum() < FRESH_BLOCKS:
            continue
        first = int(np.flatnonzero(both)[0]) // DAY
        since = [fall._replace(day=fall.day - first) for fall in falls if fall.day >= first]
        weighed = weigh(own[first * DAY :], theirs[first * DAY :], look.instrument.head_kpa, since)
        if weighed is not None:
            found.append({kind: one._replace(begin=one.begin + first) for kind, one in weighed.items()})
    return found


def _case(look: Look, kind: FindingKind, evidence: "Evidence", begin_h: int) -> Case:
    own = [value for value in look.past("mean_kpa", WINDOW_H) if value == value]
    facts = [
        Fact("read at most in the last four weeks", max(own), "kPa"),
        Fact("its neighbour leads to expect up to", evidence.expected_kpa, "kPa"),
        Fact("times more likely than with other soil", min(exp(min(evidence.weight, 20.0)), MOST_TIMES)),
    ]
    if kind is FindingKind.POOR_CONTACT:
        facts.append(Fact("follows the drying by about", 100.0 * evidence.size, "%"))
    if kind is FindingKind.CRACKED_CUP:
        facts.append(Fact("held no more than", evidence.size, "kPa"))
    if kind is FindingKind.SLOW_RESPONSE:
        facts.append(Fact("trails its neighbours by a time constant of", evidence.size, "h"))
    return Case(kind, begin_h * HOUR_US, 0.8, tuple(facts))
