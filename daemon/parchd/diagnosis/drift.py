"""A zero that drifts: in soil that water has just filled it reads less than free water, or slides from fall to fall."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from parchd.contract import JsonValue
from parchd.diagnosis.dry_around import sees_above
from parchd.diagnosis.factors import total_change
from parchd.diagnosis.falls_seen import seen_falls
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap_in_doubt import SEASON_H, leap_in_doubt_kpa, look_back
from parchd.diagnosis.not_empty import dries
from parchd.diagnosis.shift_back import SIZE
from parchd.diagnosis.slides import FOUND, USUAL, slides
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import days, middle
from parchd.diagnosis.tube import EMPTY_KPA, EMPTY_SHARE, dry_end_fall, fall_facts, leapt
from parchd.diagnosis.verdict import Case, Look, Over, above, is_shallowest
from parchd.diagnosis.wettest import ABOUT_SHARE, BEFORE_H, leaked_away, lowest, stands_by_empty, wettest
from parchd.diagnosis.zero_record import KPA_PER_M, NO_SOIL

EVERY_H = 24
LOW = "drift.low"
"""Note: hours of the days on which it read less than free water beside neighbours that did not."""
LEAPT = "drift.leapt"
"""Note: the hour of the look that saw it leap to there."""
RIGHT_KPA = 1.5

FREE_KPA, CLEAR_KPA = -1.0, -2.0
"""Six hours below it, the wettest of a day: calibration errors stay above. In the end it must read still less, for
ground beside dry ground may hold a little free water for days."""
APART_KPA, STANDING_KPA = 1.5, -0.3
"""How much more the neighbours read, and what they read where no free water stands."""
LOW_DAYS, LOW_SPAN_H, WITHIN_H = 3, 4 * 24, 21 * 24
DEEP_DAYS, DEEP_SPAN_H = 5, 7 * 24
"""Further down free water stands for days where it cannot drain."""
MOIST_KPA = 6.0
"""Field capacity: drier ground beside it got no water, so what stands over this cup alone is in its hole, and real."""
DRY_KPA = 12.0
"""Neighbours that are drier got no water: then a fall from the dry end to less than free water was air."""
LEAP_H = 3
MOVES_H, MOVES_SHARE = 10 * 24, 0.35
"""How much of what a neighbour's days bring."""
DRIFTS_KPA_D = 0.3
"""No zero drifts faster."""
LEAPT_KPA = -3.5
"""What leapt so far amid water did not leak away."""


def watch(look: Look) -> Iterator[Case | Over]:
    """Look once a day at what it read in wet soil."""
    look_back(look)
    if look.has(FindingKind.ZERO_DRIFT):
        if _is_right_again(look):
            yield Over(FindingKind.ZERO_DRIFT, look.now_us)
        return
    case = dries(look)
    if case is None and not look.has(*NO_SOIL):
        case = _below_water(look) or slides(look)
    if case is not None:
        yield case


def _is_right_again(look: Look) -> bool:
    """Whether the last two falls since then stopped where they used to."""
    usual, found = look.standing.notes.get(USUAL), look.standing.notes.get(FOUND)
    if not isinstance(usual, int | float) or not isinstance(found, int):
        return False
    falls = [fall for fall in seen_falls(look)[-2:] if fall.begin > found]
    return len(falls) == 2 and all(abs(fall.floor_kpa - usual) <= RIGHT_KPA for fall in falls)


