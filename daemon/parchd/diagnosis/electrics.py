"""Wires and converters: signals that only a broken line gives."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import takewhile
from typing import NamedTuple

from parchd.contract import Cause
from parchd.diagnosis import frost, outside, signal, supply
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.verdict import Case, Look, Over, Verdict

KINDS = {
    int(Cause.OPEN_CIRCUIT): FindingKind.OPEN_CIRCUIT,
    int(Cause.SHORT_CIRCUIT): FindingKind.SHORT_CIRCUIT,
    int(Cause.SATURATED): FindingKind.SATURATED,
}
LEAST_SAMPLES = 3
"""Fewer in a row may be a spark, a plug that is being moved, or a bit that fell over on the radio."""
MOST = 0.5
LOOSE_H, LOOSE_SAMPLES, LOOSE_HOURS = 24, 6, 3
"""A loose contact: so many bad samples in so many different hours of a day."""

SHARED_H, IN_A_ROW = 12, 6
"""Drop-outs take one sample, or two; so many in a row without a good one are no matter of theirs, and so many hours of
no other channel's either."""
WANDERS = 0.1
"""Of the signal: a shorted line gives one and the same, and an open one may pick up anything, but hardly while noise
begins on its whole board."""
AGAIN_H = 120
"""Loose contacts keep still for days when the weather does."""


class Tally(NamedTuple):
    """Samples of some hours."""

    good: float
    bad: float
    hours: int
    cause: int


def watch(look: Look) -> Iterable[Verdict]:
    """Look for an open or shorted line and a converter at its end; they end with an hour of good samples."""
    return _judge(look) if look.now.bad or "electrics.told" in look.standing.notes else ()


def _judge(look: Look) -> Iterator[Verdict]:
    bad, cause = look.now.bad, int(look.now.cause)
    kind = KINDS.get(cause) if bad > 0.0 else None
    if kind is not None and not (
        look.has(kind)
        or signal.is_strange(look)
        or _wanders(look, kind)
        or frost.was_cold(look)
        or _is_shared(look)
        or _may_be_noise(look, cause)
    ):
        case = _broken(look, kind, cause) or _loose(look, kind, cause)
        first = _first(look, cause)
        if case is not None and not (_crept(look, kind, first) or outside.is_carried_out(look, first)):
            yield _noted(look, case)
            return
    if look.has(*outside.WIRES):
        shifted = outside.is_no_wire(look, _told(look))
        if shifted is not None:
            look.standing.notes.pop("electrics.told", None)
            yield shifted
            return
    if not bad and "electrics.told" in look.standing.notes and look.now.good > 0.0 and _is_over(look):
        del look.standing.notes["electrics.told"]
        look.standing.notes["electrics.ended"] = look.hour
        for one in KINDS.values():
            yield Over(one, (look.hour - _clean_hours(look) + 1) * HOUR_US)


def _wanders(look: Look, kind: FindingKind) -> bool:
    """Whether bad samples of the same hour lie further apart than those of a broken line.

    An open one may pick up anything, but on the first day it has to keep still for an hour without a good sample: bytes
    that never were in the right order look like an open and a shorted line by turns.
    """
    now, level = look.now, look.standing.notes.get("signal.level")
    apart, most = now.raw_high - now.raw_low, max(abs(now.raw_low), abs(now.raw_high))
    if look.hour - max(look.standing.hours.begin, look.standing.since) < LOOSE_H:
        return now.good > 0.0 or apart > WANDERS * most
    if kind is not FindingKind.SHORT_CIRCUIT or now.good or not isinstance(level, float):
        return False
    return apart > WANDERS * max(most, abs(level))


