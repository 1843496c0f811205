"""What makes odd numbers a case of wrong bytes, or of a wrong unit."""

import math

from parchd.contract import Cause
from parchd.diagnosis import frost
from parchd.diagnosis.byte_turns import is_rail, is_senseless
from parchd.diagnosis.factors import CHANGED_BY, moves, total_change
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trends import middle
from parchd.diagnosis.tube import is_empty
from parchd.diagnosis.verdict import Case, Look, median
from parchd.words import noted

ODD_SHARE = 0.5
LEAST_ODD_H, TURNED_H, LEAST_ODD_SAMPLES = 2, 3, 3
LEAST_CODES, SAME_CODE_H, DROPPING_H = 2, 12, 24
BAD_SHARE = 0.25
UP_KPA = 30.0
"""No soil dries by so much within hours, and transducers that shift do so by less."""
ROUGH_KPA = 0.02
ROUGH_H = 24
COURSE_H, EXACT, COURSE_LIKE = 24, 0.04, 2.0
"""Water changes a day's course by more, and seldom to a round share of what it was."""
FREE_KPA = -1.0
LIKE, STAYED = 1.8, 0.5
"""Noise changes with the factor; so much more or less comes from chance. It stayed where it lies, as a logarithm, twice
as near to what it was as to that times the factor."""

_FAR = frozenset((float(Cause.BELOW_PHYSICAL), float(Cause.ABOVE_PHYSICAL)))
_WIRES = frozenset((float(Cause.OPEN_CIRCUIT), float(Cause.SHORT_CIRCUIT), float(Cause.SATURATED)))


def bytes_case(look: Look, since: int, odd: int) -> Case | None:
    if look.has(FindingKind.BYTE_ORDER):
        return None
    hours = look.hour + 1 - since
    bad, good = sum(known(look.past("bad", hours))), sum(known(look.past("good", hours)))
    lows, highs = known(look.past("raw_low", hours)), known(look.past("raw_high", hours))
    senseless = sum(is_senseless(low) or is_senseless(high) for low, high in zip(lows, highs, strict=True))
    if odd < max(LEAST_ODD_H, ODD_SHARE * hours) or good + bad < LEAST_ODD_SAMPLES:
        return None
    if senseless < LEAST_ODD_H and look.has(FindingKind.WRONG_UNIT):
        return None
    if senseless < LEAST_ODD_H and (bad < BAD_SHARE * (good + bad) or _may_be_chance(look, odd, {*lows, *highs})):
        return None
    facts = (
        Fact("samples that cannot be", int(bad)),
        Fact("lowest number", min(lows)),
        Fact("highest number", max(highs)),
        Fact("hours that fit once their bytes are put right", odd),
    )
    return Case(FindingKind.BYTE_ORDER, since * HOUR_US, 0.97, facts)


def _may_be_chance(look: Look, odd: int, numbers: set[float]) -> bool:
    """Codes that fit by chance: ice that pushes, few hours, one and the same code, or samples that drop out."""
    if frost.was_cold(look) or odd < TURNED_H or (drops_out(look) and odd < DROPPING_H):
        return True
    return len(numbers) < LEAST_CODES and odd < SAME_CODE_H


def drops_out(look: Look) -> bool:
    return FindingKey(FindingKind.DROP_OUTS, f"source/{look.instrument.source}") in look.state.findings


def unit_case(look: Look, since: int, factor: float) -> Case | None:
    hours = look.hour + 1 - since
    if look.has(FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER) or hours < LEAST_ODD_H:
        return None
    bad, good = sum(known(look.past("bad", hours))), sum(known(look.past("good", hours)))
    if good + bad < LEAST_ODD_SAMPLES or drops_out(look) or frost.was_cold(look):
        return None
    why = _impossible(look, hours, bad, good) or _leapt(look, since, factor) or _goes_on(look, since, factor)
    if not why:
        return None
    facts = (Fact(CHANGED_BY, factor), Fact("told by", why), Fact("hours", hours))
    return Case(FindingKind.WRONG_UNIT, since * HOUR_US, 0.92, facts)


def _impossible(look: Look, hours: int, bad: float, good: float) -> str:
    """Most samples cannot be, and no broken wire explains them."""
    if bad <= good:
        return ""
    causes = [cause for cause in look.past("cause", hours) if cause == cause and cause]
    if sum(cause in _FAR for cause in causes) > len(causes) / 2:
        return noted("impossible tensions")
    lows, highs = known(look.past("raw_low", hours)), known(look.past("raw_high", hours))
    if sum(cause == Cause.SATURATED for cause in causes) > len(causes) / 2 and not any(map(is_rail, [*lows, *highs])):
        return noted("codes beyond the converter's end")
    if sum(cause in _WIRES for cause in causes) > len(causes) / 2 and moves(lows, highs):
        return noted("impossible signals that follow the soil")
    return ""


