"""A level that shifted: all readings moved by one step, at once, and go on from there as before; or a gap closed."""

import math
from collections.abc import Iterator

from parchd.diagnosis.closing import closing, has_closed
from parchd.diagnosis.commotion import COMMON_SHARE, cannot_tell, moved, moves_with, water_begins
from parchd.diagnosis.evidence import noise_stayed
from parchd.diagnosis.falls import witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kept import kept_kpa
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import LEAST_KPA, SEEN_H, leap_kpa, may_be_no_shift
from parchd.diagnosis.leap_in_doubt import doubt
from parchd.diagnosis.not_empty import not_empty
from parchd.diagnosis.shift_back import FROM, SIZE, is_back
from parchd.diagnosis.steps import SHARP_SHARE, jump, kpa_before
from parchd.diagnosis.sunk import sunk
from parchd.diagnosis.verdict import Case, Look, Over

BACK, BACK_H = "shift.back", 3
"""Note: hour of the step back, which is no new one."""

DELAYS_H = (12, 23)
"""So long after a step it is judged: early where all is plain, after nearly a day once more."""
MOST_KPA = 30.0
"""No zero shifts by more: other numbers are sent, or another unit."""
PAUSE_H = 8
CLOCK_S = 1800.0
WATERLESS = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP)
"""Beside these a leap is a refill."""
SHAKEN = (FindingKind.NOISY_SUPPLY, FindingKind.DROP_OUTS)
"""While its source shakes all of them, steps of any size come back."""


def watch(look: Look) -> Iterator[Case | Over]:
    """Look for a step, and for the step back of one that is known."""
    if look.has(FindingKind.LEVEL_SHIFT):
        if is_back(look) and not _comes_from_elsewhere(look):
            look.standing.notes[BACK] = look.hour
            yield Over(FindingKind.LEVEL_SHIFT, look.now_us)
        return
    case = not_empty(look) if look.has(FindingKind.LOST_WATER) else _shifted(look)
    case = case or sunk(look)
    if case is not None:
        yield case


def _comes_from_elsewhere(look: Look) -> bool:
    """Whether a step may come from its source, which shakes all of them, or from a clock that was set."""
    return any(look.source_has(kind) for kind in SHAKEN) or _leapt_in_time(look, look.hour - SEEN_H)


def _shifted(look: Look) -> Case | None:
    """Judge a leap at once, and later, by the level that is kept, what may have been one."""
    back = look.standing.notes.get(BACK, 0)
    for delay_h, size in ((SEEN_H, _leapt), *((delay_h, kept_kpa) for delay_h in DELAYS_H)):
        hour = look.hour - delay_h
        if abs(jump(look.standing, hour)) >= LEAST_KPA * SHARP_SHARE and not (
            isinstance(back, int) and abs(hour - back) <= BACK_H
        ):
            size_kpa = size(look, hour)
            if abs(size_kpa) <= MOST_KPA:
                is_gap = has_closed(look, hour, size_kpa)
                return closing(look, hour, size_kpa) if is_gap else _case(look, hour, size_kpa)
    return None


def _leapt(look: Look, hour: int) -> float:
    """Size of a leap: where it is one, nothing but what is read can have made it; NaN: it is none."""
    if look.has(*WATERLESS) or _may_be_another_unit(look, hour) or cannot_tell(look, hour, PAUSE_H):
        return NAN
    size_kpa = leap_kpa(look.standing, hour)
    if not abs(size_kpa) >= LEAST_KPA or _leapt_in_time(look, hour):
        return NAN
    if moves_with(look, hour, size_kpa) or _was_exchanged(look, hour, size_kpa):
        if water_begins(look, hour):
            doubt(look, hour, size_kpa)
        return NAN
    is_plain = has_closed(look, hour, size_kpa) or not may_be_no_shift(look, hour, size_kpa)
    if is_plain and (look.source_has(FindingKind.DROP_OUTS) or not someone_was_there(look, hour)):
        return size_kpa  # Dips of known wiring look like hands on the tubes.
    doubt(look, hour, size_kpa)
    return NAN


def _may_be_another_unit(look: Look, hour: int) -> bool:
    """Whether the numbers became others by a factor, or by their bytes, and nothing speaks against that yet."""
    what = look.standing.notes.get("signal.what")
    return what is not None and not (isinstance(what, float) and noise_stayed(look, hour, what))


def _leapt_in_time(look: Look, hour: int) -> bool:
    """Whether a clock was set about then: hours may be missing between two samples.

    What was kept while the line was down, and came all at once later, has had no clock set.
    """
    lags = look.standing.hours.column("lag_s", hour - 1, hour + SEEN_H + 1)
    arrivals = [lag_s + 3600.0 * number for number, lag_s in enumerate(lags)]
    return min(_range(known(lags)), _range(known(arrivals))) >= CLOCK_S


def _range(values: list[float]) -> float:
    """From the lowest to the highest; infinite: there is none."""
    return max(values) - min(values) if values else math.inf


def _was_exchanged(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether another depth moved the other way at the same time, by itself and beyond what it had done before."""
    least_kpa = COMMON_SHARE * abs(size_kpa)
    sign = -1.0 if size_kpa > 0.0 else 1.0
    for near in look.neighbours.station:
        seen_kpa = near.hours.at("last_kpa", hour + 1) - near.hours.at("last_kpa", hour - 1)
        if sign * seen_kpa > least_kpa and sign * moved(near, hour) > least_kpa:
            return True
    return False


def _case(look: Look, hour: int, size_kpa: float) -> Case:
    notes = look.standing.notes
    notes[SIZE] = round(size_kpa, 2)
    notes.pop(FROM, None)
    seen = witnesses(look)
    facts = (
        Fact("rose by" if size_kpa > 0.0 else "fell by", abs(size_kpa), "kPa"),
        Fact("from", kpa_before(look.standing, hour), "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
        Fact("has kept its new level for", float(look.hour - hour), "h"),
        Fact("neighbours that did not move with it", len(seen)),
    )
    return Case(FindingKind.LEVEL_SHIFT, hour * HOUR_US, 0.9 if size_kpa > 0.0 or seen else 0.7, facts)