def _below_water(look: Look) -> Case | None:
    """It reads less than free water, on several days, while no free water stands at its neighbours."""
    own_kpa = lowest(look)
    if not own_kpa < FREE_KPA:
        look.standing.notes.pop(LEAPT, None)
        return None
    if _has_leapt(look) and not leap_in_doubt_kpa(look, own_kpa - FREE_KPA):
        return None
    others = [n for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n)]
    if not others or not all(_is_drier(n, look, own_kpa) for n in others) or not sees_above(look):
        return None
    if _water_stands_below(look, own_kpa) or not (_is_moist_around(look) or _sinks_on(look, own_kpa)):
        return None
    hours = _low_hours(look)
    if _may_be_exchanged(look, min(own_kpa, *known(wettest(look.standing, hour) for hour in hours))):
        return None
    least, span_h = (LOW_DAYS, LOW_SPAN_H) if is_shallowest(look) else (DEEP_DAYS, DEEP_SPAN_H)
    if len(hours) < least or hours[-1] - hours[0] < span_h:
        return None
    theirs_kpa = middle(known(wettest(n, look.hour) for n in others))
    facts = (
        Fact("read in the wettest hours of the last day", own_kpa, "kPa"),
        Fact("neighbours read", theirs_kpa, "kPa"),
        Fact("days below free water", len(hours)),
    )
    case = Case(FindingKind.ZERO_DRIFT, (hours[0] - 23) * HOUR_US, 0.85, facts)
    return _emptied(look, others, hours[0], case) or _zero_moved(look, own_kpa, others, hours[0], case)


def _emptied(look: Look, others: Sequence[Standing], first: int, case: Case) -> Case | None:
    """See that no zero has moved: the tube lost its water, or broke at the dry end."""
    fall, is_near = dry_end_fall(look), stands_by_empty(look, ABOUT_SHARE * look.instrument.head_kpa)
    if fall is not None and (is_near or middle(known(wettest(n, look.hour) for n in others)) >= DRY_KPA):
        facts = (*case.facts, *fall_facts(fall))
        return replace(case, kind=FindingKind.AIR_ENTRY, start_us=fall.begin * HOUR_US, confidence=0.8, facts=facts)
    leaked = is_near and not leap_in_doubt_kpa(look, LEAPT_KPA) and leaked_away(look, others, first)
    return replace(case, kind=FindingKind.LOST_WATER, confidence=0.75) if leaked else None


def _zero_moved(look: Look, own_kpa: float, others: Sequence[Standing], first: int, case: Case) -> Case | None:
    """Let it be a drift, or a shift if it leapt; ``None``: it is not plain, keeps still, may be empty, or came fast."""
    about_kpa = EMPTY_KPA + EMPTY_SHARE * look.instrument.head_kpa
    if own_kpa > CLEAR_KPA or not _moves(look, first) or stands_by_empty(look, about_kpa, EVERY_H):
        return None
    size_kpa = leap_in_doubt_kpa(look, own_kpa - FREE_KPA, SEASON_H)
    if not size_kpa and not _was_led(look, first) and leaked_away(look, others, first):
        return None
    look.standing.notes[FOUND], look.standing.notes[USUAL] = look.hour, RIGHT_KPA + STANDING_KPA
    if not size_kpa:
        return case
    look.standing.notes[SIZE] = size_kpa
    return replace(case, kind=FindingKind.LEVEL_SHIFT, confidence=0.7)


def _was_led(look: Look, first: int) -> bool:
    """Whether water that reached neighbours, too, had led it there."""
    lately = (fall for fall in look.standing.falls if first - BEFORE_H <= fall.begin <= first)
    return any(fall.why == "neighbours" and fall.low_kpa < FREE_KPA for fall in lately)


def _low_hours(look: Look) -> list[int]:
    """The days on which it read so, this one added."""
    kept = look.standing.notes.get(LOW)
    hours = [one for one in kept if isinstance(one, int)] if isinstance(kept, list) else []
    hours = [one for one in hours if one > look.hour - WITHIN_H] + [look.hour]
    rows: list[JsonValue] = [*hours]
    look.standing.notes[LOW] = rows
    return hours


