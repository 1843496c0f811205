"""What else moves readings about the hour of a step: ice, a value that was stuck, whatever moved its neighbours too."""

from itertools import pairwise

from parchd.diagnosis.frost import NOT_A_TEMPERATURE_C
from parchd.diagnosis.hours import known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

COMMON_SHARE = 0.35
"""A neighbour that moved by more than this share of it at the same time was moved by the same thing."""
MOST, TWO, LEAPT_KPA = 0.5, 2, 1.0
"""Of the others of its source so many, two at least, must have leapt as well."""
GOES_ON = 0.5
"""What falls more in the hour after, and by so much of that in the next, falls by itself."""
BEFORE_H = 3
STILL_H = 6.0
COLD_C, COLD_H = 1.0, 24


def cannot_tell(look: Look, hour: int, pause_h: int) -> bool:
    """Whether a step may be learning anew, a stuck value that goes on, or ice."""
    if hour - pause_h < look.standing.since or look.standing.hours.at("still_s", hour - 1) > STILL_H * 3600.0:
        return True
    return _is_cold(look, hour)


def _is_cold(look: Look, hour: int) -> bool:
    """Whether ice may have been at work."""
    celsius = known(look.past("temperature_c", look.hour - hour + COLD_H))
    return look.has(FindingKind.FROZEN) or any(NOT_A_TEMPERATURE_C < one < COLD_C for one in celsius)


def moves_with(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether a neighbour moved the same way at the same time, or most of a source whose wiring drops out."""
    near = [n for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n)]
    if any(moved(n, hour) / size_kpa > COMMON_SHARE for n in near):
        return True
    return look.source_has(FindingKind.DROP_OUTS) and _source_leapt(look, hour, size_kpa)


def _source_leapt(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether most of it moved; the wiring shows in those that tell nothing of the soil as well."""
    moves = [
        moved(n, hour) for n in look.neighbours.source if n.hours.at("last_kpa", hour) == n.hours.at("last_kpa", hour)
    ]
    same = sum(kpa / size_kpa > 0.0 and abs(kpa) >= LEAPT_KPA for kpa in moves)
    return same >= max(TWO, MOST * len(moves))


def water_begins(look: Look, hour: int) -> bool:
    """Whether water had only begun to lead a neighbour down: that leaps nowhere, and was no common cause."""
    return any(_falls_on(n, hour) for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n))


def _falls_on(standing: Standing, hour: int) -> bool:
    early_kpa, now_kpa, late_kpa, last_kpa = standing.hours.column("last_kpa", hour - 1, hour + 3)
    return early_kpa - now_kpa < now_kpa - late_kpa and late_kpa - last_kpa >= GOES_ON * (now_kpa - late_kpa)


def moved(standing: Standing, hour: int) -> float:
    """The largest change around an hour, beyond what the hours before it brought: a day comes and goes by itself."""
    last = standing.hours.column("last_kpa", hour - BEFORE_H - 2, hour + 2)
    trend_kpa = middle(known(late - early for early, late in pairwise(last[: BEFORE_H + 1])) or [0.0])
    before_kpa, early_kpa, now_kpa, late_kpa = last[BEFORE_H:]
    twice_kpa = 2.0 * trend_kpa
    changes = ((now_kpa - early_kpa, trend_kpa), (now_kpa - before_kpa, twice_kpa), (late_kpa - early_kpa, twice_kpa))
    return max((_beyond(change_kpa, usual_kpa) for change_kpa, usual_kpa in changes), key=abs)


def _beyond(change_kpa: float, usual_kpa: float) -> float:
    """What of a change the usual one leaves; a fall that slows down or ends is no rise. Where it is not known: 0."""
    left_kpa = min(change_kpa - usual_kpa, change_kpa, key=abs)
    return left_kpa if left_kpa * change_kpa > 0.0 else 0.0
