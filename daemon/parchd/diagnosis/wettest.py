"""The wettest hours of a day: there a zero shows that is off, and a tube that leaked away amid noise."""

from collections.abc import Sequence

from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.tube import lost_kpa_of
from parchd.diagnosis.verdict import Look

WETTEST_H, DAY_H = 6, 24
BEFORE_H, DAYS_H = 3 * 24, 3 * 24
CAME_KPA, STAYED_DRY = 3.5, 0.75
"""So much less within days than no zero drifts by, while neighbours kept so much of what they read."""
ABOUT_SHARE = 0.35
"""How near to where an empty tube stands, in terms of its head: noise hides the rest."""


def wettest(standing: Standing, hour: int) -> float:
    """Lowest median of six hours of the last day; NaN: nothing is known."""
    values = standing.hours.column("mean_kpa", hour + 1 - DAY_H, hour + 1)
    parts = [known(values[begin : begin + WETTEST_H]) for begin in range(0, DAY_H, WETTEST_H)]
    return min((middle(part) for part in parts if part), default=NAN)


def lowest(look: Look) -> float:
    """The same of its own; where its source shakes all of them, what it read as often above as below."""
    own_kpa = wettest(look.standing, look.hour)
    if not look.source_has(FindingKind.NOISY_SUPPLY):
        return own_kpa
    return max(own_kpa, middle(known(look.past("mean_kpa", DAY_H)) or [NAN]))


def stands_by_empty(look: Look, about_kpa: float, part_h: int = DAYS_H) -> bool:
    """Whether for days it has read, more or less, what an empty tube reads.

    Args:
        about_kpa: give or take so much.
        part_h: hours of which the middle counts.
    """
    lost_kpa, past = lost_kpa_of(look), look.past("mean_kpa", DAYS_H)
    parts = [middle(known(past[first : first + part_h]) or [NAN]) for first in range(0, DAYS_H, part_h)]
    return lost_kpa is not None and all(abs(part - lost_kpa) <= about_kpa for part in parts)


def leaked_away(look: Look, others: Sequence[Standing], first: int) -> bool:
    """Whether it came by itself to about where an empty tube stands: noise may hide that it keeps still there.

    Args:
        others: whose ground got no water then.
        first: the hour of the look that first saw it read less than free water.
    """
    before, after = first - BEFORE_H, first + DAY_H
    fell_kpa = wettest(look.standing, before) - wettest(look.standing, after)
    return fell_kpa >= CAME_KPA and all(_stayed_dry(n, before, after) for n in others)


def _stayed_dry(neighbour: Standing, before: int, after: int) -> bool:
    """Whether none of the days brought it water, also where it has dried again since."""
    least_kpa = STAYED_DRY * wettest(neighbour, before)
    return all(wettest(neighbour, hour) >= least_kpa for hour in range(before + DAY_H, after + 1, DAY_H))
