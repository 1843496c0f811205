"""A ceiling of tension: a tube that reads the same few kilopascals day after day, whatever the ground does above them.

A cracked cup lets in air once the soil draws harder than it can hold. Up to there it follows the soil; beyond, its days
have one and the same middle, again after every watering. Soil that stands still does so at all stations, or moves by
hundredths of what its neighbours do.
"""

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from parchd.diagnosis.clip_days import (
    DAY_H,
    KNOWN,
    PER_DAY,
    STEP_H,
    WINDOWS,
    dried_by,
    ends,
    is_wet_above,
    middles,
    middles_of,
    moved_by,
    moving,
    shaken_kpa,
    whom_to_ask,
)
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look, is_shallowest, median

EVERY_H = 12
HELD = "clip.held_kpa"
"""Note: the highest middle of a day that it has had."""
TOP_SHARE, ABOVE_SHARE = 0.05, 0.01
"""The ceiling is what so many of the days lie above; clearly above it lies next to none."""
ROOM_KPA, ROOM_SHARE = 0.08, 0.015
"""How far below the ceiling a day is still one at it."""
AT_SHARE, NOISY_SHARE, AT_DAYS, DEEP_DAYS = 0.3, 0.6, 4.0, 6.0
"""So many of the days are at it, most of them while its supply is noisy, and so many in all; more further down, where
soil itself moves little."""
LEAST_KPA, STILLER, STOOD_KPA = 2.0, 0.02, 0.08
"""What the neighbours must have moved meanwhile, what share of that it may have moved itself, and how much at most
in four weeks in which it never held more: soil that was wet all the time dries by hundredths a day."""
WEAK_LOG, STRONG_LOG = 0.3, 0.7
"""The same by the logarithm: the lower one is enough for a tube that has held more before."""
ABOVE_KPA, ABOVE_DAYS, ABOVE_HELD_KPA = 5.0, 14, 3.0
"""So much must soil above have moved, and so long, where none tells at its depth: deep soil stands still for days.
And what it may hold at most: sand that drains stands still at more for weeks."""
HELD_TIMES, HELD_KPA = 1.2, 0.5
STAYS = 0.85
"""What stays above this share of the ceiling has stood there all the time."""
DRAINS_DAYS, DRAINS_TIMES, DRAINS_KPA = 2, 1.3, 1.0
"""What had so little more two days before came down by draining; a cup that cracks falls from further up."""
ROOM_NOISES, ENDS_NOISES = 2.0, 2.5
"""While its supply is noisy: what its days differ by from one to the next, so many times, is no doing of the
soil's, which would go on from day to day."""
LOUD = 30.0
"""So many times that neighbours must have moved to stand out from it."""
LEFT, STOOD_DAYS = 0.7, 2
"""Below this share of it water came to a cracked cup too; so long it stood there before and after. Soil that stands
still never comes back to the very same level."""


class Clip(NamedTuple):
    """What was seen.

    Args:
        kpa: the ceiling.
        days: at it, in all.
        within: days looked back over.
        theirs_kpa: what the neighbours moved meanwhile, at least.
        held_kpa: what it held before; NaN: not known.
    """

    kpa: float
    days: float
    within: float
    theirs_kpa: float
    held_kpa: float

    def facts(self) -> tuple[Fact, ...]:
        rows = [
            Fact("held no more than", self.kpa, "kPa"),
            Fact("days at that level", self.days),
            Fact("within", self.within, "days"),
            Fact("neighbours moved meanwhile by", self.theirs_kpa, "kPa"),
        ]
        if self.held_kpa == self.held_kpa:
            rows.append(Fact("held before", self.held_kpa, "kPa"))
        return tuple(rows)


def clipped(look: Look, highest_kpa: float) -> Clip | None:
    """Look twice a day for a ceiling below a tension, in windows of four days to four weeks.

    Neighbours whose zero is off tell as well as others how the ground dries.
    """
    if look.hour % EVERY_H:
        return None
    held_kpa = _held_kpa(look)
    near = whom_to_ask(look)
    if look.now.mean_kpa > 2.0 * highest_kpa or not near:
        return None
    noise_kpa, week_h = shaken_kpa(look), WINDOWS[1] * DAY_H + DAY_H - STEP_H
    week = _at_ceiling(middles(moving(look, week_h)), highest_kpa, noise_kpa)
    if sum(week) < PER_DAY * WINDOWS[1] * AT_SHARE:
        return None
    days = middles(moving(look, WINDOWS[-1] * DAY_H))
    least = PER_DAY * (AT_DAYS if is_shallowest(look) else DEEP_DAYS)
    windows = WINDOWS[-2:] if noise_kpa else WINDOWS
    spans = (_at_ceiling(days[-PER_DAY * within :], highest_kpa, noise_kpa) for within in windows)
    clips = (_beside(look, days, at, near, held_kpa, noise_kpa) for at in spans if sum(at) >= least)
    return next((clip for clip in clips if clip is not None), None)


