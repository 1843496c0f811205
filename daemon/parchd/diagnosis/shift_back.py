"""The step back of a level that had shifted."""

from itertools import pairwise

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.leap import SEEN_H, leap_kpa
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

SIZE, FROM = "shift.size_kpa", "shift.from_kpa"
"""Notes: size of the step; the level before it, where it sank by and by and may still sink."""

LEAST, MOST, ROOM_KPA = 0.65, 1.35, 0.7
MEMORY_H = 30
STANDS_OUT = 2.5


def is_back(look: Look) -> bool:
    """Whether a step of the same size has just led back: as sharp as it came, if it came within the hour."""
    size_kpa = _size_now(look)
    if FROM not in look.standing.notes:
        back_kpa = -leap_kpa(look.standing, look.hour - SEEN_H) / size_kpa
        leads_back = LEAST - ROOM_KPA / abs(size_kpa) <= back_kpa <= MOST + ROOM_KPA / abs(size_kpa)
        return leads_back and (size_kpa < 0.0 or not _falls_around(look))
    last = look.past("last_kpa", 6)
    steps = known((last[-1] - last[-2], last[-1] - last[-3]))
    least, most = LEAST * abs(size_kpa) - ROOM_KPA, MOST * abs(size_kpa) + ROOM_KPA
    if not any(least <= step <= most for step in steps):
        return False
    around = max(known(abs(late - early) for early, late in pairwise(last[:-2])), default=0.0)
    if abs(size_kpa) < STANDS_OUT * around:
        return False
    before = known(look.past("high_kpa", MEMORY_H, until=look.hour - 2))
    return not before or last[-1] > max(before) + 0.4 * abs(size_kpa)


def _falls_around(look: Look) -> bool:
    """Whether neighbours fall as well: then it is water that leads down."""
    near = [n for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n)]
    return any(n.hours.at("last_kpa", look.hour - 8) - n.hours.at("last_kpa", look.hour) > 1.5 for n in near)


def _size_now(look: Look) -> float:
    """Size of the step that is known; one that came by and by may have grown. NaN: not known."""
    notes = look.standing.notes
    size_kpa, from_kpa = notes.get(SIZE), notes.get(FROM)
    if not isinstance(size_kpa, int | float):
        return NAN
    lately = known(look.past("mean_kpa", 12, until=look.hour - 3))
    if isinstance(from_kpa, int | float) and lately:
        return min(float(size_kpa), middle(lately) - from_kpa)
    return float(size_kpa)
