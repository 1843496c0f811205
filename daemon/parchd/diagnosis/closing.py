"""A gap around a cup that closes: water came to its neighbour, not to it, and then it leaps to what the ground has.

A sound cup falls with the soil, and relaxes. Behind a gap it stays where the gap opened, until that is filled.
"""

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import DRY_END, logarithm
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, is_shallowest

BACK_H = 72
WETTED_LOG = 0.2
"""By so much more a neighbour must have fallen by then, as a logarithm."""
OWN_LOG = 0.6
"""And it by no more than that itself: behind a gap it stays where that opened, and water that came has closed it."""
GAP_KPA = 3.0
"""A gap leads to what moist ground has, not to less."""


def has_closed(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether a leap ends a gap: a neighbour at its depth had become wetter in the days before it, and it had not.

    Further down water reaches one station days after another, and a leap may be anything.
    """
    before_kpa, most_kpa = look.standing.hours.at("last_kpa", hour - 1), DRY_END * look.instrument.limit_kpa
    if size_kpa > 0.0 or not is_shallowest(look) or not GAP_KPA - size_kpa <= before_kpa <= most_kpa:
        return False
    own = _fell(look.standing, hour)[1]
    theirs = (_fell(near, hour)[1] for near in look.neighbours.level if look.trusts(near))
    return own <= OWN_LOG and any(one - own >= WETTED_LOG for one in theirs)


def closing(look: Look, hour: int, size_kpa: float) -> Case:
    """Tell of the gap, from where its neighbour began to fall."""
    falls = [_fell(near, hour) for near in look.neighbours.level if look.trusts(near)]
    begin, _, theirs_kpa = max(falls, key=lambda fall: fall[1])
    facts = (
        Fact("fell by", abs(size_kpa), "kPa"),
        Fact("from", look.standing.hours.at("last_kpa", hour - 1), "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
        Fact("a neighbour had fallen before by", theirs_kpa, "kPa"),
        Fact("it had fallen itself by", _fell(look.standing, hour)[2], "kPa"),
    )
    return Case(FindingKind.POOR_CONTACT, begin * HOUR_US, 0.8, facts)


def _fell(standing: Standing, hour: int) -> tuple[int, float, float]:
    """Since when, and by how much, it had fallen just before an hour: as a logarithm, and in kPa; 0: it is silent."""
    last = standing.hours.column("last_kpa", hour - BACK_H, hour)
    now_kpa = last[-1]
    if now_kpa != now_kpa:
        return hour, 0.0, 0.0
    highest_kpa = max(known(last))
    return hour - BACK_H + last.index(highest_kpa), logarithm(highest_kpa) - logarithm(now_kpa), highest_kpa - now_kpa
