"""The column of water: lost, pulled apart at the dry end, or never held because the cup is cracked."""

from collections.abc import Iterator
from dataclasses import replace

from parchd.diagnosis import trends
from parchd.diagnosis.behind_unit import emptied
from parchd.diagnosis.collapse import RIPPLE_KPA, RIPPLED_H, collapsed, collapsed_again
from parchd.diagnosis.crack import held_down
from parchd.diagnosis.decay import decaying
from parchd.diagnosis.falls import SWINGS, steady_swing_kpa, witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, hour_of, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.not_empty import was_not_empty
from parchd.diagnosis.sinking import sinking
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.tube import (
    LEAST_HEAD_KPA,
    OFFSETS,
    dry_end_fall,
    fall_facts,
    is_empty,
    leapt,
    lost_kpa_of,
    may_be_filling,
    origin,
    reads_below_empty,
    shifted_kpa,
    silent_since_dry,
    stands_in_water,
    was_cold,
)
from parchd.diagnosis.verdict import Case, Look, median
from parchd.diagnosis.wettest import stands_by_empty

EMPTY_H, UNSEEN_H, WET_AROUND_H, FLOODED_H = 4, 15, 30, 96
"""So long the weight of its water must be missing; longer where water led there, where neighbours are wet, or stand in
free water."""
HALF_A_DAY_H = 12
"""And so long where its days swing far: the bottom of a swing lasts some hours."""
WET_AROUND_KPA, FREE_KPA = 2.5, -0.8
DAYS, ABOUT_SHARE, STILL_KPA, LEFT_SHARE = 3, 0.35, 1.2, 0.15
"""Where its level is off already: days, how near to empty, how still, and how little of what neighbours gain."""
PLAIN_RISE_KPA = 6.0
"""So much neighbours must gain where an offset is known, and it stands where a tube without one would."""
PART_H = 6
"""Soil beside a zero that is off swings through what an empty tube reads with every day; of that nothing draws."""
CAME_DAYS = 10
"""So long before it read no less, nor less than an empty tube can: one that loses its water comes down to there."""
BEFORE_H, OFF_KPA = 8, -0.5
SINK_H, SINK_SHARE = 5, 0.5
DRY_AROUND_KPA = 4.0


def watch(look: Look) -> Iterator[Case]:
    """Look for a tensiometer that lost its water, took in air, or has a cracked cup."""
    case = _case(look)
    if case is not None:
        yield case


def _case(look: Look) -> Case | None:
    is_known = look.has(FindingKind.AIR_ENTRY, FindingKind.LOST_WATER)
    if look.has(FindingKind.WRONG_UNIT):
        return None if is_known else emptied(look)
    if is_known:
        return collapsed_again(look)
    falls = () if look.has(FindingKind.CRACKED_CUP) else (collapsed,)
    cases = (judge(look) for judge in (_empty, *falls, _sinks_on, sinking, decaying, held_down))
    case = next((one for one in cases if one is not None), None)
    return None if case is None else _from_the_dry_end(look, case)


def _from_the_dry_end(look: Look, case: Case) -> Case:
    """Call lost water air entry where it began with a fall from the dry end, or was silent since it was there."""
    if case.kind is not FindingKind.LOST_WATER:
        return case
    broken = dry_end_fall(look)
    came = silent_since_dry(look, hour_of(case.start_us)) if broken is None else (broken.begin, broken.from_kpa)
    if came is None:
        return case
    hour, from_kpa = came
    facts = case.facts
    if Fact("fell from", from_kpa, "kPa") not in facts:
        facts = (*facts, Fact("it had fallen from", from_kpa, "kPa"))
    return replace(case, kind=FindingKind.AIR_ENTRY, start_us=hour * HOUR_US, facts=facts)


