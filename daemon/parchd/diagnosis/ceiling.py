"""How wet a tensiometer may be believed to be: a fall counts only when something explains it."""

from parchd.diagnosis.findings import FindingKey
from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Look

LEAST_FALL_KPA = 2.0
FALL_SHARE = 0.1
FORGET_HOURS = 96
FOLLOW_HOURS = 36
LEARNING_HOURS = 24
"""One that was read for less is taken at its word."""
LASTING_HOURS = 3
"""A fall must have lasted so long: contacts that fail on all channels look like water for an hour."""
QUIET_HOURS = 8
"""And the reading must stand still so long where contacts are known to fail, or where depths far apart fell at once."""
APART_M = 0.2
DRY_END, COLLAPSE_SHARE = 0.85, 0.5
"""Above this share of the usable limit a fall of so much of its size within an hour may be air."""
NEAR_HOURS = 6


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
    if len(standing.hours) < LEARNING_HOURS or not look.now.good:
        return
    now = _lasting(look)
    if now != now:
        return
    if _follows(look) or not standing.ceiling_kpa > now:
        standing.ceiling_kpa, standing.ceiling_hour = now, look.hour
    elif look.hour - standing.ceiling_hour > FORGET_HOURS:
        recent = known(look.past("high_kpa", FORGET_HOURS // 2))
        standing.ceiling_kpa = max(recent, default=NAN)
        standing.ceiling_hour = look.hour


def _lasting(look: Look) -> float:
    """The highest of the last hours."""
    highest = look.now.high_kpa
    for hour in range(max(look.standing.since, look.hour - LASTING_HOURS + 1), look.hour):
        value = look.standing.hours.at("high_kpa", hour)
        if not value <= highest and value == value:
            highest = value
    return highest


def _follows(look: Look) -> bool:
    """Whether its newest fall was water."""
    falls = look.standing.falls
    if not falls or falls[-1].explained is not True or look.hour - falls[-1].begin > FOLLOW_HOURS:
        return False
    if _may_be_air(look, falls[-1]):
        return False
    return not _may_be_wiring(look, falls[-1]) or _is_quiet(look, falls[-1])


def _may_be_air(look: Look, fall: Fall) -> bool:
    """Whether it collapsed at the dry end while no neighbour fell: water of half a day before explains nothing."""
    if fall.from_kpa < DRY_END * look.instrument.limit_kpa or fall.steepest_kpa < COLLAPSE_SHARE * fall.size_kpa:
        return False
    falls = (other for one in look.neighbours.zone for other in one.falls[-6:])
    return not any(abs(other.begin - fall.begin) <= NEAR_HOURS for other in falls)


def _is_quiet(look: Look, fall: Fall) -> bool:
    """Whether it has stood still since, as wet soil does and a bad contact does not."""
    highs = known(look.past("high_kpa", QUIET_HOURS))
    return len(highs) > QUIET_HOURS // 2 and max(highs) - min(highs) <= max(
        LEAST_FALL_KPA, FALL_SHARE / 2 * fall.from_kpa
    )


def _may_be_wiring(look: Look, fall: Fall) -> bool:
    """Whether a fall may be that of a contact: such are known there, or all channels fell at once, at any depth."""
    if FindingKey(FindingKind.DROP_OUTS, f"source/{look.instrument.source}") in look.state.findings:
        return True
    others = look.neighbours.source
    deepest_m = max((abs(o.instrument.place.depth_m - look.instrument.place.depth_m) for o in others), default=0.0)
    return deepest_m >= APART_M and all(o.falls and abs(o.falls[-1].begin - fall.begin) <= 1 for o in others)
