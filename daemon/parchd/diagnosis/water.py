"""The column of water: lost, pulled apart at the dry end, or never held because the cup is cracked."""

from collections.abc import Iterator
from itertools import pairwise

from parchd.diagnosis.falls import wetted_neighbours, witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Case, Look, median
from parchd.physics.head import head_kpa

EMPTY_H, FLOODED_H = 3, 72
"""So long nothing but its own weight must be missing; longer where neighbours stand in free water too."""
EMPTY_KPA, EMPTY_SHARE = 0.7, 0.18
LEAST_HEAD_KPA = 1.5
POND_KPA = 0.5
"""Water that stands so much above the ground, reckoned as pressure, is not expected for hours."""

DRY_END = 0.85
"""Above this share of the usable limit a sudden fall is air until water is seen."""
JUDGED_H = 4
COLLAPSE_SHARE = 0.3
QUICK_H = 5

CRACKED_KPA, CRACKED_FROM_KPA = 7.0, 11.0
CRACKED_H = 10
FLAT_KPA_PER_H = 0.12

DECAY_WINDOWS_H = (12, 15, 18, 24, 30)
DECAY_LEFT = 0.58
DECAY_EVEN = 3.0

WET_KPA = 5.0
WET_H = 48
RISE_KPA = 6.0
RISE_SHARE = 0.25


def watch(look: Look) -> Iterator[Case]:
    """Look for a tensiometer that lost its water, took in air, or has a cracked cup."""
    if look.has(FindingKind.AIR_ENTRY, FindingKind.LOST_WATER):
        return
    for judge in (_empty, _collapsed, _decaying, _left_behind):
        case = judge(look)
        if case is not None:
            yield case
            return


def _empty(look: Look) -> Case | None:
    """Nothing hangs on the transducer: corrected for a column that is not there, it reads minus its head."""
    lost_kpa = _lost_kpa(look)
    if lost_kpa is None:
        return None
    hours = EMPTY_H if not _flooded(look) else FLOODED_H
    recent = known(look.past("mean_kpa", hours))
    if len(recent) < hours or not all(_is_empty(value, lost_kpa) for value in recent):
        return None
    fall = _fall_behind(look)
    start = _first_empty(look, lost_kpa) if fall is None else fall.begin
    kind = FindingKind.LOST_WATER
    if fall is not None and fall.from_kpa >= DRY_END * look.instrument.limit_kpa and not wetted_neighbours(look, fall):
        kind = FindingKind.AIR_ENTRY
    facts = (
        Fact("reads", median(recent), "kPa"),
        Fact("an empty tube reads", lost_kpa, "kPa"),
        Fact("for", float(look.hour + 1 - _first_empty(look, lost_kpa)), "h"),
        *_fall_facts(fall),
    )
    return Case(kind, start * HOUR_US, 0.97, facts)


def _lost_kpa(look: Look) -> float | None:
    """What it reads without water; ``None``: that cannot be told from wet soil."""
    head_kpa = look.instrument.head_kpa
    if head_kpa >= LEAST_HEAD_KPA:
        return -head_kpa
    return None


def _is_empty(value_kpa: float, lost_kpa: float) -> bool:
    return abs(value_kpa - lost_kpa) <= EMPTY_KPA + EMPTY_SHARE * -lost_kpa


def _flooded(look: Look) -> bool:
    """Whether neighbours stand in free water that could reach as high."""
    depth_kpa = head_kpa(look.instrument.place.depth_m, 20.0)
    return any(n.hours.at("mean_kpa", look.hour) < -0.4 * depth_kpa for n in witnesses(look))


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
    if not falls:
        return None
    now_kpa = median(look.past("mean_kpa", 3))
    fall = falls[-1]
    if look.hour - fall.low_hour <= 48 and abs(now_kpa - fall.low_kpa) < max(1.5, 0.3 * fall.size_kpa):
        return fall
    return None


def _collapsed(look: Look) -> Case | None:
    """Tension fell within hours, no neighbour got water, and it does not come back."""
    fall = _fall_behind(look)
    if fall is None or fall.explained or not JUDGED_H <= look.hour - fall.begin <= 96:
        return None
    if fall.size_kpa < max(4.0, COLLAPSE_SHARE * fall.from_kpa) or fall.half_hour - fall.begin > QUICK_H:
        return None
    seen = _dry_neighbours(look, fall)
    recent = known(look.past("mean_kpa", 3))
    if len(recent) < 2 or recent[-1] > fall.from_kpa - 0.5 * fall.size_kpa:
        return None
    facts = (*_fall_facts(fall), Fact("neighbours that stayed dry", len(seen)))
    if fall.from_kpa >= DRY_END * look.instrument.limit_kpa:
        if seen or (look.hour - fall.begin >= 2 * JUDGED_H and recent[-1] <= recent[0] + 0.1):
            return Case(FindingKind.AIR_ENTRY, fall.begin * HOUR_US, 0.9 if seen else 0.7, facts)
        return None
    return _cracked(look, fall, facts) if seen and fall.from_kpa >= CRACKED_FROM_KPA else None


