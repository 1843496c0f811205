"""A tube that was opened comes back within an hour or two; through a clogged cup, or dry ground around it, within days.

Every service is a test: it takes nearly all of the vacuum, and the cup must draw it again out of the soil. Where water
reached it late in the wettings around, its cup is clogged; else it has a gap, or, where it was quicker, may let in air.
"""

import math
from collections.abc import Iterator, Sequence

from parchd.diagnosis.falls_seen import seen_falls
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trails import told, trails
from parchd.diagnosis.verdict import Case, Look, is_shallowest

EVERY_H = 12
NOTE = "refill.slow"
"""Note: hour of an opening after which it came back slowly, and how long half of it took."""

SPAN_H = 84
"""So long it is followed: half of the slowest comes back meanwhile."""
LOST_SHARE, LOST_KPA = 0.75, 5.0
"""What an open tube loses of its vacuum, within two hours."""
OPEN_H = 4
STOOD_H = 3
"""Lost is only what it had for so long: where the wiring is noisy one sample tells nothing."""
DRY_KPA = 4.0
"""It must come back to so much: in wet soil there is nothing to draw."""
SLOW_H = 7.0
"""A sound cup, also one that was just filled, takes two hours at most, one that leaks four."""
SETTLED_H, SETTLED_SHARE = 6, 0.6
"""So soon others are back as far, unless water came."""
BACK_KPA, BACK_LEAST_KPA, BACK_SHARE = 1.0, 0.5, 1.0 / 3.0
"""It comes back steadily: what falls by more on its way, or by such a share of what had come back, got water."""
BEFORE_H, QUICK_BEFORE_H, WAIT_H = 28 * 24, 3 * 24, 18 * 24
"""Slow falls of so long before count, and quick ones, for a cup clogs by and by; then falls after it are waited for."""
QUICK_H, DAWDLES_H, WETTED_KPA = 5.0, 8.0, 8.0
"""Ground that is left drier may keep a gap: then a cup is as slow to feel the water as it was to draw it. One that
feels it at once is open."""
GAP_H = 15.0
"""A tube that lets in air comes back within half of this, or ground gives its water slowly: a gap takes longer."""
_EXPLAINED = (
    FindingKind.SLOW_RESPONSE, FindingKind.POOR_CONTACT, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP,
    FindingKind.FROZEN, FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER,
)  # fmt: skip


def watch(look: Look) -> Iterator[Case]:
    """Measure how it came back after an opening some days ago, and wait for a fall that tells why it was slow."""
    if look.has(*_EXPLAINED) or not is_shallowest(look):
        return  # Further down water of days ago may come meanwhile.
    if FindingKey(FindingKind.DROP_OUTS, f"source/{look.instrument.source}") in look.state.findings:
        return  # Dips of the wiring look like hands on the tubes.
    opened = _opened(look)
    if opened is not None:
        half_h = _half_h(look, opened)
        if half_h >= SLOW_H and someone_was_there(look, opened) and not _water_came(look, opened):
            look.standing.notes[NOTE] = [opened, half_h]
    kept = look.standing.notes.get(NOTE)
    if not isinstance(kept, list):
        return
    hour, half_h = (int(one) for one in kept if isinstance(one, int | float))
    is_clogged = _is_clogged(look, hour)
    if is_clogged is not None or look.hour - hour > WAIT_H:
        del look.standing.notes[NOTE]
    if is_clogged or (is_clogged is False and half_h >= GAP_H):
        yield _case(FindingKind.SLOW_RESPONSE if is_clogged else FindingKind.POOR_CONTACT, hour, half_h)


def _opened(look: Look) -> int | None:
    """The hour in which it lost nearly all of its vacuum at once, `SPAN_H` ago."""
    first = look.hour - SPAN_H - EVERY_H + 1
    if first - STOOD_H < look.standing.since:
        return None
    head_kpa = look.instrument.head_kpa
    lasts = look.standing.hours.column("last_kpa", first - STOOD_H, first + EVERY_H)
    lows = look.standing.hours.column("low_kpa", first, first + EVERY_H + 1)
    for number in range(EVERY_H):
        before_kpa = min(known(lasts[number : number + STOOD_H]), default=math.nan)
        low_kpa = min(known(lows[number : number + 2]), default=math.inf)
        lost_kpa = before_kpa - low_kpa
        if lost_kpa >= max(LOST_KPA, LOST_SHARE * (before_kpa + head_kpa)):
            return first + number
    return None


def _half_h(look: Look, opened: int) -> int:
    """Hours until half of what it came back to was reached, up to the last that showed less; 0: never, or by water."""
    before_kpa = look.standing.hours.at("last_kpa", opened - 1)
    course = look.standing.hours.column("mean_kpa", opened + 1, look.hour + 1)
    seen = known(course)
    if len(seen) < 0.8 * SPAN_H:
        return 0
    low_kpa = min(seen[:OPEN_H])
    level_kpa = min(before_kpa, max(seen))
    if level_kpa < DRY_KPA or level_kpa - low_kpa < LOST_KPA:
        return 0
    half_kpa = (low_kpa + level_kpa) / 2.0
    course = course[course.index(low_kpa) :]
    reached = next((number for number, value in enumerate(course) if value >= half_kpa), 0)
    if not _rises(course[: reached + 1]):
        return 0
    return 1 + max((number for number, value in enumerate(course[:reached]) if value == value), default=-1)


def _water_came(look: Look, opened: int) -> bool:
    """Whether neighbours at its depth that were dry before are wet some hours after it: then water came as well."""
    for near in look.neighbours.level:
        before_kpa, after_kpa = near.hours.at("last_kpa", opened - 1), near.hours.at("mean_kpa", opened + SETTLED_H)
        if look.trusts(near) and before_kpa >= DRY_KPA and after_kpa < SETTLED_SHARE * before_kpa:
            return True
    return False


def _rises(course: Sequence[float]) -> bool:
    """Whether it never falls back on its way by more than warmth does.

    Args:
        course: from its lowest on.
    """
    highest = -math.inf
    for value in known(course):
        if highest - value > min(BACK_KPA, max(BACK_LEAST_KPA, BACK_SHARE * (highest - course[0]))):
            return False
        highest = max(highest, value)
    return True


def _is_clogged(look: Look, opened: int) -> bool | None:
    """Whether the wettings and falls around tell of a clogged cup; ``None``: none tells yet."""
    seen = trails(look)
    speaks = [(one.hour, gain) for one, gain in zip(seen, told(seen), strict=True) if gain]
    if speaks and speaks[-1][1] > 0.0:
        return True
    falls = [fall for fall in seen_falls(look) if abs(fall.begin - opened) > EVERY_H]
    if any(fall.relax_h < QUICK_H for fall in falls if fall.begin >= opened - QUICK_BEFORE_H):
        return False
    wetted = [fall for fall in falls if (fall.others_floor_kpa or fall.floor_kpa) < WETTED_KPA]
    return any(fall.relax_h >= DAWDLES_H for fall in wetted if fall.begin >= opened - BEFORE_H) or None


def _case(kind: FindingKind, opened: int, half_h: int) -> Case:
    facts = (
        Fact("after it was opened half of its vacuum came back within", float(half_h), "h"),
        Fact("opened at", opened * HOUR_US, "time"),
    )
    return Case(kind, opened * HOUR_US, 0.8, facts)
