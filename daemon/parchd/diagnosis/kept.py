"""A step after which nearly all hours keep the new level, beside the day before it or a neighbour's course."""

from parchd.diagnosis.commotion import COMMON_SHARE, cannot_tell, moved, moves_with
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.leap import LEAST_KPA, bends_kpa, trails
from parchd.diagnosis.steps import is_step
from parchd.diagnosis.trends import middle, scatter
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.water_witness import may_be_water

KEPT_UP, KEPT_DOWN = 0.25, 0.12
"""How far later hours may leave the new level, as a share of the step: water falls, so a fall must be plainer."""
KEPT_HOURS = 0.8
KNOWN_SHARE = 0.5
COURSE_H, MOST_GAIN = 6, 3.0
MEMORY_H = 30
"""A rise back to a level of the last day is the end of a wetting, or of a hand on the tube."""
FALLEN_H, FALLEN_SHARE = 96, 0.8
"""So is one that leads, nearly, back to where it was some days ago."""
SERVED_H, OPENED_H = 12, 3
PLAIN_TIMES = 4.0
"""How many times the bend from sample to sample of the day before it must be: amid noise any hour ends in a step."""


def kept_kpa(look: Look, hour: int) -> float:
    """Size of a step, judged by what came before and after it; NaN: it is none, or no shift."""
    if cannot_tell(look, hour, 26):
        return NAN
    size_kpa = _size(look, hour)
    if size_kpa != size_kpa or abs(size_kpa) < PLAIN_TIMES * bends_kpa(look.standing, hour):
        return NAN
    if _is_common(look, hour, size_kpa) or someone_was_there(look, hour, SERVED_H, OPENED_H):
        return NAN
    if size_kpa > 0.0:
        explained = _rises_back(look, hour)
    else:
        explained = may_be_water(look, hour, size_kpa) or trails(look.standing, hour)
    return NAN if explained else size_kpa


def _size(look: Look, hour: int) -> float:
    """Size of a sharp step to a level that is kept; NaN: it is none.

    What the hours after it would have been is told by the day before, or by a neighbour's course.
    """
    before = look.past("mean_kpa", 48, until=hour - 2)
    after = look.past("mean_kpa", look.hour - hour)
    drift_kpa, noise_kpa = _usual(before)
    for offsets, noise in ((_offsets(before, after, drift_kpa), noise_kpa), (_beside(look, hour, before, after), 0.5)):
        if len(offsets) < KNOWN_SHARE * min(len(after), 20):
            continue
        size_kpa = middle(offsets)
        kept_kpa = (KEPT_UP if size_kpa > 0.0 else KEPT_DOWN) * abs(size_kpa) + noise
        stands_out = abs(size_kpa) >= LEAST_KPA + 2.0 * noise and is_step(look.standing, hour, size_kpa)
        if stands_out and _keeps(offsets, size_kpa, kept_kpa):
            return size_kpa
    return NAN


def _beside(look: Look, hour: int, before: list[float], after: list[float]) -> list[float]:
    """How far each hour after the step lies from where the course of a neighbour would have led."""
    near = [n for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n)]
    if not near:
        return []
    theirs = near[0].hours.column("mean_kpa", hour - 2 - COURSE_H, look.hour + 1)
    moved, own = theirs[COURSE_H] - theirs[0], before[-1] - before[-1 - COURSE_H]
    gain = own / moved if abs(moved) >= 0.5 and own / moved > 0.0 else 1.0
    gain = min(max(gain, 1.0 / MOST_GAIN), MOST_GAIN)
    later = theirs[COURSE_H + 3 :]
    return known(value - before[-1] - gain * (n - theirs[COURSE_H]) for value, n in zip(after, later, strict=True))


def _usual(before: list[float]) -> tuple[float, float]:
    """What a day changes at the same hour, and how much that varies; ``before`` ends just before the step."""
    changes = known(late - early for early, late in zip(before[:24], before[24:], strict=True))
    if len(changes) < 8:
        return NAN, NAN
    return middle(changes[-12:]), scatter(changes[-12:])


def _offsets(before: list[float], after: list[float], drift_kpa: float) -> list[float]:
    """How far each hour after the step lies from the same hour of the day before, less what a day changes.

    ``before`` ends two hours before the step, ``after`` begins in the hour after it.
    """
    day = before[-24:]
    return known(value - day[number + 2] - drift_kpa for number, value in enumerate(after) if number + 2 < 24)


def _keeps(offsets: list[float], size_kpa: float, allowed_kpa: float) -> bool:
    """Whether nearly all hours keep to the new level, and the last ones as well as the first."""
    third = len(offsets) // 3
    bend_kpa = abs(middle(offsets[-third:]) - middle(offsets[:third]))
    kept = sum(abs(one - size_kpa) <= allowed_kpa for one in offsets)
    return kept >= KEPT_HOURS * len(offsets) and bend_kpa <= 1.2 * allowed_kpa


def _is_common(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether others moved at the same time: with it (a supply, the sun, water), or against it (exchanged wires)."""
    if moves_with(look, hour, size_kpa):
        return True
    return any(moved(n, hour) / size_kpa < -COMMON_SHARE for n in look.neighbours.station)


def _rises_back(look: Look, hour: int) -> bool:
    """Whether it only rose to where it had been the day before, or came back to where it was before it fell."""
    before = look.past("high_kpa", FALLEN_H, until=hour - 1)
    lately = known(before[-MEMORY_H:])
    now_kpa = middle(known(look.past("mean_kpa", look.hour - hour)))
    if not lately or now_kpa < max(lately) + 0.6 * LEAST_KPA:
        return True
    if any(fall.why == "neighbours" for fall in look.standing.falls[-2:] if fall.begin >= hour - FALLEN_H):
        return False
    highest_kpa = max(known(before))
    return highest_kpa > max(lately) and FALLEN_SHARE * highest_kpa < now_kpa < (2.0 - FALLEN_SHARE) * highest_kpa
