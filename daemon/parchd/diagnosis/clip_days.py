"""What is looked at to see a ceiling: the days of a tube, what shakes them, and whom to ask how the ground dries."""

from collections.abc import Sequence
from itertools import accumulate
from math import log

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.shift_back import SIZE
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look, above, is_shallowest, median

OFF = frozenset({FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT})
DAY_H, STEP_H, PER_DAY = 24, 6, 4
"""Middles of whole days, one every six hours: what the sun does to the gas in a tube is the same in each."""
WINDOWS = (4, 7, 14, 28)
"""Days looked back."""
KNOWN = 0.8
WETTER_TIMES = 1.15
"""The soil above a cracked cup has half as much again at least; above one that stands in wet soil it has less."""
THEIRS_KNOWN = 0.4
"""Share of its days on which a neighbour must be known: on the others it has moved no less."""
WET_KPA = 1.5
"""Added to a level near zero before its logarithm is taken."""
BEND_DAYS = 1.7
"""Noise bends the course of the days by so many times what it makes one differ from the next."""


def moving(look: Look, hours: int) -> list[float]:
    """The last hours; NaN where one and the same number had come for a day: that is no tube's doing."""
    rows = zip(look.past("mean_kpa", hours), look.past("still_s", hours), strict=True)
    return [NAN if still_s > DAY_H * 3600.0 else kpa for kpa, still_s in rows]


def whom_to_ask(look: Look) -> list[Standing]:
    """Neighbours at its depth; where none tells anything those further down, or the ones above it at its station.

    What lies further down loses what the soil above lost, too; where soil further up dries and is watered for weeks
    what lies below moves by more than hundredths.
    """
    level = [n for n in look.neighbours.level if look.trusts(n) or is_only_off(look, n)]
    if level:
        return level
    if is_shallowest(look):
        return [n for n in look.neighbours.zone if look.trusts(n)]
    return [n for n in above(look) if look.trusts(n)]


def is_only_off(look: Look, other: Standing) -> bool:
    """Whether nothing is known against a neighbour but a wrong zero: how the ground moves it tells all the same."""
    return look.state.findings.of(other.instrument.subject) <= OFF


def shaken_kpa(look: Look) -> float:
    """What the middles of its days differ by from one to the next while its supply is noisy, beyond any trend."""
    if not look.source_has(FindingKind.NOISY_SUPPLY):
        return 0.0
    days = middles(moving(look, WINDOWS[2] * DAY_H + DAY_H - STEP_H))
    three = zip(days, days[PER_DAY:], days[2 * PER_DAY :], strict=False)
    return median(abs(early - 2.0 * day + late) for early, day, late in three) / BEND_DAYS


def middles(hours: Sequence[float]) -> list[float]:
    """The middle of every day, one every six hours; NaN: too little of it is known."""
    found = []
    for end in range(DAY_H, len(hours) + 1, STEP_H):
        values = known(hours[end - DAY_H : end])
        found.append(median(values) if len(values) >= KNOWN * DAY_H else NAN)
    return found


def middles_of(other: Standing, hour: int, count: int) -> list[float]:
    """As many middles of days as are asked for, the last one ending now."""
    return middles(other.hours.column("mean_kpa", hour + 1 - DAY_H - (count - 1) * STEP_H, hour + 1))


def is_wet_above(look: Look, at: Sequence[bool], ceiling_kpa: float) -> bool:
    """Whether on most days at its ceiling soil further up its station was no drier: then it is water that stays below.

    A level that is known to have shifted is taken off.
    """
    told = [n for n in above(look) if look.trusts(n) or is_only_off(look, n)]
    return any(_middle_at(look, n, at) <= WETTER_TIMES * ceiling_kpa for n in told)


def _middle_at(look: Look, other: Standing, at: Sequence[bool]) -> float:
    size_kpa = other.notes.get(SIZE)
    is_shifted = FindingKind.LEVEL_SHIFT in look.state.findings.of(other.instrument.subject)
    shifted_kpa = float(size_kpa) if is_shifted and isinstance(size_kpa, int | float) else 0.0
    theirs = middles_of(other, look.hour, len(at))
    return median(day for day, is_at in zip(theirs, at, strict=True) if is_at) - shifted_kpa


def moved_by(theirs: Sequence[float], at: Sequence[bool]) -> tuple[float, float] | None:
    """By how much a neighbour moved on those days, kPa and by the logarithm; ``None``: too little is known."""
    seen = known(day for day, is_at in zip(theirs, at, strict=True) if is_at)
    if len(seen) < THEIRS_KNOWN * sum(at):
        return None
    low_kpa, high_kpa = ends(seen)
    return high_kpa - low_kpa, _log_of(low_kpa, high_kpa)


def dried_by(theirs: Sequence[float], at: Sequence[bool]) -> tuple[float, float] | None:
    """By how much a neighbour became drier from one of those days to a later one; ``None``: too little is known."""
    if moved_by(theirs, at) is None:
        return None
    seen = known(day for day, is_at in zip(theirs, at, strict=True) if is_at)
    lowest = accumulate(seen, min)
    rise_kpa, low_kpa, high_kpa = max((late - early, early, late) for early, late in zip(lowest, seen, strict=True))
    return rise_kpa, _log_of(low_kpa, high_kpa)


def _log_of(low_kpa: float, high_kpa: float) -> float:
    return log((max(high_kpa, 0.0) + WET_KPA) / (max(low_kpa, 0.0) + WET_KPA))


def ends(values: Sequence[float]) -> tuple[float, float]:
    """The lowest and the highest but for a tenth at each end."""
    ordered = sorted(values)
    tenth = len(ordered) // 10
    return ordered[tenth], ordered[-1 - tenth]
