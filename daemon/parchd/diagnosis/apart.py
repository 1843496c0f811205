"""A tensiometer and its neighbour have come apart: which fault would make it read what it reads?

Every four days the last four weeks are weighed: against what the two used to be to each other, against what other soil
would make of that, and against a leak, a clogged cup, poor contact and a wrong zero. Two of these that look alike over
one window seldom do over several: what each leaves unexplained is added up until one of them is plain.
"""

from collections.abc import Iterator
from math import log
from typing import TYPE_CHECKING, NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, is_shallowest

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    from parchd.diagnosis.weighing import Weighed

EVERY_H = 96
WINDOW_H = 28 * 24
LEARNT, DOUBTS, ODD = "apart.learnt", "apart.doubts", "apart.odd"
"""Notes: sums by neighbour; what has been added up; whether the last window was odd, so that nothing is learnt."""

LEAST_LEARNT, SURE_LEARNT = 64, 96
"""Blocks of six hours: sixteen days to judge, and twenty-four before anything may be too odd to be learnt."""
KNOWN_BLOCKS, FRESH_BLOCKS = 56, 2
"""Blocks that must be known of the four weeks, and of the last two days."""
ODD_GAIN, ODD_LEFT = 0.5, 0.5
ROOM = 0.15
"""Added to what is left: where two leave next to nothing neither is better."""
LEAST, FORGIVEN = 0.8, 0.3
"""Natural logarithm: how many times less a fault must leave than sound soil, and what a window without takes away."""
MOST_LEFT = 0.4
ENOUGH, AT_MOST, WINDOWS = 2.5, 6.0, 3
PLAIN_NAME, WAITS = 0.8, 8
"""How much better the best name must be than the next, and for how many windows that is waited for."""

TUBES = FindingKind.AIR_LEAK, FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE
_EXPLAINED = (
    FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE, FindingKind.LOST_WATER, FindingKind.AIR_ENTRY,
    FindingKind.CRACKED_CUP, FindingKind.FROZEN,
    FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER,
    FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT,
)  # fmt: skip


class Doubts(NamedTuple):
    """What windows one after the other have added up to.

    Args:
        since: hour of the first.
        windows: how many spoke for a fault, and how many the name was waited for.
        total: how much they spoke for any.
        names: how badly each of `TUBES` explained them.
    """

    since: int = 0
    windows: int = 0
    waits: int = 0
    total: float = 0.0
    names: tuple[float, ...] = (0.0, 0.0, 0.0)


def watch(look: Look) -> Iterator[Case]:
    """Weigh the last four weeks beside the first neighbour at its depth that can be trusted."""
    if not is_shallowest(look) or not look.neighbours.level:
        return
    near = next((n for n in look.neighbours.level if look.trusts(n)), None)
    if near is None or look.hour - WINDOW_H + 1 < max(look.standing.since, look.standing.hours.begin):
        return
    if look.has(*_EXPLAINED):
        look.standing.notes.pop(DOUBTS, None)
        return
    weighed = _weighed(look, near)
    if weighed is None:
        return
    doubts = _added(_doubts(look), weighed, look.hour)
    if doubts.total >= ENOUGH and doubts.windows >= WINDOWS:
        ordered = sorted(doubts.names)
        doubts = doubts._replace(waits=doubts.waits + 1)
        is_plain = ordered[1] - ordered[0] >= PLAIN_NAME
        if is_plain or (doubts.waits >= WAITS and not look.has(FindingKind.AIR_LEAK)):
            kind = TUBES[doubts.names.index(ordered[0])]
            look.standing.notes.pop(DOUBTS, None)
            if not look.has(kind):
                yield _case(look, kind, weighed, doubts)
            return
    kept: list[JsonValue] = [doubts.since, doubts.windows, doubts.waits, doubts.total, *doubts.names]
    look.standing.notes[DOUBTS] = kept


