"""The column of water: lost, pulled apart at the dry end, or never held because the cup is cracked."""

from collections.abc import Iterator
from itertools import pairwise

from parchd.diagnosis.falls import wetted_neighbours, witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Case, Look, median

EMPTY_H, UNSEEN_H, WET_AROUND_H, FLOODED_H = 4, 15, 30, 96
"""So long the weight of its water must be missing; longer where neighbours are wet, or stand in free water."""
WET_AROUND_KPA, FREE_KPA = 2.5, -0.8
DAYS, ABOUT_SHARE = 3, 0.35
BROKEN_H = 24 * 12
STATION_FREE_KPA = 0.3
EMPTY_KPA, EMPTY_SHARE = 0.4, 0.05
ICE_C = 0.5
LEAST_HEAD_KPA = 1.5
DRY_END = 0.85
"""Above this share of the usable limit a sudden fall is air until water is seen."""
JUDGED_H = 4
COLLAPSE_SHARE = 0.3
QUICK_H = 5
GOES_ON_H = 6

CRACKED_KPA, CRACKED_FROM_KPA = 7.0, 11.0
CRACKED_H = 14
BELOW_H = 8
CRACKED_WITHIN_H = 3
FLAT_KPA = 0.4
"""Soil that was wetted gains more."""

DECAY_H = ((26, 1), (16, 2))
"""Hours since it began to fall, and how many neighbours must have stayed dry: water reaches stations hours apart."""
DECAY_LEFT = 0.6
DECAY_EVEN = 2.5

SINK_H, SINK_SHARE = 5, 0.5
DRY_AROUND_KPA = 4.0

DRY_KPA, DRY_SHARE = 5.0, 0.3
SAME_DEPTH_M = 0.12
"""Only a neighbour as deep or shallower tells that there was no water; one below may not have got it yet."""

WET_KPA = 5.0
LEFT_H = ((60, 8.0), (120, 3.5))
"""Hours it stayed wet, and what neighbours must have gained meanwhile."""
LEFT_SHARE, STILL_KPA, FORMER_KPA, STUCK_S = 0.15, 1.2, 8.0, 6 * 3600.0


_OFFSETS = (FindingKind.FROZEN, FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT, FindingKind.SWAPPED)
"""What these add to a reading can look like an empty tube."""


def watch(look: Look) -> Iterator[Case]:
    """Look for a tensiometer that lost its water, took in air, or has a cracked cup."""
    if look.has(FindingKind.AIR_ENTRY, FindingKind.LOST_WATER):
        return
    for judge in (_empty, _collapsed, _sinking, _decaying, _left_behind):
        case = judge(look)
        if case is not None:
            yield case
            return


def _empty(look: Look) -> Case | None:
    """Nothing hangs on the transducer: corrected for a column that is not there, it reads minus its head."""
    lost_kpa, now_kpa = _lost_kpa(look), look.now.mean_kpa
    if lost_kpa is None or look.has(FindingKind.FROZEN):
        return None
    if look.has(*_OFFSETS):
        return _empty_for_days(look, lost_kpa)
    if (now_kpa == now_kpa and not _is_empty(now_kpa, lost_kpa)) or _was_cold(look):
        return None
    fall = _origin(look)
    hours = _empty_hours(look) if fall is not None else max(_empty_hours(look), UNSEEN_H)
    recent = known(look.past("mean_kpa", hours))
    if len(recent) < 0.9 * hours or not all(_is_empty(value, lost_kpa) for value in recent):
        return None
    broken = _dry_end_fall(look)
    start = _first_empty(look, lost_kpa) if fall is None else fall.begin
    kind = FindingKind.LOST_WATER if broken is None else FindingKind.AIR_ENTRY
    start, fall = (start, fall) if broken is None else (broken.begin, broken)
    facts = (
        Fact("reads", median(recent), "kPa"),
        Fact("an empty tube reads", lost_kpa, "kPa"),
        Fact("for", float(look.hour + 1 - _first_empty(look, lost_kpa)), "h"),
        *_fall_facts(fall),
    )
    return Case(kind, start * HOUR_US, 0.97, facts)


