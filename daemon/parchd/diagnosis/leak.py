"""A slow air leak: it follows the soil at first, then stands still or sinks while its neighbours dry on.

How it follows is told by an exponent: the change of the logarithm of its tension over that of its neighbour's, since
the last wetting. For two sound cups in soils of one kind it is about 1, whatever the soil of each; air that comes in
faster than the cup can draw it out brings it down, the drier the soil the more.
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.falls import is_quick
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Case, Look, is_shallowest, median

LEAST_H = 72
LEAST_KPA, LEAST_GAIN_KPA = 3.0, 5.0
LEAST_RANGE = math.log(1.7)
"""The neighbour must have dried so far that the exponent means something."""
USUAL_CYCLES = 8

LATE, LATE_SHARE, TOTAL_SHARE = 0.2, 0.5, 0.52
"""In the drier half of the course it hardly follows any more, and over all it follows half as well as it used to."""
USUAL = 0.75
WANES_TO, WANES_BY, WANES_LATE = 0.66, 0.08, 0.7

_EXPLAINED = (
    FindingKind.AIR_LEAK, FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP, FindingKind.FROZEN,
    FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.WRONG_UNIT, FindingKind.POOR_CONTACT,
)  # fmt: skip
_NOTE = "leak.exponents"


class Follows(NamedTuple):
    """How a tensiometer follows its neighbour since the last wetting: exponents of the wetter and drier half, and all.

    Args:
        begin: hour from which on.
        gain_kpa: what the neighbour gained.
    """

    early: float
    late: float
    total: float
    begin: int
    gain_kpa: float


def watch(look: Look) -> Iterator[Case]:
    """Compare the course since the last wetting with that of a neighbour at the same depth, and with former ones."""
    if not is_shallowest(look):
        return
    if not look.standing.falls or look.hour - look.standing.falls[-1].low_hour < LEAST_H or look.has(*_EXPLAINED):
        return
    fall = look.standing.falls[-1]
    follows = _follows(look, fall)
    if follows is not None:
        former = _former(look, fall, follows)
        if former and (_is_weak(follows, _usual(former)) or _wanes(follows, former)):
            yield _case(fall, follows, _usual(former))


def exponent(own: Sequence[float], other: Sequence[float]) -> float:
    """Change of the logarithm of one series of tensions over that of another, from its first to its last pair.

    >>> round(exponent([10.0, 20.0], [5.0, 20.0]), 3)
    0.5
    """
    return math.log(own[-1] / own[0]) / math.log(other[-1] / other[0])


def _follows(look: Look, fall: Fall) -> Follows | None:
    """Take the driest trusted neighbour at its depth that got no water since."""
    begin = fall.low_hour + 6
    own = _days(look.standing, begin, look.hour)
    best: Follows | None = None
    for neighbour in look.neighbours.level:
        if not look.trusts(neighbour) or any(f.low_hour > begin and is_quick(f) for f in neighbour.falls[-2:]):
            continue
        found = _compared(own, _days(neighbour, begin, look.hour), begin)
        if found is not None and (best is None or found.gain_kpa > best.gain_kpa):
            best = found
    return best


def _days(standing: Standing, begin: int, hour: int) -> list[float]:
    """Means of whole days, the last one ending now, the oldest first."""
    count = (hour + 1 - begin) // 24
    column = standing.hours.column("mean_kpa", hour + 1 - 24 * count, hour + 1)
    return [median(column[24 * day : 24 * day + 24]) for day in range(count)]


def _compared(own: list[float], other: list[float], begin: int) -> Follows | None:
    pairs = [(a, b) for a, b in zip(own, other, strict=True) if a >= LEAST_KPA and b >= LEAST_KPA]
    if len(pairs) < 3:
        return None
    first, last = pairs[0], pairs[-1]
    if math.log(last[1] / first[1]) < LEAST_RANGE or last[1] - first[1] < LEAST_GAIN_KPA:
        return None
    middle = min(pairs[1:-1], key=lambda pair: abs(math.log(pair[1] ** 2 / (first[1] * last[1]))))
    if not first[1] < middle[1] < last[1]:
        return None
    mine, theirs = zip(first, middle, last, strict=True)
    return Follows(
        exponent(mine[:2], theirs[:2]),
        exponent(mine[1:], theirs[1:]),
        exponent(mine, theirs),
        begin,
        last[1] - first[1],
    )


def _former(look: Look, fall: Fall, now: Follows) -> list[float]:
    """How it followed in former cycles, the oldest first; what it does now is remembered for the cycle of this fall."""
    notes = look.standing.notes
    former = [(begin, kept) for begin, kept in _cycles(notes.get(_NOTE)) if begin != fall.begin]
    cycles: list[JsonValue] = [[begin, kept] for begin, kept in former]
    cycles.append([fall.begin, round(now.total, 3)])
    notes[_NOTE] = cycles[-USUAL_CYCLES:]
    return [kept for _, kept in former]


def _usual(former: list[float]) -> float:
    """How it used to follow: the second best, so that one odd cycle does not count."""
    return sorted(former)[-2] if len(former) > 1 else former[0]


def _cycles(kept: JsonValue) -> list[tuple[int, float]]:
    """Former cycles as they are remembered: the hour in which each began, and its exponent."""
    pairs = (one for one in kept if isinstance(one, list)) if isinstance(kept, list) else ()
    return [(int(b), float(e)) for b, e in pairs if isinstance(b, int) and isinstance(e, int | float)]


def _is_weak(now: Follows, usual: float) -> bool:
    """It follows half as well as it used to, and hardly at all once the ground is dry."""
    if usual < USUAL or now.total >= TOTAL_SHARE * usual:
        return False
    return now.late < LATE * usual and now.late < LATE_SHARE * now.early


def _wanes(now: Follows, former: list[float]) -> bool:
    """It follows less from cycle to cycle: the leak grows."""
    if len(former) < 2 or _usual(former) < USUAL or now.total >= WANES_TO * _usual(former):
        return False
    falls = former[-2] - former[-1], former[-1] - now.total
    return min(falls) >= WANES_BY and now.late < WANES_LATE * now.early


def _case(fall: Fall, now: Follows, usual: float) -> Case:
    facts = (
        Fact("follows its neighbour with an exponent of", now.total, ""),
        Fact("in the drier half of the course", now.late, ""),
        Fact("used to follow with", usual, ""),
        Fact("neighbour gained", now.gain_kpa, "kPa"),
        Fact("since the wetting of", fall.begin * HOUR_US, "time"),
    )
    return Case(FindingKind.AIR_LEAK, now.begin * HOUR_US, 0.8, facts)
