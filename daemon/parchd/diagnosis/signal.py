"""Numbers that are not what they should be: wrong byte order, wrong unit.

Followed on the samples as they came, before any conversion. What was sent last and could be believed is the level; an
hour is even with it, or odd: it would be even again if the bytes were turned, or if it were divided by a factor that
units differ by. Odd hours move the level along as if they had been put right, so the soil may go on drying meanwhile.
"""

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from parchd.contract import Cause
from parchd.diagnosis import frost, scale
from parchd.diagnosis.byte_turns import TURNS, is_rail, is_senseless
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.scale import FACTORS, factor_of
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, Verdict

EVEN = 2.0
"""A signal may double within an hour and still be one of the same unit."""
SAME = 0.1
TURNED_ALIKE, NEARER = 0.2, 0.25
ODD_SHARE = 0.5
LEAST_ODD_H, TURNED_H, LEAST_ODD_SAMPLES = 2, 3, 3
LEAST_CODES, SAME_CODE_H, DROPPING_H = 2, 12, 24
HELD_BACK_H = 4
"""So long nothing is said of wires that may be bytes."""
BAD_SHARE = 0.25
ACCEPTED_H, WAITED_H = 2, 96
"""A new level without a sign of anything wrong is believed; so is one whose suspicion came to nothing."""
BACK_H = 12
UP_KPA = 30.0
"""No soil dries by so much within hours, and transducers that shift do so by less."""
ROUGH_KPA = 0.02
ROUGH_H = 24
COURSE_H, EXACT, COURSE_LIKE = 24, 0.04, 2.0
"""Water changes a day's course by more, and seldom to a round share of what it was."""
LIKE = 1.8
"""Noise changes with the factor; so much more or less comes from chance."""
BYTES = "bytes"

_FAR = frozenset((float(Cause.BELOW_PHYSICAL), float(Cause.ABOVE_PHYSICAL)))
_WIRES = frozenset((float(Cause.OPEN_CIRCUIT), float(Cause.SHORT_CIRCUIT), float(Cause.SATURATED)))


