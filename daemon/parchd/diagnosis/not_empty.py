"""A tube that was taken for empty and is none: it goes on with the soil from where it leapt, or its zero had drifted.

An empty tube stands still at minus its head and feels nothing but warmth.
"""

from collections.abc import Sequence

from parchd.diagnosis import servicing, trends
from parchd.diagnosis.contact import BASE as POOR
from parchd.diagnosis.findings import Fact, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US, KEPT_HOURS, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import LEAST_KPA, SEEN_H, leap_kpa
from parchd.diagnosis.likeness import likeness, parts
from parchd.diagnosis.shift_back import FROM, SIZE
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look
from parchd.words import noted

EMPTY_READS = noted("an empty tube reads")
EVERY_H, DAYS, MOST_H = 12, 2, 20 * 24
AWAY_KPA, AWAY_SHARE, KNOWN_H = 1.0, 0.1, 18
"""So far from what an empty tube reads it must be for a whole day: calibration and a ruler explain less."""
MOVED_KPA = 1.0
"""From day to day: warmth comes and goes within each."""
REFILLED_H, REFILLED_SHARE = 3, 0.5
"""What comes back so quickly, and by so much of what it fell, was filled up again."""
LIKENESS = 0.9
"""Correlation with a neighbour, a quarter of a day for a quarter of a day."""
SETTLED_H, DRIES_H, DRIED_KPA = 24, 96, 1.0
"""What lost its water has come to rest so long after that was told; then one that is none becomes drier within days."""


def not_empty(look: Look) -> Case | None:
    """See that one which is held to have lost its water moves with the soil, as far from it as when it leapt."""
    if look.hour % EVERY_H or look.has(FindingKind.AIR_ENTRY, FindingKind.FROZEN):
        return None
    hour = _leapt(look)
    if hour is None:
        return None
    day = known(look.past("mean_kpa", 24))
    if not _is_away(look, day):
        return None
    size_kpa = leap_kpa(look.standing, hour)
    if _was_refilled(look, hour, size_kpa) or not _moves(look, hour + SEEN_H):
        return None
    if not any(_goes_with(look, n, hour + SEEN_H) for n in look.neighbours.zone if look.trusts(n)):
        return None
    facts = (
        Fact("fell by", abs(size_kpa), "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
        Fact(EMPTY_READS, -look.instrument.head_kpa, "kPa"),
        Fact("reads", middle(day), "kPa"),
    )
    return _leapt_so(look, hour, size_kpa, facts)


def _leapt_so(look: Look, hour: int, size_kpa: float, facts: tuple[Fact, ...]) -> Case:
    """Tell what leapt: water closed the gap around a cup whose contact was poor, or a level shifted."""
    refutes = frozenset({FindingKind.LOST_WATER})
    if POOR in look.standing.notes:
        return Case(FindingKind.POOR_CONTACT, hour * HOUR_US, 0.8, facts, refutes=refutes)
    look.standing.notes[SIZE] = round(size_kpa, 2)
    look.standing.notes.pop(FROM, None)
    return Case(FindingKind.LEVEL_SHIFT, hour * HOUR_US, 0.85, facts, refutes=refutes)


def dries(look: Look) -> Case | None:
    """See that one which is held to have lost its water dries with its neighbours: then water led it down, too low.

    Nothing draws at an empty tube. One that was opened since may have been filled; amid noise that cannot be seen.
    """
    if look.source_has(FindingKind.NOISY_SUPPLY):
        return None
    found = _taken_for_empty(look)
    first, served = look.hour + 1 - DRIES_H, look.state.sources[look.instrument.source].notes.get(servicing.TOLD)
    if found is None or not look.hour - KEPT_HOURS <= (begin := found.found_us // HOUR_US) <= first - SETTLED_H:
        return None  # Whether it was filled up since is known for as long as hours are kept.
    days, day = known(trends.days(look.past("mean_kpa", DRIES_H))), known(look.past("mean_kpa", 24))
    dried_kpa = days[-1] - min(days) if days else 0.0
    if dried_kpa < DRIED_KPA or not _is_away(look, day) or (isinstance(served, int) and served >= begin):
        return None
    if _was_refilled(look, begin, middle(day) + look.instrument.head_kpa):
        return None
    if not any(_goes_with(look, n, first) for n in look.neighbours.zone if look.trusts(n)):
        return None
    facts = (
        Fact("became drier within days by", dried_kpa, "kPa"),
        Fact(EMPTY_READS, -look.instrument.head_kpa, "kPa"),
        Fact("reads", middle(day), "kPa"),
    )
    if (hour := _leapt(look)) is not None:
        size_kpa = leap_kpa(look.standing, hour)
        return None if _was_refilled(look, hour, size_kpa) else _leapt_so(look, hour, size_kpa, facts)
    return Case(FindingKind.ZERO_DRIFT, found.start_us, 0.75, facts, refutes=frozenset({FindingKind.LOST_WATER}))


def was_not_empty(look: Look) -> bool:
    """Whether the shift that is open was told so: the tube has gone on with the soil since it leapt there."""
    found = look.state.findings.get(FindingKey(FindingKind.LEVEL_SHIFT, look.instrument.subject))
    return found is not None and any(fact.what == EMPTY_READS for fact in found.facts)


def _is_away(look: Look, day: Sequence[float]) -> bool:
    """Whether it has been far from what an empty tube reads for a whole day."""
    away_kpa = AWAY_KPA + AWAY_SHARE * look.instrument.head_kpa
    return len(day) >= KNOWN_H and abs(middle(day) + look.instrument.head_kpa) >= away_kpa


def _was_refilled(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether it was empty and somebody filled it up since."""
    last = look.standing.hours.column("last_kpa", hour + 1, look.hour + 1)
    rises = (late - early for early, late in zip(last, last[REFILLED_H:], strict=False))
    return any(rise >= REFILLED_SHARE * abs(size_kpa) for rise in rises)


def _moves(look: Look, first: int) -> bool:
    days = known(trends.days(look.standing.hours.column("mean_kpa", first, look.hour + 1)))
    return len(days) >= DAYS and max(days) - min(days) >= MOVED_KPA


def _taken_for_empty(look: Look) -> Finding | None:
    return look.state.findings.get(FindingKey(FindingKind.LOST_WATER, look.instrument.subject))


def _leapt(look: Look) -> int | None:
    """The hour in which it leapt down to where it was taken for empty, perhaps long after it began to fall.

    ``None``: it did not leap.
    """
    found = _taken_for_empty(look)
    if found is None:
        return None
    begin = found.start_us // HOUR_US
    if look.hour - begin > MOST_H:
        return None
    around = range(begin - 1, max(begin + 3, found.found_us // HOUR_US))
    leaps = [(leap_kpa(look.standing, one), one) for one in around]
    down = [pair for pair in leaps if pair[0] <= -LEAST_KPA]
    return min(down)[1] if down else None


def _goes_with(look: Look, neighbour: Standing, first: int) -> bool:
    """Whether its course since then is like a neighbour's."""
    own, theirs = (parts(one.hours.column("mean_kpa", first, look.hour + 1)) for one in (look.standing, neighbour))
    return likeness(own, theirs) >= LIKENESS
