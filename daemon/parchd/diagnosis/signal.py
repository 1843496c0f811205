"""Numbers that are not what they should be: wrong byte order, wrong unit.

Followed on the samples as they came, before any conversion. What was sent last and could be believed is the level; an
hour is even with it, or odd: it would be even again if the bytes were turned, or if it were divided by a factor that
units differ by. Odd hours move the level along as if they had been put right, so the soil may go on drying meanwhile.
"""

from collections.abc import Iterable, Iterator

from parchd.contract import Cause
from parchd.diagnosis import proportion, scale
from parchd.diagnosis.byte_turns import are_turned, is_rail, is_senseless
from parchd.diagnosis.evidence import LEAST_ODD_SAMPLES, bytes_case, unit_case
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.oddness import BYTES, EVEN, SAME, Ends, oddness, put_right
from parchd.diagnosis.verdict import Case, Look, Over, Verdict

HELD_BACK_H = 4
"""So long nothing is said of wires that may be bytes."""
ACCEPTED_H, WAITED_H = 2, 96
"""A new level without a sign of anything wrong is believed; so is one whose suspicion came to nothing."""
BACK_H = 12
STRANGE_H = 12
"""Numbers that no wire makes say so long that it is none: turned bytes make some that may be."""
ABOUT = 1.3


def watch(look: Look) -> Iterable[Verdict]:
    """Follow the raw samples of a tensiometer."""
    now, notes = look.now, look.standing.notes
    low, high, bad = now.raw_low, now.raw_high, now.bad
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
    if what == "" and (factor := _still_by(look, ends, level)) is not None:
        what = factor
    if what is None:
        yield from _even(look, ends)
    elif what == "":
        _unclear(look, ends)
    else:
        yield from _odd(look, ends, what)


def _still_by(look: Look, ends: Ends, level: float) -> float | None:
    """The factor that was seen, if it still leads back: the soil may go on meanwhile; ``None``: it does not."""
    factor = look.standing.notes.get("signal.what")
    if not isinstance(factor, float):
        return None
    return factor if all(1.0 / ABOUT < end / factor / level < ABOUT for end in ends) else None


def _is_doubtful(look: Look) -> bool:
    if look.standing.hours.at("bad", look.hour) or look.has(FindingKind.BYTE_ORDER):
        return True
    return look.standing.notes.get("signal.what") == BYTES


def ends_at(look: Look, hour: int) -> Ends | None:
    """Raw samples of an hour; ``None``: there were none."""
    low, high = look.standing.hours.at("raw_low", hour), look.standing.hours.at("raw_high", hour)
    return Ends(low, high) if low == low else None


def is_strange(look: Look) -> bool:
    """Whether the samples are none that a broken wire, or a converter at its end, sends."""
    ends = ends_at(look, look.hour)
    if ends is None:
        return False
    saturated = look.standing.hours.at("cause", look.hour) == Cause.SATURATED
    if saturated and not (is_rail(ends.low) or is_rail(ends.high)):
        return True
    lately = _ends_of(look, STRANGE_H)
    if _just_turned(look) or any(map(is_senseless, lately)):
        return True
    return are_turned(lately) or are_turned(_ends_of(look, HELD_BACK_H))


def _ends_of(look: Look, hours: int) -> list[float]:
    return known([*look.past("raw_low", hours), *look.past("raw_high", hours)])


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
    if back + 1 >= BACK_H and not sum(known(look.past("bad", BACK_H))) and not _is_wetted(look):
        for word in ("what", "since", "odd", "unclear", "back"):
            notes.pop(f"signal.{word}", None)
        for kind in open_:
            yield Over(kind, (look.hour - BACK_H + 1) * HOUR_US)


def _is_wetted(look: Look) -> bool:
    """Whether a wrong unit came near the old level only because the soil became wet: it is still apart from others."""
    return look.has(FindingKind.WRONG_UNIT) and proportion.is_apart(look)


def _unclear(look: Look, ends: Ends) -> None:
    """Neither even nor odd: a wetting, a shift. Believed when it lasts and nothing is wrong with the samples.

    In the hour in which a signal changes its one end is still what it was.
    """
    notes = look.standing.notes
    if look.standing.hours.at("bad", look.hour) or look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT):
        return
    count = notes.get("signal.unclear", 0)
    assert isinstance(count, int)
    notes["signal.unclear"] = count + 1
    if count + 1 >= ACCEPTED_H:
        _believe(look, ends)
        return
    level = notes["signal.level"]
    assert isinstance(level, float)
    even = [end for end in ends if level and 1.0 / EVEN < end / level < EVEN]
    if len(even) == 1:
        notes["signal.level"] = even[0]


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
        case = bytes_case(look, since, odd + 1)
    else:
        notes["signal.level"] = ends.middle / what
        case = unit_case(look, since, what)
    if case is not None:
        yield case
    elif look.hour - since > WAITED_H and not look.standing.hours.at("bad", look.hour) and not _open(look):
        _believe(look, ends)


def _open(look: Look) -> bool:
    return look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT)
