"""A level that shifted: all readings moved by one step, at once, and go on from there as before."""

from collections.abc import Iterator

from parchd.diagnosis.falls import witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.trends import middle, scatter
from parchd.diagnosis.verdict import Case, Look, Over

SIZE, FROM = "shift.size_kpa", "shift.from_kpa"

LEAST_KPA = 3.0
"""Calibration errors and the sun stay below it."""
DELAYS_H = (12, 23)
"""So long after a step it is judged: early where all is plain, after nearly a day once more."""
SHARP_SHARE = 0.7
"""Of the step within one hour: water takes longer, and bends."""
KEPT_SHARE, KEPT_HOURS = 0.25, 0.8
"""How far later hours may leave the new level, as a share of the step, and how many hours must keep to it."""
SETTLE_SHARE = 0.3
MEMORY_H = 30
"""A rise back to a level of the last day is the end of a wetting, or of a hand on the tube."""
DIP_KPA = 0.8
STILL_H = 6.0
BEFORE_H, BEFORE_H_PER_M, AFTER_H = 8, 100, 6
"""Water at a neighbour so long before or after may have come here too; the deeper, the later."""
STRICT_SHARE = 0.1

SUNK_H, SUNK_UNTIL_H = 18, 48
SUNK_KPA, SUNK_SHARE = 4.0, 0.33
SUNK_STEEP = 0.15
SAME_DEPTH_M = 0.12
HOLDS_KPA = 3.0

BACK_LEAST, BACK_MOST, BACK_KPA = 0.65, 1.35, 1.0


def watch(look: Look) -> Iterator[Case | Over]:
    """Look for a step half a day ago, and for the step back of one that is known."""
    if look.has(FindingKind.LEVEL_SHIFT):
        if _is_back(look):
            yield Over(FindingKind.LEVEL_SHIFT, look.now_us)
        return
    for delay_h in DELAYS_H:
        jump_kpa = _jump(look.standing, look.hour - delay_h)
        if abs(jump_kpa) >= LEAST_KPA * SHARP_SHARE:
            case = _judge(look, look.hour - delay_h)
            if case is not None:
                yield case
                return
    case = _sunk(look)
    if case is not None:
        yield case


def _jump(standing: Standing, hour: int) -> float:
    """How far the last reading of an hour lies from the last of the hour before."""
    return standing.hours.at("last_kpa", hour) - standing.hours.at("last_kpa", hour - 1)


def _judge(look: Look, hour: int) -> Case | None:
    """Judge a step by what came before and after it."""
    if hour - 26 < look.standing.since or look.standing.hours.at("still_s", hour - 1) > STILL_H * 3600.0:
        return None
    before = look.past("mean_kpa", 48, until=hour - 2)
    after = look.past("mean_kpa", look.hour - hour, until=look.hour)
    drift_kpa, noise_kpa = _usual(before)
    offsets = _offsets(before, after, drift_kpa)
    if len(offsets) < 0.7 * len(after) or drift_kpa != drift_kpa:
        return None
    size_kpa = middle(offsets)
    if abs(size_kpa) < LEAST_KPA + 2.0 * noise_kpa or not _sharp(look, hour, size_kpa):
        return None
    kept = [abs(one - size_kpa) <= KEPT_SHARE * abs(size_kpa) + noise_kpa for one in offsets]
    third = len(offsets) // 3
    bend_kpa = abs(middle(offsets[-third:]) - middle(offsets[:third]))
    if sum(kept) < KEPT_HOURS * len(kept) or bend_kpa > SETTLE_SHARE * abs(size_kpa) + noise_kpa:
        return None
    if _handled(look, hour) or (_rises_back(look, hour) if size_kpa > 0.0 else _wetted(look, hour, size_kpa, offsets)):
        return None
    return _case(look, hour, size_kpa)


def _usual(before: list[float]) -> tuple[float, float]:
    """What a day changes at the same hour, and how much that varies; ``before`` ends just before the step."""
    changes = known(late - early for early, late in zip(before[:24], before[24:], strict=True))
    if len(changes) < 8:
        return NAN, NAN
    return middle(changes[-12:]), scatter(changes[-12:])


def _offsets(before: list[float], after: list[float], drift_kpa: float) -> list[float]:
    """How far each hour after the step lies from the same hour of the day before, less what a day changes.

    ``before`` ends two hours before the step, ``after`` begins in the hour after it.
    """
    day = before[-24:]
    return known(value - day[number + 3] - drift_kpa for number, value in enumerate(after) if number + 3 < 24)