def _leapt(look: Look, since: int, factor: float) -> str:
    """Tension went up in an hour or two by more than soil or transducer can."""
    before = known(look.standing.hours.column("mean_kpa", since - 6, since - 1))
    after = known(look.past("mean_kpa", look.hour + 1 - since))
    if len(before) < 2 or len(after) < LEAST_ODD_H or abs(math.log(abs(factor))) < 1.0:
        return ""
    return noted("a leap of tension") if min(after) - max(before) > UP_KPA else ""


def _goes_on(look: Look, since: int, factor: float) -> str:
    """Noise, or everything that the soil does, goes on as before, changed by the same factor.

    Where water or air may explain the fall, both must: what is left of the water in a tube shakes less, too.
    """
    nothing_left = was_empty(look, factor)
    if nothing_left and is_empty(median(look.past("mean_kpa", 3)), -look.instrument.head_kpa):
        return ""  # A signal without vacuum is about so much of any other.
    noise, course = _noise_fits(look, since, factor), _course_fits(look, since, factor)
    if (_explained(look, since) or nothing_left) and not (noise and course):
        return ""
    if noise:
        return noted("noise that changed with it")
    return noted("a course that goes on, changed with it") if course else ""


def was_empty(look: Look, factor: float) -> bool:
    """Whether the column was broken or lost: what is left is next to nothing, and anything is a multiple of it."""
    return look.has(FindingKind.AIR_ENTRY) or (factor > 1.0 and look.has(FindingKind.LOST_WATER))


def _noise_fits(look: Look, since: int, factor: float) -> bool:
    hours = look.hour - since
    after = known(look.past("rough_kpa", min(hours, ROUGH_H)))
    before = known(look.standing.hours.column("rough_kpa", since - 1 - ROUGH_H, since - 1))
    if len(after) < (3 if factor > 1.0 else 12) or len(before) < 8:
        return False
    usual, now = middle(before), middle(after)
    return usual >= ROUGH_KPA and 1.0 / LIKE < now / usual / factor < LIKE


def noise_stayed(look: Look, hour: int, factor: float) -> bool:
    """Whether noise is what it was, as with a level that shifted: another unit would have changed it as well."""
    after = known(look.past("rough_kpa", look.hour - hour))
    before = known(look.standing.hours.column("rough_kpa", hour - ROUGH_H, hour))
    if len(after) < 2 or len(before) < 8 or min(usual := middle(before), now := middle(after)) < ROUGH_KPA:
        return False
    return abs(math.log(now / usual)) < STAYED * abs(math.log(now / usual / factor))


def _course_fits(look: Look, since: int, factor: float) -> bool:
    """The step is the factor exactly, and a day's changes after it are those of the day before times the factor."""
    before, after = _middles(look, since - COURSE_H - 1, since - 1), _middles(look, since + 1, since + COURSE_H + 1)
    if look.hour < since + COURSE_H or len(before) < COURSE_H * 0.8 or len(after) < COURSE_H * 0.8 or not before[-1]:
        return False
    expected = before[-1] + _usual_change(look, since)
    if not after[0] * expected * factor > 0.0 or abs(math.log(after[0] / expected / factor)) > EXACT:
        return False
    lows, highs = (known(look.past(name, look.hour - since)) for name in ("raw_low", "raw_high"))
    if not moves(lows, highs):
        return False
    usual, now = total_change(before), total_change(after)
    return usual > 0.0 and 1.0 / COURSE_LIKE < now / usual / factor < COURSE_LIKE


def _usual_change(look: Look, since: int) -> float:
    """What the signal did in the same hours of the day before; 0: that is not known."""
    early, late = (_middles(look, hour, hour + 1) for hour in (since - 2 - COURSE_H, since + 1 - COURSE_H))
    return late[0] - early[0] if early and late else 0.0


def _middles(look: Look, begin: int, end: int) -> list[float]:
    lows, highs = (look.standing.hours.column(name, begin, end) for name in ("raw_low", "raw_high"))
    return known((low + high) / 2.0 for low, high in zip(lows, highs, strict=True))


def _explained(look: Look, since: int) -> bool:
    """Whether water explains a fall at that time: it leads no further than to free water."""
    falls = (fall for fall in look.standing.falls if abs(fall.begin - since) <= 3)
    return any(fall.explained is True and fall.low_kpa >= FREE_KPA for fall in falls)