def _empty(look: Look) -> Case | None:
    """Nothing hangs on the transducer: corrected for a column that is not there, it reads minus its head."""
    lost_kpa, now_kpa = lost_kpa_of(look), look.now.mean_kpa
    if lost_kpa is None or look.has(FindingKind.FROZEN):
        return None
    if look.has(*OFFSETS):
        return _empty_though_off(look, lost_kpa)
    if (now_kpa == now_kpa and not is_empty(now_kpa, lost_kpa)) or was_cold(look):
        return None
    fall = _led_here(look)
    if fall is not None and _was_off(look, fall):
        return _empty_for_days(look, lost_kpa)
    if reads_below_empty(look, 24 * CAME_DAYS) or (fall is not None and may_be_filling(look, fall)):
        return None
    hours = _hours_wanted(look, fall)
    recent = known(look.past("mean_kpa", hours + hours // 2))[-hours:]
    if len(recent) < 0.9 * hours or not all(is_empty(value, lost_kpa) for value in recent):
        return None
    start = _first_empty(look, lost_kpa) if fall is None else fall.begin
    facts = (
        Fact("reads", median(recent), "kPa"),
        Fact("an empty tube reads", lost_kpa, "kPa"),
        Fact("for", float(look.hour + 1 - _first_empty(look, lost_kpa)), "h"),
        *fall_facts(fall),
    )
    return Case(FindingKind.LOST_WATER, start * HOUR_US, 0.97, facts)


def _led_here(look: Look) -> Fall | None:
    """The fall that it began with; or the newest if that leapt: water may have led down to where it leapt from."""
    fall = origin(look)
    newest = None if fall is None else look.standing.falls[-1]
    return newest if newest is not None and newest.from_kpa >= 0.0 and leapt(look, newest) else fall


def _empty_though_off(look: Look, lost_kpa: float) -> Case | None:
    """Where its level is known to be off. A zero that drifts, by nobody knows how much, must stand just there."""
    if look.has(FindingKind.ZERO_DRIFT) and not look.has(FindingKind.LEVEL_SHIFT):
        stands_there = is_empty(median(look.past("mean_kpa", 24 * DAYS)), lost_kpa)
        stands_there = stands_there and stands_by_empty(look, -ABOUT_SHARE * lost_kpa, PART_H)
        return _empty_for_days(look, lost_kpa, PLAIN_RISE_KPA) if stands_there else None
    size_kpa = shifted_kpa(look)
    least_kpa = PLAIN_RISE_KPA if size_kpa else DAYS * 1.0
    stands_at = [lost_kpa + size_kpa] if was_not_empty(look) else [lost_kpa + size_kpa, lost_kpa]
    cases = (_empty_for_days(look, one, least_kpa) for one in stands_at if one < 0.0)
    return next((case for case in cases if case is not None), None)  # Soil that keeps still may read more than nought.


def _was_off(look: Look, fall: Fall) -> bool:
    """Whether it read free water before it fell, too, when no neighbour did: its level may have been off already."""
    before = known(look.past("mean_kpa", BEFORE_H, until=fall.begin))
    around = known(n.hours.at("mean_kpa", fall.begin) for n in witnesses(look))
    return bool(before and around) and median(before) < OFF_KPA and min(around) >= WET_AROUND_KPA


def _hours_wanted(look: Look, fall: Fall | None) -> int:
    """How long it must read so. What leapt there from above was no water, however wet the ground is."""
    if fall is None:
        return max(_empty_hours(look), UNSEEN_H)
    swing_kpa = steady_swing_kpa(look.standing, fall.begin)
    if fall.size_kpa < SWINGS * swing_kpa:
        return RIPPLED_H  # The day takes as much, and brings it back.
    around = _empty_hours(look)
    if around < FLOODED_H and fall.from_kpa >= 0.0 and leapt(look, fall):
        return EMPTY_H
    return max(around, HALF_A_DAY_H if swing_kpa >= RIPPLE_KPA else EMPTY_H, WET_AROUND_H if _is_wetting(fall) else 0)


def _empty_for_days(look: Look, lost_kpa: float, rise_kpa: float = DAYS * 1.0) -> Case | None:
    """Where its level is known to be off already: it must stand still about there while neighbours dry."""
    past = look.past("mean_kpa", 24 * DAYS)
    days = [median(past[24 * day : 24 * day + 24]) for day in range(DAYS)]
    about_kpa = ABOUT_SHARE * look.instrument.head_kpa
    if not all(abs(day - lost_kpa) <= about_kpa for day in days) or max(days) - min(days) > STILL_KPA:
        return None
    if min(known(trends.days(look.past("mean_kpa", 24 * CAME_DAYS))), default=0.0) < min(days) - STILL_KPA:
        return None
    rises = [_rise(n, look, 24 * DAYS) for n in look.neighbours.level if look.trusts(n)]
    if not rises or min(rises) < max(rise_kpa, (days[-1] - days[0]) / LEFT_SHARE):
        return None
    facts = (
        Fact("reads", median(past), "kPa"),
        Fact("an empty tube reads", lost_kpa, "kPa"),
        Fact("for", 24.0 * DAYS, "h"),
        Fact("neighbours at its depth rose by", min(rises), "kPa"),
    )
    return Case(FindingKind.LOST_WATER, (look.hour + 1 - 24 * DAYS) * HOUR_US, 0.85, facts)


def _empty_hours(look: Look) -> int:
    """How long it must read so: soil that is wet all around may stand in free water, and an offset does the rest."""
    around = known(n.hours.at("mean_kpa", look.hour) for n in witnesses(look))
    if around and min(around) < FREE_KPA:
        return FLOODED_H
    return WET_AROUND_H if around and min(around) < WET_AROUND_KPA else EMPTY_H


def _first_empty(look: Look, lost_kpa: float) -> int:
    first = look.hour
    for back, value in enumerate(reversed(look.past("mean_kpa", 240))):
        if value == value:
            if not is_empty(value, lost_kpa):
                break
            first = look.hour - back
    return first


def _sinks_on(look: Look) -> Case | None:
    """Since it fell from the dry end it reads free water that its neighbours have not, and ever more of it."""
    head_kpa = look.instrument.head_kpa
    least_kpa = -SINK_SHARE * head_kpa - 0.5
    if head_kpa < 2.0 * LEAST_HEAD_KPA or not look.now.mean_kpa <= least_kpa or look.has(*OFFSETS) or was_cold(look):
        return None
    recent = known(look.past("mean_kpa", SINK_H))
    if len(recent) < SINK_H or max(recent) > least_kpa or min(recent) < -head_kpa - 1.0:
        return None
    around = known(n.hours.at("mean_kpa", look.hour) for n in witnesses(look))
    if recent[-1] > recent[0] - 0.02 * (recent[0] + head_kpa) or not around or min(around) < DRY_AROUND_KPA:
        return None
    fall = dry_end_fall(look)
    if fall is None or stands_in_water(look) or may_be_filling(look, fall):
        return None
    facts = (Fact("reads", recent[-1], "kPa"), Fact("neighbours read", min(around), "kPa"), *fall_facts(fall))
    return Case(FindingKind.AIR_ENTRY, fall.begin * HOUR_US, 0.85, facts)


def _is_wetting(fall: Fall) -> bool:
    """Whether water led down there from soil that was dry: a level that is off does the rest."""
    return fall.explained is True and fall.from_kpa > 0.0


def _rise(standing: Standing, look: Look, hours: int) -> float:
    """What tension gained over the hours looked at."""
    values = known(standing.hours.column("mean_kpa", look.hour - hours + 1, look.hour + 1))
    if len(values) < hours // 2:
        return 0.0
    return median(values[-6:]) - median(values[:6])