def _weighed(look: Look, near: Standing) -> "Weighed | None":
    """Learn from what lies four weeks back, and weigh what has come since; ``None``: too little is known."""
    import numpy as np

    from parchd.diagnosis.beside import NOTHING, blocks_of, learn, learned_from, relation_of
    from parchd.diagnosis.weighing import weigh

    own, theirs = (
        blocks_of(one.hours.column("mean_kpa", look.hour - WINDOW_H + 1, look.hour + 1))
        for one in (look.standing, near)
    )
    notes, name = look.standing.notes, near.instrument.name
    kept = notes.get(LEARNT)
    sums = dict(kept) if isinstance(kept, dict) else {}
    row = sums.get(name)
    learned = learned_from([one for one in row if isinstance(one, int | float)]) if isinstance(row, list) else NOTHING
    if not notes.get(ODD):
        oldest = len(own) * EVERY_H // WINDOW_H
        learned = learn(learned, own[:oldest], theirs[:oldest])
        rows: list[JsonValue] = [*learned.row()]
        sums[name] = rows
        notes[LEARNT] = sums
    both = np.isfinite(own) & np.isfinite(theirs)
    if learned.blocks < LEAST_LEARNT or both.sum() < KNOWN_BLOCKS or both[-8:].sum() < FRESH_BLOCKS:
        return None
    weighed = weigh(np.where(both, own, np.nan), _filled(theirs), relation_of(learned), look.instrument.head_kpa)
    notes[ODD] = learned.blocks >= SURE_LEARNT and _is_odd(weighed)
    return weighed


def _filled(values: "NDArray[float64]") -> "NDArray[float64]":
    """Put the last that was known where nothing is; the first one before it."""
    import numpy as np

    known = np.flatnonzero(np.isfinite(values))
    last = np.searchsorted(known, np.arange(len(values)), side="right") - 1
    filled: NDArray[float64] = values[known[np.maximum(last, 0)]]
    return filled


def _is_odd(weighed: "Weighed") -> bool:
    """Whether a fault explains the window far better than what is usual: nothing must be learnt from it."""
    least = min(weighed.left.values(), default=weighed.usual)
    return weighed.usual > ODD_LEFT and log((weighed.usual + 2.0 * ROOM) / (least + 2.0 * ROOM)) > ODD_GAIN


def _doubts(look: Look) -> Doubts:
    kept = look.standing.notes.get(DOUBTS)
    numbers = [one for one in kept if isinstance(one, int | float)] if isinstance(kept, list) else []
    if len(numbers) != 4 + len(TUBES):
        return Doubts()
    return Doubts(int(numbers[0]), int(numbers[1]), int(numbers[2]), numbers[3], tuple(numbers[4:]))


def _added(doubts: Doubts, weighed: "Weighed", hour: int) -> Doubts:
    """Add a window: by how much the best of the faults explains it better than sound soil or a wrong zero."""
    if weighed.left:
        left = [weighed.left[kind] for kind in TUBES]
        zero = min(weighed.left[FindingKind.LEVEL_SHIFT], weighed.left[FindingKind.ZERO_DRIFT])
        better = log((min(weighed.sound, zero) + ROOM) / (min(left) + ROOM))
        if better > LEAST and min(left) <= MOST_LEFT:
            names = tuple(sum_ + log(one + ROOM) for sum_, one in zip(doubts.names, left, strict=True))
            total = min(doubts.total + better - LEAST, AT_MOST)
            return Doubts(doubts.since or hour, doubts.windows + 1, doubts.waits, total, names)
    total = doubts.total - FORGIVEN
    return doubts._replace(total=total) if total > 0.0 else Doubts()


def _case(look: Look, kind: FindingKind, weighed: "Weighed", doubts: Doubts) -> Case:
    own = [value for value in look.past("mean_kpa", WINDOW_H) if value == value]
    facts = [
        Fact("read at most in the last four weeks", max(own), "kPa"),
        Fact("its neighbour leads to expect up to", weighed.expected_kpa, "kPa"),
        Fact("times more is left unexplained by other soil", (weighed.sound + ROOM) / (weighed.left[kind] + ROOM)),
        Fact("looks in a row that told so", doubts.windows),
    ]
    if kind is FindingKind.POOR_CONTACT:
        facts.append(Fact("follows the drying by about", 100.0 * weighed.size[kind], "%"))
    if kind is FindingKind.SLOW_RESPONSE:
        facts.append(Fact("trails its neighbours by a time constant of", weighed.size[kind], "h"))
    return Case(kind, (doubts.since - WINDOW_H // 2) * HOUR_US, 0.8, tuple(facts))