def _sharp(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether nearly all of it came within an hour, wherever the hour begins."""
    last = look.past("last_kpa", 4, until=hour + 1)
    steps = known((last[2] - last[1], last[2] - last[0], last[3] - last[1]))
    return any(SHARP_SHARE <= step / size_kpa <= 2.0 - SHARP_SHARE for step in steps)


def _handled(look: Look, hour: int) -> bool:
    """Whether others of the source dipped then: somebody was there."""
    dipped = [n for n in look.neighbours.source if _dipped(n, hour)]
    return len(dipped) >= 2 and len(dipped) >= len(look.neighbours.source) / 3


def _dipped(standing: Standing, hour: int) -> bool:
    low = standing.hours.column("low_kpa", hour - 2, hour + 3)
    last = standing.hours.column("last_kpa", hour - 4, hour + 8)
    around = known([*last[:2], *last[-3:]])
    return bool(around) and min(known(low), default=NAN) < min(around) - DIP_KPA


def _rises_back(look: Look, hour: int) -> bool:
    """Whether it only rose to where it had been the day before."""
    before = known(look.past("high_kpa", MEMORY_H, until=hour - 1))
    after = known(look.past("mean_kpa", look.hour - hour))
    return not before or middle(after) < max(before) + 0.6 * LEAST_KPA


def _wetted(look: Look, hour: int, size_kpa: float, offsets: list[float]) -> bool:
    """Whether water may have done it."""
    seen = witnesses(look)
    if any(_was_wetted(n, look, hour, size_kpa) for n in seen):
        return True
    if seen:
        return False
    return not all(abs(one - size_kpa) <= STRICT_SHARE * abs(size_kpa) for one in offsets)


def _was_wetted(neighbour: Standing, look: Look, hour: int, size_kpa: float) -> bool:
    deeper_m = look.instrument.place.depth_m - neighbour.instrument.place.depth_m
    first = hour - BEFORE_H - round(BEFORE_H_PER_M * max(0.0, deeper_m))
    last = hour + AFTER_H + round(BEFORE_H_PER_M * max(0.0, -deeper_m))
    return any(first <= fall.begin <= last and fall.size_kpa >= 0.15 * -size_kpa for fall in neighbour.falls[-8:])


def _case(look: Look, hour: int, size_kpa: float) -> Case:
    notes = look.standing.notes
    notes[SIZE] = round(size_kpa, 2)
    notes.pop(FROM, None)
    before_kpa = look.standing.hours.at("last_kpa", hour - 1)
    seen = witnesses(look)
    facts = (
        Fact("rose by" if size_kpa > 0.0 else "fell by", abs(size_kpa), "kPa"),
        Fact("from", before_kpa, "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
        Fact("has kept its new level for", float(look.hour - hour), "h"),
        Fact("neighbours that did not move with it", len(seen)),
    )
    return Case(FindingKind.LEVEL_SHIFT, hour * HOUR_US, 0.9 if size_kpa > 0.0 or seen else 0.7, facts)


def _sunk(look: Look) -> Case | None:
    """See a fall within hours that no water explains, to a level that is held with part of the vacuum left."""
    fall = look.standing.falls[-1] if look.standing.falls else None
    if fall is None or not SUNK_H <= look.hour - fall.begin <= SUNK_UNTIL_H:
        return None
    head_kpa = look.instrument.head_kpa
    if fall.size_kpa < max(SUNK_KPA, SUNK_SHARE * (fall.from_kpa + head_kpa)):
        return None
    recent = known(look.past("mean_kpa", 6))
    if len(recent) < 4 or max(recent) > fall.from_kpa - 0.5 * fall.size_kpa or min(recent) + head_kpa < HOLDS_KPA:
        return None
    if fall.steepest_kpa < SUNK_STEEP * fall.size_kpa or not _dry_above(look, fall):
        return None
    notes = look.standing.notes
    notes[SIZE], notes[FROM] = round(middle(recent) - fall.from_kpa, 2), round(fall.from_kpa, 2)
    facts = (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", fall.low_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
        Fact("vacuum that it still holds", middle(recent) + head_kpa, "kPa"),
        Fact("neighbours that stayed dry", len(_dry(look, fall))),
    )
    return Case(FindingKind.LEVEL_SHIFT, fall.begin * HOUR_US, 0.7, facts)


def _dry_above(look: Look, fall: Fall) -> bool:
    """Whether one at its depth stayed dry, and none from which the water would have come was wetted."""
    dry = _dry(look, fall)
    above = [n for n in witnesses(look) if n.instrument.place.depth_m <= look.instrument.place.depth_m + 0.05]
    depth_m = look.instrument.place.depth_m
    return len(dry) == len(above) and any(abs(n.instrument.place.depth_m - depth_m) <= SAME_DEPTH_M for n in dry)


def _dry(look: Look, fall: Fall) -> list[Standing]:
    depth_m = look.instrument.place.depth_m
    above = [n for n in witnesses(look) if n.instrument.place.depth_m <= depth_m + 0.05]
    return [n for n in above if not any(fall.begin - 24 <= one.begin <= fall.begin + 4 for one in n.falls[-8:])]


def _is_back(look: Look) -> bool:
    """Whether a step of the same size has just led back."""
    size_kpa = _size_now(look)
    last = look.past("last_kpa", 3)
    steps = known((last[2] - last[1], last[2] - last[0]))
    least, most = BACK_LEAST * abs(size_kpa) - BACK_KPA / 2, BACK_MOST * abs(size_kpa) + BACK_KPA
    if not any(least <= (step if size_kpa < 0 else -step) <= most for step in steps):  # also where it is not known
        return False
    if size_kpa < 0:
        before = known(look.past("high_kpa", MEMORY_H, until=look.hour - 2))
        return not before or last[2] > max(before) + 0.4 * abs(size_kpa)
    return not any(_was_wetted(n, look, look.hour, -size_kpa) for n in witnesses(look))


def _size_now(look: Look) -> float:
    """Size of the step that is known; one that came by and by may have grown. NaN: not known."""
    notes = look.standing.notes
    size_kpa, from_kpa = notes.get(SIZE), notes.get(FROM)
    if not isinstance(size_kpa, int | float):
        return NAN
    lately = known(look.past("mean_kpa", 12, until=look.hour - 3))
    if isinstance(from_kpa, int | float) and lately:
        return min(float(size_kpa), middle(lately) - from_kpa)
    return float(size_kpa)
