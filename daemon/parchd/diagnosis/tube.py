"""What is asked of a tube in several ways: is it empty, which fall led there, what else may have?"""

import math
from itertools import pairwise

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import leap_kpa
from parchd.diagnosis.shift_back import SIZE
from parchd.diagnosis.standing import Fall
from parchd.diagnosis.verdict import Look, median

EMPTY_KPA, EMPTY_SHARE = 0.4, 0.05
BELOW = 2.2
"""By how many times what an empty tube may be off nothing is read below it."""
LEAST_HEAD_KPA = 1.5
ICE_C = 0.5
DRY_END, CAME_FROM = 0.85, 0.8
"""Above the first share of the usable limit a sudden fall is air until water is seen; and above the second if the tube
was empty in the end, for means of an hour miss the top."""
LEAP_SHARE = 0.7
"""Of a fall that came from one sample to the next."""
BROKEN_H = 24 * 12
STATION_FREE_KPA = 0.3
SERVED_H = 24
"""A tube that somebody opened may take so long to fill through a cup that is slow, or hardly touches the soil."""

OFFSETS = (FindingKind.FROZEN, FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT, FindingKind.SWAPPED)
"""What these add to a reading can look like an empty tube."""


def lost_kpa_of(look: Look) -> float | None:
    """What it reads without water; ``None``: that cannot be told from wet soil."""
    head_kpa = look.instrument.head_kpa
    return -head_kpa if head_kpa >= LEAST_HEAD_KPA else None


def shifted_kpa(look: Look) -> float:
    """What a level that shifted adds to all that is read; 0: none that is known."""
    size_kpa = look.standing.notes.get(SIZE)
    known_kpa = size_kpa if isinstance(size_kpa, int | float) else 0.0
    return float(known_kpa) if look.has(FindingKind.LEVEL_SHIFT) else 0.0


def is_empty(value_kpa: float, lost_kpa: float) -> bool:
    return abs(value_kpa - lost_kpa) <= EMPTY_KPA + EMPTY_SHARE * -lost_kpa


def reads_below_empty(look: Look, hours: int) -> bool:
    """Whether it read less than an empty tube can for two hours of some: then it only passes by, or leapt past it.

    A wire that drops out for one hour, or a hand on the tube, can lead lower than anything.
    """
    head_kpa = look.instrument.head_kpa
    least_kpa = -head_kpa - BELOW * (EMPTY_KPA + EMPTY_SHARE * head_kpa)
    return any(early < least_kpa and late < least_kpa for early, late in pairwise(look.past("mean_kpa", hours)))


def was_cold(look: Look) -> bool:
    """Ice pushes, and reads like free water."""
    return any(value < ICE_C for value in look.past("temperature_c", 36))


def fall_behind(look: Look) -> Fall | None:
    """The fall that led to what it reads now."""
    falls = look.standing.falls
    if not falls or look.hour - falls[-1].low_hour > 48:
        return None
    now_kpa, fall = median(look.past("mean_kpa", 3)), falls[-1]
    return fall if abs(now_kpa - fall.low_kpa) < max(1.5, 0.3 * fall.size_kpa) else None


def origin(look: Look) -> Fall | None:
    """The fall that led here, or an earlier one from which it never rose again."""
    fall = fall_behind(look)
    if fall is None:
        return None
    for earlier in reversed(look.standing.falls[:-1]):
        between = known(look.standing.hours.column("high_kpa", earlier.low_hour, fall.begin + 1))
        rose = not between or max(between) > earlier.low_kpa + max(1.0, 0.06 * earlier.size_kpa)
        if rose or earlier.size_kpa < 0.5 * fall.size_kpa:
            break
        fall = earlier
    return fall


def leapt(look: Look, fall: Fall) -> bool:
    """Whether most of a fall came from one sample to the next."""
    return any(
        leap_kpa(look.standing, hour) <= -LEAP_SHARE * fall.size_kpa for hour in range(fall.begin, fall.begin + 3)
    )


def dry_end_fall(look: Look) -> Fall | None:
    """The fall from the dry end that it never came back from: there the air got in."""
    for fall in reversed(look.standing.falls):
        if look.hour - fall.begin > BROKEN_H:
            return None
        if fall.from_kpa >= CAME_FROM * look.instrument.limit_kpa:
            later = known(look.standing.hours.column("high_kpa", fall.low_hour, look.hour + 1))
            return fall if max(later, default=0.0) < 0.5 * fall.from_kpa else None
    return None


def silent_since_dry(look: Look, begin: int) -> tuple[int, float] | None:
    """Give the first hour after a silence, up to an hour, and the tension at the dry end that was read just before it.

    ``None``: there was no such silence, or it has read more than free water since.
    """
    past = look.past("mean_kpa", BROKEN_H, until=begin - 1)
    dry = [number for number, value in enumerate(past) if value >= CAME_FROM * look.instrument.limit_kpa]
    later = past[dry[-1] + 1 :] if dry else []
    if not later or later[0] == later[0] or max(known(later), default=-math.inf) >= 0.0:
        return None
    silent_h = next((number for number, value in enumerate(later) if value == value), len(later))
    return begin - len(later) + silent_h, past[dry[-1]]


def stands_in_water(look: Look) -> bool:
    """Whether the station's other depths read free water as well: then it is there."""
    return any(n.hours.at("mean_kpa", look.hour) < STATION_FREE_KPA for n in look.neighbours.station)


def fall_facts(fall: Fall | None) -> tuple[Fact, ...]:
    if fall is None:
        return ()
    return (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", fall.low_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
    )


def may_be_filling(look: Look, fall: Fall) -> bool:
    """Whether it fell within the last day when somebody was at the tubes: then it may still be on its way up."""
    return look.hour - fall.begin < SERVED_H and someone_was_there(look, fall.begin + 1)