def _held_kpa(look: Look) -> float:
    """The highest middle of a day that it has had, and remember it; NaN: not known."""
    kept = look.standing.notes.get(HELD)
    day = look.past("mean_kpa", DAY_H)
    values = known(day)
    now_kpa = median(values) if len(values) >= KNOWN * DAY_H else NAN
    if not isinstance(kept, int | float):
        kept = now_kpa
    highest_kpa = max(kept, now_kpa) if now_kpa == now_kpa else kept
    if highest_kpa == highest_kpa:
        look.standing.notes[HELD] = round(highest_kpa, 2)
    return highest_kpa


def _at_ceiling(days: Sequence[float], highest_kpa: float, noise_kpa: float) -> list[bool]:
    """Which of the days are at their ceiling; none where there is no ceiling, or it is not below a tension."""
    ordered = sorted(known(days))
    if len(ordered) < KNOWN * len(days):
        return []
    top_kpa = ordered[-1 - int(TOP_SHARE * len(ordered))]
    room_kpa = _room_kpa(top_kpa, noise_kpa)
    above = sum(one > top_kpa + 2.0 * room_kpa for one in ordered)
    at = [one >= top_kpa - room_kpa for one in days]
    least = (NOISY_SHARE if noise_kpa else AT_SHARE) * len(ordered)
    return [] if top_kpa > highest_kpa or above > ABOVE_SHARE * len(ordered) or sum(at) < least else at


def _room_kpa(ceiling_kpa: float, noise_kpa: float) -> float:
    return ROOM_KPA + ROOM_SHARE * max(ceiling_kpa, 0.0) + ROOM_NOISES * noise_kpa


def _beside(
    look: Look,
    days: Sequence[float],
    at: Sequence[bool],
    near: Sequence[Standing],
    held_kpa: float,
    noise_kpa: float,
) -> Clip | None:
    """Compare what it moved at its ceiling with what every neighbour moved meanwhile."""
    low_kpa, high_kpa = ends([day for day, is_at in zip(days[-len(at) :], at, strict=True) if is_at])
    has_held, is_level = _has_held(held_kpa, high_kpa), near[0] in look.neighbours.level
    move = moved_by if has_held else dried_by  # Wet soil that water reached last has never held more.
    moved = [move(middles_of(n, look.hour, len(at)), at) for n in near]
    seen = [one for one in moved if one is not None]
    if not seen:
        return None
    kpa, logs = min(one[0] for one in seen), min(one[1] for one in seen)
    still_kpa = _still_kpa(days, at, high_kpa, kpa) + ENDS_NOISES * noise_kpa
    if kpa < max(LEAST_KPA, LOUD * noise_kpa) or high_kpa - low_kpa > still_kpa:
        return None
    if _drained(days, at, high_kpa, ROOM_NOISES * noise_kpa):
        return None
    if is_wet_above(look, at, high_kpa) and (noise_kpa or not _came_back(days, high_kpa)):
        return None
    if noise_kpa and not is_level:
        return None
    is_above = near[0].instrument.place.depth_m < look.instrument.place.depth_m and not is_level
    if is_above and (kpa < ABOVE_KPA or len(at) < PER_DAY * ABOVE_DAYS or high_kpa > ABOVE_HELD_KPA):
        return None
    least_log = WEAK_LOG if has_held and is_level else STRONG_LOG
    if logs < least_log or not (has_held or is_level):
        return None
    return Clip(high_kpa, sum(at) / PER_DAY, len(at) / PER_DAY, kpa, held_kpa)


def _still_kpa(days: Sequence[float], at: Sequence[bool], ceiling_kpa: float, theirs_kpa: float) -> float:
    """What it may have moved itself; less than nothing: unless it came down, all of the weeks are looked at."""
    if _has_held(max(known(days)), ceiling_kpa):
        return STILLER * theirs_kpa
    return min(STILLER * theirs_kpa, STOOD_KPA) if len(at) == len(days) else -inf


def _has_held(held_kpa: float, ceiling_kpa: float) -> bool:
    return held_kpa >= HELD_TIMES * ceiling_kpa + HELD_KPA


def _drained(days: Sequence[float], at: Sequence[bool], ceiling_kpa: float, room_kpa: float) -> bool:
    """Whether it came down to its level by and by, as soil does that drains, and stands at its lowest."""
    first = len(days) - len(at) + at.index(True)
    while first > 0 and STAYS * ceiling_kpa - room_kpa <= days[first - 1] <= ceiling_kpa + room_kpa:
        first -= 1
    before_kpa = days[max(0, first - DRAINS_DAYS * PER_DAY)]
    return ceiling_kpa < before_kpa < DRAINS_TIMES * ceiling_kpa + DRAINS_KPA


def _came_back(days: Sequence[float], ceiling_kpa: float) -> bool:
    """Whether water came between two stands at the very same level."""
    at = [abs(day - ceiling_kpa) <= ROOM_KPA for day in days]
    least = STOOD_DAYS * PER_DAY
    left = [number for number, day in enumerate(days) if day < LEFT * ceiling_kpa]
    return any(min(sum(at[:number]), sum(at[number:])) >= least for number in left)