def _empty_for_days(look: Look, lost_kpa: float) -> Case | None:
    """Where its level is known to be off already: it must stand still about there while neighbours dry."""
    past = look.past("mean_kpa", 24 * DAYS)
    days = [median(past[24 * day : 24 * day + 24]) for day in range(DAYS)]
    if not all(abs(day - lost_kpa) <= ABOUT_SHARE * -lost_kpa for day in days) or max(days) - min(days) > STILL_KPA:
        return None
    rises = [_rise(n, look, 24 * DAYS) for n in look.neighbours.level if look.trusts(n)]
    if not rises or min(rises) < max(DAYS * 1.0, (days[-1] - days[0]) / LEFT_SHARE):
        return None
    facts = (
        Fact("reads", median(past), "kPa"),
        Fact("an empty tube reads", lost_kpa, "kPa"),
        Fact("for", 24.0 * DAYS, "h"),
        Fact("neighbours at its depth rose by", min(rises), "kPa"),
    )
    return Case(FindingKind.LOST_WATER, (look.hour + 1 - 24 * DAYS) * HOUR_US, 0.85, facts)


def _lost_kpa(look: Look) -> float | None:
    """What it reads without water; ``None``: that cannot be told from wet soil."""
    head_kpa = look.instrument.head_kpa
    return -head_kpa if head_kpa >= LEAST_HEAD_KPA else None


def _is_empty(value_kpa: float, lost_kpa: float) -> bool:
    return abs(value_kpa - lost_kpa) <= EMPTY_KPA + EMPTY_SHARE * -lost_kpa


def _empty_hours(look: Look) -> int:
    """How long it must read so: soil that is wet all around may stand in free water, and an offset does the rest."""
    around = known(n.hours.at("mean_kpa", look.hour) for n in witnesses(look))
    if around and min(around) < FREE_KPA:
        return FLOODED_H
    return WET_AROUND_H if around and min(around) < WET_AROUND_KPA else EMPTY_H


def _was_cold(look: Look) -> bool:
    """Ice pushes, and reads like free water."""
    return any(value < ICE_C for value in look.past("temperature_c", 36))


def _first_empty(look: Look, lost_kpa: float) -> int:
    first = look.hour
    for back, value in enumerate(reversed(look.past("mean_kpa", 240))):
        if value == value:
            if not _is_empty(value, lost_kpa):
                break
            first = look.hour - back
    return first


def _fall_behind(look: Look) -> Fall | None:
    """The fall that led to what it reads now."""
    falls = look.standing.falls
    if not falls or look.hour - falls[-1].low_hour > 48:
        return None
    now_kpa, fall = median(look.past("mean_kpa", 3)), falls[-1]
    return fall if abs(now_kpa - fall.low_kpa) < max(1.5, 0.3 * fall.size_kpa) else None


def _origin(look: Look) -> Fall | None:
    """The fall that led here, or an earlier one from which it never rose again."""
    fall = _fall_behind(look)
    if fall is None:
        return None
    for earlier in reversed(look.standing.falls[:-1]):
        between = known(look.standing.hours.column("high_kpa", earlier.low_hour, fall.begin + 1))
        rose = not between or max(between) > earlier.low_kpa + max(1.0, 0.06 * earlier.size_kpa)
        if rose or earlier.size_kpa < 0.5 * fall.size_kpa:
            break
        fall = earlier
    return fall


def _dry_end_fall(look: Look) -> Fall | None:
    """The fall from the dry end that it never came back from: there the air got in."""
    for fall in reversed(look.standing.falls):
        if look.hour - fall.begin > BROKEN_H:
            return None
        if fall.from_kpa >= DRY_END * look.instrument.limit_kpa:
            later = known(look.standing.hours.column("high_kpa", fall.low_hour, look.hour + 1))
            return fall if max(later, default=0.0) < 0.5 * fall.from_kpa else None
    return None


def _stands_in_water(look: Look) -> bool:
    """Whether the station's other depths read free water as well: then it is there."""
    return any(n.hours.at("mean_kpa", look.hour) < STATION_FREE_KPA for n in look.neighbours.station)


