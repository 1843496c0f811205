"""How wet a tensiometer may be believed to be: a fall counts only when something explains it."""

from parchd.diagnosis.findings import FindingKey
from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look

LEAST_FALL_KPA = 2.0
FALL_SHARE = 0.1
FORGET_HOURS = 96
FOLLOW_HOURS = 36
LASTING_HOURS, LONGER_HOURS = 3, 12
"""A fall must have lasted so long: contacts that fail on all channels look like water for an hour; longer where that is
known to happen."""


def held_kpa(standing: Standing, tension_kpa: float) -> float:
    """Tension for clearing alarms: the ceiling where the reading is lower without an explanation."""
    limit = standing.ceiling_kpa
    if limit != limit or tension_kpa >= limit - max(LEAST_FALL_KPA, FALL_SHARE * limit):
        return tension_kpa
    return limit


def watch(look: Look) -> None:
    """Follow the highest believed tension; a fall that is explained brings the ceiling down with it.

    A ceiling that nothing came of in four days is forgotten: then the reading is believed.
    """
    standing = look.standing
    dropping = FindingKey(FindingKind.DROP_OUTS, f"source/{look.instrument.source}") in look.state.findings
    highs = known(look.past("high_kpa", LONGER_HOURS if dropping else LASTING_HOURS))
    if not highs or standing.hours.at("good", look.hour) == 0:
        return
    now = max(highs)
    newest = standing.falls[-1] if standing.falls else None
    follows = newest is not None and newest.explained is True and look.hour - newest.begin <= FOLLOW_HOURS
    if follows or not standing.ceiling_kpa > now:
        standing.ceiling_kpa, standing.ceiling_hour = now, look.hour
    elif look.hour - standing.ceiling_hour > FORGET_HOURS:
        recent = known(look.past("high_kpa", FORGET_HOURS // 2))
        standing.ceiling_kpa = max(recent, default=NAN)
        standing.ceiling_hour = look.hour
