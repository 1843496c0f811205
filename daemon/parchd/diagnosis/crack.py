"""Tubes that stay wet and still while the ground dries: cracked cups, and water that was lost without a fall.

Days are compared with each other hour by hour: what the sun does to the gas in a tube comes again every day, and what
soil does goes on from day to day.
"""

from math import log

from parchd.diagnosis.clip_days import WET_KPA
from parchd.diagnosis.clipped import WEAK_LOG, Clip, clipped
from parchd.diagnosis.dry_around import dry_neighbours
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.steps import is_step
from parchd.diagnosis.stood import EVERY_H, stood
from parchd.diagnosis.tube import dry_end_fall, fall_facts, stands_in_water
from parchd.diagnosis.verdict import Case, Look, median

DAY_H, PART_H = 24, 6
"""Means of whole days are compared, one every few hours."""
HELD_KPA, LOWEST_KPA = 6.0, -2.0
"""What a cracked cup holds at most."""
STILL_KPA, STILL_SHARE = 0.3, 0.03
"""All its days lie within so much, and that share of its level: soil that was wetted drains, and then dries."""
TREND_KPA, TREND_DAYS = 0.2, 3
"""And the last of them no further apart: even slow soil dries on."""
FELL_LOG, FELL_KPA = 0.08, 1.0
"""Less is enough where it fell to its level while the ground was dry."""
FELL_DAYS, PLAIN_DAYS, PLAIN, PLAIN_ABOVE = 3, 2, 3, 2
"""How long it must stand at its level since; fewer where so many neighbours stayed dry, or, where none at its depth can
be trusted, so many further up: water would have come from there."""
WET_SOIL_KPA = 1.0
"""Below it free water nearby may be what holds it there."""
FELL_FROM_KPA, FELL_BY_KPA = 8.0, 4.0
SETTLED_H, WITHIN_H, FALL_DAYS = 5, 3, 8
CAME_H = 36
"""Water that came later than that did not lead there within hours."""
STUCK_S = 6 * 3600.0
GOES_WITH = 0.5
SAME_DEPTH_M = 0.12
MEMORY_H = 28 * DAY_H


def held_down(look: Look) -> Case | None:
    """Look for one that holds no more than a few kilopascals, however dry its neighbours are."""
    if look.hour % EVERY_H:
        return None
    clip = clipped(look, HELD_KPA)
    if look.now.mean_kpa > HELD_KPA + 3.0 or look.now.still_s > STUCK_S:
        return None
    if look.has(FindingKind.CRACKED_CUP, FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.FROZEN):
        return None
    return _fell(look) or (_left_behind(look, clip) if clip is not None else None) or stood(look, HELD_KPA)