def _collapsed(look: Look) -> Case | None:
    """Tension fell within hours, no neighbour got water, and it does not come back."""
    newest = look.standing.falls[-1] if look.standing.falls else None
    if newest is None or newest.explained or not JUDGED_H <= look.hour - newest.begin <= 96:
        return None
    fall = _fall_behind(look)
    if fall is None:
        return None
    if fall.size_kpa < max(4.0, COLLAPSE_SHARE * fall.from_kpa) or fall.half_hour - fall.begin > QUICK_H:
        return None
    seen = _dry_neighbours(look, fall)
    recent = known(look.past("mean_kpa", 3))
    if len(recent) < 2 or recent[-1] > fall.from_kpa - 0.5 * fall.size_kpa:
        return None
    facts = (*_fall_facts(fall), Fact("neighbours that stayed dry", len(seen)))
    if fall.from_kpa >= DRY_END * look.instrument.limit_kpa:
        if seen or _goes_on(look, fall):
            return Case(FindingKind.AIR_ENTRY, fall.begin * HOUR_US, 0.9 if seen else 0.7, facts)
        return None
    if not seen:
        return None
    return _below_zero(look, fall, facts) or (_cracked(look, fall, facts) if len(seen) > 1 else None)


def _below_zero(look: Look, fall: Fall, facts: tuple[Fact, ...]) -> Case | None:
    """It reads free water that no neighbour has; a cracked cup would read none."""
    recent = known(look.past("mean_kpa", BELOW_H))
    if (
        len(recent) < BELOW_H
        or look.has(*_OFFSETS)
        or _stands_in_water(look)
        or median(recent) > -0.3 - 0.25 * look.instrument.head_kpa
    ):
        return None
    return Case(FindingKind.LOST_WATER, fall.begin * HOUR_US, 0.8, (*facts, Fact("reads", median(recent), "kPa")))


def _goes_on(look: Look, fall: Fall) -> bool:
    """It sinks on for hours after the fall, when drained soil would not."""
    if look.hour - fall.begin < GOES_ON_H:
        return False
    recent = known(look.past("mean_kpa", GOES_ON_H - 1))
    if len(recent) < GOES_ON_H - 1 or any(late > early for early, late in pairwise(recent)):
        return False
    return recent[0] - recent[-1] >= max(0.8, 0.06 * (recent[0] + look.instrument.head_kpa))


def _cracked(look: Look, fall: Fall, facts: tuple[Fact, ...]) -> Case | None:
    """It still has its column, holds a few kilopascals, and no more; water takes longer to bring it there."""
    if fall.from_kpa < CRACKED_FROM_KPA:
        return None
    if fall.half_hour - fall.begin > CRACKED_WITHIN_H or fall.low_hour - fall.begin > 3 * CRACKED_WITHIN_H:
        return None
    past = look.past("mean_kpa", CRACKED_H)
    recent = known(past)
    if len(recent) < CRACKED_H - 1 or look.hour - fall.begin < CRACKED_H + 2:
        return None
    if not -2.0 <= min(recent) <= max(recent) <= CRACKED_KPA:
        return None
    if abs(median(past[-6:]) - median(past[:6])) > FLAT_KPA:
        return None
    lost_kpa = _lost_kpa(look)
    if lost_kpa is not None and _is_empty(median(recent), lost_kpa):
        return None
    return Case(FindingKind.CRACKED_CUP, fall.begin * HOUR_US, 0.85, (*facts, Fact("holds only", max(recent), "kPa")))


def _decaying(look: Look) -> Case | None:
    """The vacuum leaks away evenly, by day and by night, while no neighbour gets water."""
    fall = look.standing.falls[-1] if look.standing.falls else None
    if fall is None or fall.over or fall.explained:
        return None
    if look.has(*_OFFSETS):
        return None
    age_h = look.hour - fall.begin
    fewest = next((few for hours, few in DECAY_H if hours <= age_h), None)
    if fewest is None:
        return None
    past = look.past("mean_kpa", age_h)
    lost = _even_loss(past, look.instrument.head_kpa) if len(known(past)) >= 0.8 * age_h else None
    seen = _dry_neighbours(look, fall) if lost is not None else []
    if lost is None or len(seen) < fewest:
        return None
    facts = (
        *_fall_facts(fall),
        Fact("vacuum lost", 100.0 * lost, "%"),
        Fact("within", float(age_h), "h"),
        Fact("neighbours that stayed dry", len(seen)),
    )
    return Case(FindingKind.LOST_WATER, fall.begin * HOUR_US, 0.85, facts)