class Ends(NamedTuple):
    """Lowest and highest raw sample of an hour."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2.0


def watch(look: Look) -> Iterable[Verdict]:
    """Follow the raw samples of a tensiometer."""
    here, notes = look.standing.hours, look.standing.notes
    low, high, bad = here.at("raw_low", look.hour), here.at("raw_high", look.hour), here.at("bad", look.hour)
    level = notes.get("signal.level")
    if not isinstance(level, float):
        if not bad and low == low:
            notes["signal.level"] = (low + high) / 2.0
        return ()
    if bad == 0.0 and "signal.what" not in notes and "signal.unclear" not in notes and _is_near(low, high, level):
        notes["signal.level"] = (low + high) / 2.0
        return ()
    return _follow(look, Ends(low, high), level)


def _is_near(low: float, high: float, level: float) -> bool:
    """The usual hour."""
    size = SAME * abs(level)
    return level - size <= low and high <= level + size


def _follow(look: Look, ends: Ends, level: float) -> Iterator[Verdict]:
    if look.standing.hours.at("cause", look.hour) == Cause.UNIT:
        yield from _unit_refused(look)
        return
    if ends.low != ends.low:
        return
    what = oddness(ends, level, doubtful=_is_doubtful(look))
    if what is None:
        yield from _even(look, ends)
    elif what == "":
        _unclear(look, ends)
    else:
        yield from _odd(look, ends, what)


def _is_doubtful(look: Look) -> bool:
    if look.standing.hours.at("bad", look.hour) or look.has(FindingKind.BYTE_ORDER):
        return True
    return look.standing.notes.get("signal.what") == BYTES


def ends_at(look: Look, hour: int) -> Ends | None:
    """Raw samples of an hour; ``None``: there were none."""
    low, high = look.standing.hours.at("raw_low", hour), look.standing.hours.at("raw_high", hour)
    return Ends(low, high) if low == low else None


def oddness(ends: Ends, level: float, *, doubtful: bool = False) -> float | str | None:
    """Say what would make an hour even with the level.

    Args:
        doubtful: there is another sign that the bytes are wrong: half as far from the level is near no more.

    Returns:
        ``None``: it is even; `BYTES`; a factor; an empty word: nothing would.
    """
    if is_senseless(ends.low) or is_senseless(ends.high):
        return BYTES
    if not level:
        return "" if ends != (0.0, 0.0) else None
    off = _off(ends, level)
    doubled = not all(1.0 / EVEN < end / level < EVEN for end in ends)
    if off > SAME * abs(level) and (doubtful or doubled):
        right = put_right(ends, level)
        if right is not None and _off(right, level) < NEARER * off:
            return BYTES
    if not doubled:
        return None
    factors = {factor_of(end / level) for end in ends}
    return factors.pop() or "" if len(factors) == 1 else ""


def _off(ends: Ends, level: float) -> float:
    return max(abs(ends.low - level), abs(ends.high - level))


def put_right(ends: Ends, level: float) -> Ends | None:
    """Turn the bytes of both ends so that they lie next to the level; ``None``: they never do."""
    near = TURNED_ALIKE * abs(level)
    turned = (Ends(turn(ends.low), turn(ends.high)) for turn in TURNS.values())
    return min((one for one in turned if _off(one, level) <= near), key=lambda one: _off(one, level), default=None)


def is_strange(look: Look) -> bool:
    """Whether the samples of this hour are none that a broken wire, or a converter at its end, sends."""
    ends = ends_at(look, look.hour)
    if ends is None:
        return False
    saturated = look.standing.hours.at("cause", look.hour) == Cause.SATURATED
    if saturated and not (is_rail(ends.low) or is_rail(ends.high)):
        return True
    return _just_turned(look) or is_senseless(ends.low) or is_senseless(ends.high)


def _just_turned(look: Look) -> bool:
    since = look.standing.notes.get("signal.since")
    if look.standing.notes.get("signal.what") != BYTES or not isinstance(since, int):
        return False
    return look.hour - since < HELD_BACK_H


def _unit_refused(look: Look) -> Iterator[Verdict]:
    bad, good = look.past("bad", LEAST_ODD_SAMPLES), look.past("good", LEAST_ODD_SAMPLES)
    if sum(known(bad)) >= LEAST_ODD_SAMPLES and sum(known(bad)) > sum(known(good)):
        facts = (Fact("samples whose unit does not fit the transducer", int(sum(known(bad)))),)
        yield Case(FindingKind.WRONG_UNIT, look.hour * HOUR_US, 0.97, facts)


def _even(look: Look, ends: Ends) -> Iterator[Verdict]:
    notes = look.standing.notes
    if not look.standing.hours.at("bad", look.hour):
        notes["signal.level"] = ends.middle
    open_ = [kind for kind in (FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT) if look.has(kind)]
    if not open_ or scale.holds(look):
        for word in ("what", "since", "odd", "unclear"):
            notes.pop(f"signal.{word}", None)
        return
    back = notes.get("signal.back", 0)
    assert isinstance(back, int)
    notes["signal.back"] = back + 1
    if back + 1 >= BACK_H and not sum(known(look.past("bad", BACK_H))):
        for word in ("what", "since", "odd", "unclear", "back"):
            notes.pop(f"signal.{word}", None)
        for kind in open_:
            yield Over(kind, (look.hour - BACK_H + 1) * HOUR_US)


def _unclear(look: Look, ends: Ends) -> None:
    """Neither even nor odd: a wetting, a shift. Believed when it lasts and nothing is wrong with the samples."""
    notes = look.standing.notes
    if look.standing.hours.at("bad", look.hour) or look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT):
        return
    count = notes.get("signal.unclear", 0)
    assert isinstance(count, int)
    notes["signal.unclear"] = count + 1
    if count + 1 >= ACCEPTED_H:
        _believe(look, ends)


def _believe(look: Look, ends: Ends) -> None:
    for word in ("what", "since", "odd", "unclear"):
        look.standing.notes.pop(f"signal.{word}", None)
    look.standing.notes["signal.level"] = ends.middle


def _odd(look: Look, ends: Ends, what: float | str) -> Iterator[Verdict]:
    notes = look.standing.notes
    notes.pop("signal.back", None)
    if notes.get("signal.what") != what:
        notes["signal.what"], notes["signal.since"], notes["signal.odd"] = what, look.hour, 0
    since, odd, level = notes["signal.since"], notes["signal.odd"], notes["signal.level"]
    assert isinstance(since, int)
    assert isinstance(odd, int)
    assert isinstance(level, float)
    notes["signal.odd"] = odd + 1
    if isinstance(what, str):
        right = put_right(ends, level)
        notes["signal.level"] = level if right is None else right.middle
        case = _bytes_case(look, since, odd + 1)
    else:
        notes["signal.level"] = ends.middle / what
        case = _unit_case(look, since, what)
    if case is not None:
        yield case
    elif look.hour - since > WAITED_H and not look.standing.hours.at("bad", look.hour) and not _open(look):
        _believe(look, ends)


def _open(look: Look) -> bool:
    return look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT)


def _bytes_case(look: Look, since: int, odd: int) -> Case | None:
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
    """Codes that fit by chance: few hours, one and the same code, or samples that drop out."""
    if odd < TURNED_H or (_drops_out(look) and odd < DROPPING_H):
        return True
    return len(numbers) < LEAST_CODES and odd < SAME_CODE_H


def _drops_out(look: Look) -> bool:
    return FindingKey(FindingKind.DROP_OUTS, f"source/{look.instrument.source}") in look.state.findings


def _unit_case(look: Look, since: int, factor: float) -> Case | None:
    hours = look.hour + 1 - since
    if look.has(FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER) or hours < LEAST_ODD_H:
        return None
    bad, good = sum(known(look.past("bad", hours))), sum(known(look.past("good", hours)))
    if good + bad < LEAST_ODD_SAMPLES or _drops_out(look) or frost.was_cold(look):
        return None
    why = _impossible(look, hours, bad, good) or _leapt(look, since, factor) or _goes_on(look, since, factor)
    if not why:
        return None
    facts = (Fact("numbers changed by the factor", factor), Fact("told by", why), Fact("hours", hours))
    return Case(FindingKind.WRONG_UNIT, since * HOUR_US, 0.92, facts)


def _impossible(look: Look, hours: int, bad: float, good: float) -> str:
    """Most samples cannot be, and no broken wire explains them."""
    if bad <= good:
        return ""
    causes = [cause for cause in look.past("cause", hours) if cause == cause and cause]
    if sum(cause in _FAR for cause in causes) > len(causes) / 2:
        return "impossible tensions"
    lows, highs = known(look.past("raw_low", hours)), known(look.past("raw_high", hours))
    if sum(cause == Cause.SATURATED for cause in causes) > len(causes) / 2 and not any(map(is_rail, [*lows, *highs])):
        return "codes beyond the converter's end"
    if sum(cause in _WIRES for cause in causes) > len(causes) / 2 and scale.moves(lows, highs):
        return "impossible signals that follow the soil"
    return ""


def _leapt(look: Look, since: int, factor: float) -> str:
    """Tension went up in an hour or two by more than soil or transducer can."""
    before = known(look.standing.hours.column("mean_kpa", since - 6, since - 1))
    after = known(look.past("mean_kpa", look.hour + 1 - since))
    if len(before) < 2 or len(after) < LEAST_ODD_H or abs(math.log(abs(factor))) < 1.0:
        return ""
    return "a leap of tension" if min(after) - max(before) > UP_KPA else ""


def _goes_on(look: Look, since: int, factor: float) -> str:
    """Noise, or everything that the soil does, goes on as before, changed by the same factor.

    Where water may explain the fall, both must.
    """
    noise, course = _noise_fits(look, since, factor), _course_fits(look, since, factor)
    if _explained(look, since) and not (noise and course):
        return ""
    return "noise that changed with it" if noise else "a course that goes on, changed with it" if course else ""


def _noise_fits(look: Look, since: int, factor: float) -> bool:
    hours = look.hour - since
    after = known(look.past("rough_kpa", min(hours, ROUGH_H)))
    before = known(look.standing.hours.column("rough_kpa", since - 1 - ROUGH_H, since - 1))
    if len(after) < (3 if factor > 1.0 else 12) or len(before) < 8:
        return False
    usual, now = middle(before), middle(after)
    return usual >= ROUGH_KPA and 1.0 / LIKE < now / usual / factor < LIKE


def _course_fits(look: Look, since: int, factor: float) -> bool:
    """The step is the factor exactly, and a day's changes after it are those of the day before times the factor."""
    before, after = _middles(look, since - COURSE_H - 1, since - 1), _middles(look, since + 1, since + COURSE_H + 1)
    if look.hour < since + COURSE_H or len(before) < COURSE_H * 0.8 or len(after) < COURSE_H * 0.8 or not before[-1]:
        return False
    if abs(math.log(after[0] / before[-1] / factor)) > EXACT:
        return False
    usual, now = scale.total_change(before), scale.total_change(after)
    return usual > 0.0 and 1.0 / COURSE_LIKE < now / usual / factor < COURSE_LIKE


def _middles(look: Look, begin: int, end: int) -> list[float]:
    lows, highs = (look.standing.hours.column(name, begin, end) for name in ("raw_low", "raw_high"))
    return known((low + high) / 2.0 for low, high in zip(lows, highs, strict=True))


def _explained(look: Look, since: int) -> bool:
    """Whether water explains a fall at that time."""
    return any(fall.explained is True and abs(fall.begin - since) <= 3 for fall in look.standing.falls)


__all__ = ["FACTORS", "Ends", "ends_at", "is_strange", "oddness", "put_right", "watch"]