def _told(look: Look) -> int:
    """The first bad hour of the wire that is held to be broken."""
    open_ = (look.state.findings.get(FindingKey(kind, look.instrument.subject)) for kind in outside.WIRES)
    return min(one.start_us // HOUR_US for one in open_ if one is not None)


def _crept(look: Look, kind: FindingKind, first: int) -> bool:
    """Whether the signal crept over its edge: an offset takes it there, where a broken wire makes it leap."""
    if kind is FindingKind.SATURATED or look.hour - first >= LOOSE_H:
        return False
    here = look.standing.hours
    before = next(
        (h for h in range(first - 1, first - LOOSE_H, -1) if here.at("good", h) and not here.at("bad", h)), None
    )
    return before is not None and outside.creeps(look.standing, before, first)


def _noted(look: Look, case: Case) -> Case:
    """Remember that it was told; one that comes back within days is a loose contact, and one finding from then on."""
    notes = look.standing.notes
    ended = notes.get("electrics.ended")
    notes["electrics.told"] = "loose" if isinstance(ended, int) and look.hour - ended < AGAIN_H else "once"
    return case


def _is_shared(look: Look) -> bool:
    """Whether the others of the source lose samples as well, now and then: that is no matter of one wire."""
    if not sum(known(look.past("good", SHARED_H))):
        return False
    if look.source_has(FindingKind.DROP_OUTS) and _in_a_row(look) < IN_A_ROW:
        return True
    others = look.neighbours.source
    begin = look.hour - 1
    losing = sum(sum(known(one.hours.column("bad", begin, look.hour + 1))) > 0.0 for one in others)
    return losing > 0 and losing >= MOST * len(others)


def _may_be_noise(look: Look, cause: int) -> bool:
    """Whether noise of the supply may have just begun, and bad samples lie further apart than a broken line's."""
    source = look.state.sources.get(look.instrument.source)
    if source is None or not source.notes.get(supply.NOISY):
        return False
    span = look.hour + 1 - _first(look, cause)
    rows = zip(*(look.past(name, span) for name in ("good", "raw_low", "raw_high")), strict=True)
    codes = known(code for good, *ends in rows if not good > 0.0 for code in ends)
    return not codes or max(codes) - min(codes) > WANDERS * max(map(abs, codes))


def _others_dip(look: Look, spoiled: Sequence[int]) -> bool:
    """Whether half of the others of its source dipped in most of the hours in which it lost samples.

    Where a board loses contact the signals of dry soil dip, and the one of wet soil leaves its range.
    """
    others, since_us = look.neighbours.source, spoiled[0] * HOUR_US
    dipped = [{hour_of(time_us) for time_us, _ in one.dips.since(since_us)} for one in others]
    shared = sum(sum(hour in hours for hours in dipped) >= MOST * len(others) for hour in spoiled)
    return bool(others) and shared > MOST * len(spoiled)


def _in_a_row(look: Look) -> float:
    """Count the bad samples in the hours without a good one up to now."""
    rows = zip(reversed(look.past("good", SHARED_H)), reversed(look.past("bad", SHARED_H)), strict=True)
    return sum(known(bad for _, bad in takewhile(lambda row: not row[0] > 0.0, rows)))


def _broken(look: Look, kind: FindingKind, cause: int) -> Case | None:
    """Three bad samples, and most of all in the hours that it takes to send three."""
    for hours in range(1, _hours_for(look, LEAST_SAMPLES) + 1):
        tally = _tally(look, hours, cause)
        if tally.bad >= LEAST_SAMPLES and tally.bad > MOST * (tally.good + tally.bad):
            return _case(look, kind, tally, _first(look, cause), 0.97)
    return None


def _loose(look: Look, kind: FindingKind, cause: int) -> Case | None:
    tally = _tally(look, LOOSE_H, cause)
    if tally.bad < LOOSE_SAMPLES or tally.hours < LOOSE_HOURS:
        return None
    spoiled = _bad_hours(look, LOOSE_H, cause)
    return None if _others_dip(look, spoiled) else _case(look, kind, tally, spoiled[0], 0.85)


def _case(look: Look, kind: FindingKind, tally: Tally, first: int, confidence: float) -> Case:
    facts = (
        Fact("bad samples", int(tally.bad)),
        Fact("good samples beside them", int(tally.good)),
        Fact("in", float(look.hour + 1 - first), "h"),
    )
    return Case(kind, first * HOUR_US, confidence, facts)


def _hours_for(look: Look, samples: int) -> int:
    """Hours within which so many samples are due."""
    return max(1, round(samples * look.instrument.interval_s / 3600.0 + 0.49))


def _tally(look: Look, hours: int, cause: int) -> Tally:
    bad, good = look.past("bad", hours), look.past("good", hours)
    causes = look.past("cause", hours)
    spoiled = [b for b, c in zip(bad, causes, strict=True) if b > 0.0 and c == cause]
    return Tally(sum(g for g in good if g == g), sum(spoiled), len(spoiled), cause)


def _bad_hours(look: Look, hours: int, cause: int) -> list[int]:
    bad, causes = look.past("bad", hours), look.past("cause", hours)
    begin = look.hour - hours + 1
    return [begin + n for n, (b, c) in enumerate(zip(bad, causes, strict=True)) if b > 0.0 and c == cause]


def _first(look: Look, cause: int) -> int:
    """First of the bad hours without a break; a day back at most."""
    spoiled = set(_bad_hours(look, LOOSE_H, cause))
    first = look.hour
    while first - 1 in spoiled:
        first -= 1
    return first


def _clean_hours(look: Look) -> int:
    """Hours since the last one with a bad sample; a day at most."""
    bad = look.past("bad", LOOSE_H)
    return next((n for n, count in enumerate(reversed(bad)) if count > 0.0), LOOSE_H)


def _is_over(look: Look) -> bool:
    """A line that failed once is well after an hour of good samples, a loose contact after a day, or days, of them."""
    if look.standing.notes.get("electrics.told") == "loose":
        return sum(known(look.past("bad", AGAIN_H))) == 0.0
    spoiled = [count > 0.0 for count in look.past("bad", LOOSE_H)]
    spells = sum(now and not before for before, now in zip([False, *spoiled], spoiled, strict=False))
    return spells <= 1 or _clean_hours(look) >= LOOSE_H