def _even_loss(past: list[float], head_kpa: float) -> float | None:
    """Share of the vacuum that went, if it went as through a leak: evenly, and fastest at once.

    Water that comes goes slowly at first, then fast, then slowly.
    """
    size = len(past) - 1
    vacua = [past[size * part // 4] + head_kpa for part in range(5)]
    if not all(vacuum > 0.3 for vacuum in vacua) or vacua[4] > DECAY_LEFT * vacua[0] or past[0] - past[-1] < 3.0:
        return None
    drops = [early - late for early, late in pairwise(vacua)]
    shares = [drop / vacuum for drop, vacuum in zip(drops, vacua, strict=False)]
    if min(shares) <= 0.03 or max(shares) > DECAY_EVEN * min(shares):
        return None
    slower = all(late <= 1.05 * early for early, late in pairwise(drops))
    return 1.0 - vacua[4] / vacua[0] if slower else None


def _sinking(look: Look) -> Case | None:
    """It reads more free water than its neighbours have, and ever more of it."""
    head_kpa = look.instrument.head_kpa
    least_kpa = -SINK_SHARE * head_kpa - 0.5
    if head_kpa < 2.0 * LEAST_HEAD_KPA or not look.now.mean_kpa <= least_kpa:
        return None
    recent = known(look.past("mean_kpa", SINK_H))
    if len(recent) < SINK_H:
        return None
    if look.has(*_OFFSETS) or _was_cold(look) or min(recent) < -head_kpa - 1.0:
        return None
    if max(recent) > least_kpa or recent[-1] > recent[0] - 0.02 * (recent[0] + head_kpa):
        return None
    around = [n.hours.at("mean_kpa", look.hour) for n in witnesses(look)]
    if not known(around) or min(known(around)) < DRY_AROUND_KPA:
        return None
    broken = _dry_end_fall(look)
    fall = broken or _origin(look)
    if fall is None or _stands_in_water(look):
        return None
    kind = FindingKind.LOST_WATER if broken is None else FindingKind.AIR_ENTRY
    facts = (Fact("reads", recent[-1], "kPa"), Fact("neighbours read", min(known(around)), "kPa"), *_fall_facts(fall))
    return Case(kind, fall.begin * HOUR_US, 0.85, facts)


def _left_behind(look: Look) -> Case | None:
    """It has read wet and flat for days while neighbours at its depth dried: also without a fall that gave it away."""
    if look.now.mean_kpa > WET_KPA + 2.0 or look.now.still_s > STUCK_S:
        return None
    if look.has(FindingKind.SLOW_RESPONSE, FindingKind.STUCK_VALUE):
        return None
    near = [n for n in look.neighbours.level if look.trusts(n)]
    if not near or all(any(_stayed(n, look, hours, kpa) for n in near) for hours, kpa in LEFT_H):
        return None
    return _outdried(look, near)


def _outdried(look: Look, near: list[Standing]) -> Case | None:
    if _stands_in_water(look):
        return None
    for hours, least_kpa in LEFT_H:
        held = known(look.past("mean_kpa", hours))
        if len(held) < 0.7 * hours or max(held) > WET_KPA + 2.0 or median(held) > WET_KPA:
            return None
        own_kpa = max(held[hours // 8 :]) - min(held[hours // 8 :])
        if own_kpa > STILL_KPA:
            continue
        if any(_rise(n, look, hours) < max(least_kpa, own_kpa / LEFT_SHARE) for n in near):
            continue
        former_kpa = _former_high(look, hours)
        if former_kpa >= max(FORMER_KPA, 3.5 * median(held)) and _levelled(held):
            rise_kpa = min(_rise(n, look, hours) for n in near)
            return _left_case(look, held, rise_kpa, hours, former_kpa)
    return None


def _levelled(held: list[float]) -> bool:
    """It does not rise, however slowly: a slow tensiometer would."""
    return median(held[-6:]) - median(held[-24:-18]) <= 0.3


def _left_case(look: Look, held: list[float], rise_kpa: float, hours: int, former_kpa: float) -> Case:
    lost_kpa = _lost_kpa(look)
    empty = lost_kpa is not None and _is_empty(median(held[-12:]), lost_kpa)
    facts = (
        Fact("held no more than", max(held), "kPa"),
        Fact("for", float(hours), "h"),
        Fact("neighbours at its depth rose by", rise_kpa, "kPa"),
        Fact("held before", former_kpa, "kPa"),
    )
    if broken := _dry_end_fall(look):
        return Case(FindingKind.AIR_ENTRY, broken.begin * HOUR_US, 0.75, (*facts, *_fall_facts(broken)))
    free = median(held) < -0.3 - 0.25 * look.instrument.head_kpa
    kind = FindingKind.LOST_WATER if empty or free else FindingKind.CRACKED_CUP
    return Case(kind, _start_of_wet(look) * HOUR_US, 0.75, facts)


def _stayed(standing: Standing, look: Look, hours: int, least_kpa: float) -> bool:
    """Whether it surely did not gain so much: a few hours at both ends tell, where they are known."""
    begin, end = look.hour - hours + 1, look.hour + 1
    first = standing.hours.column("mean_kpa", begin, begin + 6)
    last = standing.hours.column("mean_kpa", end - 6, end)
    return max(last) - min(first) < least_kpa and sum(first) == sum(first) and sum(last) == sum(last)


def _rise(standing: Standing, look: Look, hours: int) -> float:
    """What tension gained over the hours looked at."""
    values = known(standing.hours.column("mean_kpa", look.hour - hours + 1, look.hour + 1))
    if len(values) < hours // 2:
        return 0.0
    return median(values[-6:]) - median(values[:6])


def _former_high(look: Look, hours: int) -> float:
    return max(known(look.past("mean_kpa", 24 * 21, until=look.hour - hours)), default=0.0)


def _start_of_wet(look: Look) -> int:
    start = look.hour
    for back, value in enumerate(reversed(look.past("mean_kpa", 240))):
        if value == value:
            if value > WET_KPA + 2.0:
                break
            start = look.hour - back
    return start


def _dry_neighbours(look: Look, fall: Fall) -> list[Standing]:
    """Trusted neighbours that the water would have reached first, and that stayed dry; none if any got water."""
    if wetted_neighbours(look, fall) or _wet_above(look, fall):
        return []
    deepest_m = look.instrument.place.depth_m + SAME_DEPTH_M
    first = [n for n in witnesses(look) if n.instrument.place.depth_m <= deepest_m]
    dry = [n for n in first if _stayed_dry(n, fall, look.hour)]
    return dry if 2 * len(dry) > len(first) else []


def _wet_above(look: Look, fall: Fall) -> bool:
    """Whether a shallower tensiometer of its own station stands in wet soil: then water may well go down from there."""
    depth_m = look.instrument.place.depth_m
    above = [n for n in look.neighbours.station if n.instrument.place.depth_m < depth_m]
    wet_kpa = max(DRY_KPA, 0.5 * fall.from_kpa)
    return any(n.hours.at("mean_kpa", look.hour) < wet_kpa for n in above)


def _stayed_dry(neighbour: Standing, fall: Fall, hour: int) -> bool:
    """It was dry before, and its tension is not below that of the same hour on the day before the fall."""
    same_hour = hour - 24 * -((fall.begin - hour) // 24)
    before_kpa = median(neighbour.hours.column("mean_kpa", same_hour - 1, same_hour + 2))
    now_kpa = median(neighbour.hours.column("mean_kpa", hour - 2, hour + 1))
    least_kpa = before_kpa - max(0.5, 0.04 * before_kpa)
    return before_kpa >= max(DRY_KPA, DRY_SHARE * fall.from_kpa) and now_kpa >= least_kpa


def _fall_facts(fall: Fall | None) -> tuple[Fact, ...]:
    if fall is None:
        return ()
    return (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", fall.low_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
    )