def _stands_still(past: list[float], level_kpa: float) -> bool:
    """Whether every day of them has the same mean, wherever the day begins."""
    means = [_mean(past[end - DAY_H : end]) for end in range(len(past), DAY_H - 1, -PART_H)]
    days = [means[min(len(means) - 1, days * DAY_H // PART_H)] for days in range(1, TREND_DAYS + 1)]
    apart_kpa = max(means) - min(means)
    trend_kpa = max(abs(means[0] - mean) for mean in (*days, means[-1]))
    return apart_kpa <= STILL_KPA + STILL_SHARE * max(level_kpa, 0.0) and trend_kpa <= TREND_KPA


def _mean(day: list[float]) -> float:
    """Mean of a day; NaN: too little of it is known."""
    values = known(day)
    return sum(values) / len(values) if len(values) >= 0.8 * len(day) else NAN


def _fell(look: Look) -> Case | None:
    """It fell to its level within hours, while the ground was dry, and has stood there since, day by day."""
    past = look.past("mean_kpa", 2 * DAY_H)
    level_kpa = _mean(past[DAY_H:])
    if not LOWEST_KPA <= level_kpa <= HELD_KPA or not _stands_still(past, level_kpa) or _is_free(look, level_kpa):
        return None
    fall = _fall_to(look, level_kpa)
    if fall is None:
        return None
    settled_h = look.hour - fall.begin - SETTLED_H
    if not _stands_still(look.past("mean_kpa", settled_h), level_kpa):
        return None
    seen = dry_neighbours(look, fall, CAME_H)
    near = [n for n in seen if n in look.neighbours.level]
    has_level = any(look.trusts(n) for n in look.neighbours.level)
    days, is_plain = settled_h // DAY_H, len(seen) >= (PLAIN if has_level else PLAIN_ABOVE)
    if not (near if has_level else is_plain) or days < (PLAIN_DAYS if is_plain else FELL_DAYS):
        return None
    if _is_exchanged(look, days, FELL_LOG):
        return None
    gains = [_gain(n, look, days) for n in near]
    if not is_plain and not all(log_gain >= FELL_LOG and kpa >= FELL_KPA for kpa, log_gain in gains):
        return None
    facts = (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", level_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
        Fact("neighbours that stayed dry", len(seen)),
    )
    return Case(FindingKind.CRACKED_CUP, fall.begin * HOUR_US, 0.85, facts)


def _fall_to(look: Look, level_kpa: float) -> Fall | None:
    """The quick fall to where it stands, that neither water nor a hand nor a step of the transducer explains."""
    for fall in reversed(look.standing.falls[-4:]):
        age_h = look.hour - fall.begin
        if age_h < SETTLED_H + PLAIN_DAYS * DAY_H:
            continue
        if age_h > FALL_DAYS * DAY_H or fall.explained is True:
            return None
        if fall.from_kpa < FELL_FROM_KPA or fall.from_kpa - level_kpa < FELL_BY_KPA:
            continue
        if fall.half_hour - fall.begin > WITHIN_H or _is_sharp(look, fall, level_kpa):
            return None
        return None if someone_was_there(look, fall.begin + 1) else fall
    return None


def _is_sharp(look: Look, fall: Fall, level_kpa: float) -> bool:
    """Whether it was one step: a transducer's level does that; a cup that lets in air takes some hours."""
    size_kpa = level_kpa - fall.from_kpa
    return any(is_step(look.standing, hour, size_kpa) for hour in range(fall.begin, fall.begin + WITHIN_H + 1))


def _left_behind(look: Look, clip: Clip) -> Case | None:
    """It stands at a ceiling of a few kilopascals while all neighbours at its depth dry."""
    is_slow = look.has(FindingKind.SLOW_RESPONSE)
    is_wet = clip.kpa < WET_SOIL_KPA and stands_in_water(look)
    if is_slow or is_wet or _is_exchanged(look, round(clip.within), WEAK_LOG):
        return None
    if broken := dry_end_fall(look):
        return Case(FindingKind.AIR_ENTRY, broken.begin * HOUR_US, 0.75, (*clip.facts(), *fall_facts(broken)))
    kind = FindingKind.LOST_WATER if _is_free(look, clip.kpa) else FindingKind.CRACKED_CUP
    return Case(kind, _start_of_wet(look, clip.kpa) * HOUR_US, 0.75, clip.facts())


def _gain(standing: Standing, look: Look, days: int) -> tuple[float, float]:
    """What a neighbour gained since the same hours so many days before: in kPa, and by the logarithm."""
    begin = look.hour + 1 - DAY_H * days - PART_H
    first = median(standing.hours.column("mean_kpa", begin, begin + PART_H))
    last = median(standing.hours.column("mean_kpa", look.hour + 1 - PART_H, look.hour + 1))
    if first != first or last != last:
        return 0.0, 0.0
    return last - first, log((max(last, 0.0) + WET_KPA) / (max(first, 0.0) + WET_KPA))


def _is_exchanged(look: Look, days: int, gain_log: float) -> bool:
    """Whether another depth of its station does what its neighbours do, and its own neighbours do not."""
    for other in look.neighbours.station:
        beside = [n for n in look.neighbours.zone if _is_beside(n, other) and look.trusts(n)]
        theirs = _gain(other, look, days)[1]
        goes_with = theirs >= GOES_WITH * gain_log
        if goes_with and beside and all(_gain(n, look, days)[1] < GOES_WITH * theirs for n in beside):
            return True
    return False


def _is_beside(one: Standing, other: Standing) -> bool:
    """Whether they stand as deep as each other at two stations."""
    here, there = one.instrument.place, other.instrument.place
    return here.station != there.station and abs(here.depth_m - there.depth_m) <= SAME_DEPTH_M


def _is_free(look: Look, level_kpa: float) -> bool:
    """Whether it reads free water itself: a cracked cup would read none."""
    return level_kpa < -0.3 - 0.25 * look.instrument.head_kpa


def _start_of_wet(look: Look, highest_kpa: float) -> int:
    """Since when it has held no more."""
    start = look.hour
    for back, value in enumerate(reversed(look.past("mean_kpa", MEMORY_H))):
        if value == value:
            if value > highest_kpa + 1.0:
                break
            start = look.hour - back
    return start