def _moves(look: Look, first: int) -> bool:
    """Whether it goes up and down as neighbours do: a wrong unit shrinks that too, and standing water stills all.

    Also since it first read less than free water; or it would without what a zero takes off from day to day, and does
    within each.
    """
    level, station = ([n for n in near if look.trusts(n)] for near in (look.neighbours.level, look.neighbours.station))
    tubes, since = [look.standing, *(level or station)], first + 1
    if not _keeps_up([_change_kpa(one, look.hour + 1 - MOVES_H, look.hour) for one in tubes]):
        return False
    own_kpa, *theirs_kpa = (_change_kpa(one, since, look.hour) for one in tubes)
    drifted_kpa = DRIFTS_KPA_D * (look.hour - first) / 24.0
    swings = [_swings_kpa(one, since, look.hour) for one in tubes]
    held = _keeps_up([own_kpa + drifted_kpa, *theirs_kpa]) and _keeps_up(swings)
    return held or _keeps_up([own_kpa, *theirs_kpa])


def _keeps_up(moved_kpa: Sequence[float]) -> bool:
    own_kpa, *theirs_kpa = moved_kpa
    return own_kpa >= MOVES_SHARE * min(theirs_kpa)


def _change_kpa(standing: Standing, begin: int, hour: int) -> float:
    return total_change(known(days(standing.hours.column("mean_kpa", begin, hour + 1))))


def _swings_kpa(standing: Standing, begin: int, hour: int) -> float:
    """From the lowest to the highest hour of each day, all days together."""
    values = standing.hours.column("mean_kpa", begin, hour + 1)
    each = (known(values[first : first + 24]) for first in range(0, len(values), 24))
    return sum(max(day) - min(day) for day in each if day)


def _is_moist_around(look: Look) -> bool:
    """Whether water came to its neighbours as well; further down it may stand for long where they have none."""
    level = known(wettest(n, look.hour) for n in look.neighbours.level if look.trusts(n))
    return not level or not is_shallowest(look) or min(level) <= MOIST_KPA


def _sinks_on(look: Look, own_kpa: float) -> bool:
    """Whether it reads less than free water since yesterday, and ever less: water in a hole runs out within days."""
    return own_kpa <= wettest(look.standing, look.hour - EVERY_H) <= FREE_KPA


def _has_leapt(look: Look) -> bool:
    """Whether it leapt to where it reads less than free water, and stayed there: no zero drifts so."""
    notes, first = look.standing.notes, look.hour - EVERY_H - LEAP_H
    if any(leapt(look, fall) for fall in look.standing.falls[-3:] if fall.begin >= first and fall.low_kpa < FREE_KPA):
        notes[LEAPT] = look.hour
    return LEAPT in notes


def _is_drier(neighbour: Standing, look: Look, own_kpa: float) -> bool:
    """Whether a neighbour is drier than where that much free water stands nearby; also where it is silent.

    Water that does stand further up its own station weighs no more than the column down to it.
    """
    above_m = max(0.0, look.instrument.place.depth_m - neighbour.instrument.place.depth_m)
    least_kpa = own_kpa + KPA_PER_M * above_m + APART_KPA
    if neighbour not in above(look):
        least_kpa = max(least_kpa, STANDING_KPA)
    return not wettest(neighbour, look.hour) < least_kpa


def _water_stands_below(look: Look, own_kpa: float) -> bool:
    """Whether a deeper one of its station reads the water that would stand over both, even one that has a finding."""
    depth_m = look.instrument.place.depth_m
    deeper = [n for n in look.neighbours.station if n.instrument.place.depth_m > depth_m]
    stands = ((n, own_kpa - KPA_PER_M * (n.instrument.place.depth_m - depth_m)) for n in deeper)
    return any(wettest(n, look.hour) <= reads_kpa + APART_KPA for n, reads_kpa in stands)


def _may_be_exchanged(look: Look, least_kpa: float) -> bool:
    """Whether it may be the signal of the cup above, which hangs on a shorter column of water.

    Args:
        least_kpa: what it read on the wettest of these days.
    """
    head_kpa = look.instrument.head_kpa
    return any(least_kpa + head_kpa - n.instrument.head_kpa >= STANDING_KPA for n in look.neighbours.station)
