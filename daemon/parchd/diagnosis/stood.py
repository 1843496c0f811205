"""A cup that cracked: it fell within hours, and all its days since have had one and the same middle.

Soil that was wetted drains on, or dries again; where a water table holds it still, it holds its neighbours as well.
"""

from collections.abc import Sequence

from parchd.diagnosis.clip_days import DAY_H, KNOWN, middles, middles_of, moving
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.tube import CAME_FROM
from parchd.diagnosis.verdict import Case, Look

EVERY_H, WITHIN_H = 3, 7
"""How often it is looked at, and how long the fall may take."""
STOOD_DAYS = 14
SAME_KPA, APART = 0.12, 0.05
"""So much lies at most between the middles of its days, but for a share of them at each end: in 650 simulated seasons
no sound cup did so after such a fall, and the stillest, deep sand, moved more than twice as much."""
FELL_KPA, AT_ONCE_KPA = 2.5, 2.0
"""From the middle of the day before to theirs, and within those hours."""
LEAST_KPA = 0.3
"""Less is free water's tension, which stands still as well."""


def stood(look: Look, highest_kpa: float) -> Case | None:
    """Look for one that fell to less than a tension two weeks ago, and has stood there since."""
    if look.has(FindingKind.LEVEL_SHIFT):
        return None  # It leapt down there: deep soil may stand as still.
    first = -STOOD_DAYS * DAY_H - WITHIN_H - EVERY_H
    course = look.past("mean_kpa", DAY_H - first)
    places = range(DAY_H, DAY_H + EVERY_H)
    if not any(course[at - 1] - course[at + WITHIN_H] >= AT_ONCE_KPA for at in places):
        return None
    days = middles(moving(look, STOOD_DAYS * DAY_H))
    before_kpa, level_kpa = middles(course[:DAY_H])[0], _level_kpa(days)
    if before_kpa >= CAME_FROM * look.instrument.limit_kpa or not before_kpa - level_kpa >= FELL_KPA:
        return None
    if not LEAST_KPA <= level_kpa <= highest_kpa or _all_is_still(look, len(days)):
        return None
    begin = look.hour + first + 1
    facts = (
        Fact("fell from", before_kpa, "kPa"),
        Fact("to", level_kpa, "kPa"),
        Fact("since", begin * HOUR_US, "time"),
        Fact("days at that level", float(STOOD_DAYS)),
    )
    return Case(FindingKind.CRACKED_CUP, begin * HOUR_US, 0.8, facts)


def _all_is_still(look: Look, count: int) -> bool:
    """Whether a neighbour has stood as still."""
    others = (middles_of(n, look.hour, count) for n in look.neighbours.zone if look.trusts(n))
    return any(level_kpa == level_kpa for level_kpa in map(_level_kpa, others))


def _level_kpa(days: Sequence[float]) -> float:
    """The middle of its days, if all have the same; else NaN."""
    seen = sorted(day for day in days if day == day)
    if len(seen) < KNOWN * len(days):
        return NAN
    end = int(APART * len(seen))
    return seen[len(seen) // 2] if seen[-1 - end] - seen[end] <= SAME_KPA else NAN