def _cracked(look: Look, fall: Fall, facts: tuple[Fact, ...]) -> Case | None:
    """It still has its column, holds a few kilopascals, and no more."""
    recent = known(look.past("mean_kpa", CRACKED_H))
    if len(recent) < CRACKED_H - 1 or look.hour - fall.begin < CRACKED_H + 2:
        return None
    if not -2.0 <= min(recent) <= max(recent) <= CRACKED_KPA:
        return None
    if abs(recent[-1] - recent[0]) > FLAT_KPA_PER_H * CRACKED_H:
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
    head_kpa = look.instrument.head_kpa
    for window in DECAY_WINDOWS_H:
        past = look.past("mean_kpa", window + 1)
        if window > look.hour - fall.begin + 3 or len(known(past)) < 0.8 * window:
            break
        third = window // 3
        marks = [past[0], past[third], past[2 * third], past[-1]]
        vacua = [mark + head_kpa for mark in marks]
        if not all(vacuum > 0.3 for vacuum in vacua) or vacua[3] > DECAY_LEFT * vacua[0]:
            continue
        steps = [1.0 - late / early for early, late in pairwise(vacua)]
        if min(steps) <= 0.04 or max(steps) > DECAY_EVEN * min(steps) or past[0] - past[-1] < 3.0:
            continue
        seen = _dry_neighbours(look, fall)
        if not seen:
            continue
        facts = (
            *_fall_facts(fall),
            Fact("vacuum lost", 100.0 * (1.0 - vacua[3] / vacua[0]), "%"),
            Fact("within", float(window), "h"),
            Fact("neighbours that stayed dry", len(seen)),
        )
        return Case(FindingKind.LOST_WATER, fall.begin * HOUR_US, 0.85, facts)
    return None


def _left_behind(look: Look) -> Case | None:
    """It has read wet for days while neighbours at its depth dried: also without a fall that gave it away."""
    recent = look.past("mean_kpa", WET_H)
    held = known(recent)
    if len(held) < 0.7 * WET_H or max(held) > WET_KPA + 2.0 or median(held) > WET_KPA:
        return None
    level = [n for n in look.neighbours.level if look.trusts(n)]
    risen = [n for n in level if _rise(n, look) >= RISE_KPA + RISE_SHARE * _rise(look.standing, look)]
    former_kpa = _former_high(look)
    if not risen or len(risen) < len(level) / 2 or former_kpa < 12.0:
        return None
    if max(held[-12:]) - min(held) > RISE_SHARE * min(_rise(n, look) for n in risen):
        return None
    lost_kpa = _lost_kpa(look)
    empty = lost_kpa is not None and _is_empty(median(held[-12:]), lost_kpa)
    kind = FindingKind.LOST_WATER if empty else FindingKind.CRACKED_CUP
    facts = (
        Fact("held no more than", max(held), "kPa"),
        Fact("for", float(WET_H), "h"),
        Fact("neighbours at its depth rose by", min(_rise(n, look) for n in risen), "kPa"),
        Fact("held before", former_kpa, "kPa"),
    )
    start = _start_of_wet(look)
    return Case(kind, start * HOUR_US, 0.75, facts)


def _rise(standing: Standing, look: Look) -> float:
    """What tension gained over the hours looked at."""
    values = known(standing.hours.column("mean_kpa", look.hour - WET_H + 1, look.hour + 1))
    if len(values) < WET_H // 2:
        return 0.0
    return median(values[-6:]) - median(values[:6])


def _former_high(look: Look) -> float:
    return max(known(look.past("mean_kpa", 24 * 21, until=look.hour - WET_H)), default=0.0)


def _start_of_wet(look: Look) -> int:
    start = look.hour
    for back, value in enumerate(reversed(look.past("mean_kpa", 240))):
        if value == value:
            if value > WET_KPA + 2.0:
                break
            start = look.hour - back
    return start


def _dry_neighbours(look: Look, fall: Fall) -> list[Standing]:
    """Trusted neighbours that could have got the water and did not; none if any did."""
    if wetted_neighbours(look, fall):
        return []
    depth_m = look.instrument.place.depth_m
    return [n for n in witnesses(look) if n.instrument.place.depth_m <= depth_m + 0.35]


def _fall_facts(fall: Fall | None) -> tuple[Fact, ...]:
    if fall is None:
        return ()
    return (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", fall.low_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
    )
