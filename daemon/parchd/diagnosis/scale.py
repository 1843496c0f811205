"""Signals that never were what they should be, told by their neighbours."""

import math
from collections.abc import Iterator, Sequence

from parchd.contract import Cause
from parchd.diagnosis.byte_turns import TURNS, is_rail, is_senseless
from parchd.diagnosis.factors import BESIDE_BOARD, factor_of, moves, total_change
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, KEPT_HOURS, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.outside import reads_as_shifted
from parchd.diagnosis.proportion import (
    APART_LOG,
    KNOWN_SHARE,
    MOST_SWING,
    begin_of,
    below_water,
    in_proportion,
    pairs,
    swing_share,
)
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look, Over, Verdict, median

SPAN_H, LEAST_H = 48, 24
BAD_SHARE, ALL_BAD = 0.25, 0.95
SMOOTHER = 0.1
"""Put right, the numbers wander ten times less from hour to hour: chance does not do that."""
TELLING = 0.5
"""So many of the numbers that cannot be must be others once they are turned: zero is zero either way."""
AWAY = 4.0
"""Signals of one board lie within a factor of some three of each other, dry or wet."""

RECENT_DAYS = 5
FOUND = "scale.found"
"""Note: the kind that was told from neighbours, or from noise, and not from the last good signal."""


def watch(look: Look) -> Iterator[Verdict]:
    """Compare a tensiometer that was wrong from the first sample with its neighbours; once a day is enough."""
    kind = holds(look)
    if kind is not None and look.has(kind):
        if _is_right_again(look, kind):
            del look.standing.notes[FOUND]
            yield Over(kind, (look.hour + 1 - SPAN_H) * HOUR_US)
        return
    if look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT):
        return
    case = _turned(look) or (None if look.has(FindingKind.ZERO_DRIFT) else _times(look))
    if case is not None:
        look.standing.notes[FOUND] = case.kind.value
        yield case


def _times(look: Look) -> Case | None:
    """Look for a factor; a zero that drifts leads to next to nothing, and out of its range, by itself."""
    return _beyond(look) or in_proportion(look) or below_water(look)


def holds(look: Look) -> FindingKind | None:
    """What was found here, from which no signal can come back that was once right."""
    found = look.standing.notes.get(FOUND)
    return FindingKind(found) if isinstance(found, str) else None


def _is_right_again(look: Look, kind: FindingKind) -> bool:
    """Whether its numbers make sense, and it stands and moves as its neighbours did in the last days, give or take."""
    if _bad_share(look) or _turned(look) is not None:
        return False
    if kind is FindingKind.BYTE_ORDER:
        return True
    found_us = look.state.findings[FindingKey(kind, look.instrument.subject)].found_us
    both = pairs(look, RECENT_DAYS) if look.now_us - found_us >= 24 * RECENT_DAYS * HOUR_US else []
    if len(both) < KNOWN_SHARE * RECENT_DAYS or swing_share(both) < MOST_SWING:
        return False
    return abs(middle([math.log(x / y) for x, y in both])) < APART_LOG


def _bad_share(look: Look) -> float:
    bad = sum(known(look.past("bad", SPAN_H)))
    return bad / (bad + sum(known(look.past("good", SPAN_H)))) if bad else 0.0


def _turned(look: Look) -> Case | None:
    """Numbers that are smooth once their bytes are put right."""
    lows, highs = known(look.past("raw_low", SPAN_H)), known(look.past("raw_high", SPAN_H))
    if len(lows) < LEAST_H:
        return None
    senseless = sum(map(is_senseless, lows)) / len(lows)
    if max(_bad_share(look), senseless) < BAD_SHARE:
        return None
    wrong = _impossible(look)
    raw = total_change(lows) + total_change(highs)
    for name, turn in TURNS.items():
        right = [[turn(raw) for raw in ends] for ends in (lows, highs)]
        if any(value != value or is_senseless(value) for ends in right for value in ends):
            continue
        if sum(turn(raw) != raw for raw in wrong) < TELLING * len(wrong):
            continue
        change = total_change(right[0]) + total_change(right[1])
        if change < SMOOTHER * raw or _are_codes_put_right(look, lows, right[0]):
            return _bytes_case(look, lows, highs, name)
    return None


def _impossible(look: Look) -> list[float]:
    """Lowest numbers of the hours in which some cannot be."""
    rows = zip(look.past("raw_low", SPAN_H), look.past("bad", SPAN_H), strict=True)
    return [low for low, bad in rows if low == low and (bad > 0.0 or is_senseless(low))]


def _are_codes_put_right(look: Look, lows: Sequence[float], right: Sequence[float]) -> bool:
    """Codes no converter has at its end, that hardly change, and lie among the others of the board when turned."""
    if _bad_share(look) < ALL_BAD or any(map(is_rail, lows)):
        return False
    if look.standing.hours.at("cause", look.hour) != Cause.SATURATED:
        return False
    peers = _source_level(look)
    return peers == peers and 1.0 / AWAY < middle(right) / peers < AWAY and middle(lows) / peers > AWAY


def _bytes_case(look: Look, lows: Sequence[float], highs: Sequence[float], how: str) -> Case:
    facts = (
        Fact("samples that cannot be", 100.0 * _bad_share(look), "%"),
        Fact("lowest number", min(lows)),
        Fact("highest number", max(highs)),
        Fact("smooth once put right", how),
    )
    return Case(FindingKind.BYTE_ORDER, begin_of(look, SPAN_H) * HOUR_US, 0.9, facts)


def _source_level(look: Look) -> float:
    """Raw signal of the others of the same board; NaN: there are too few."""
    levels = [median(one.hours.column("raw_low", look.hour - SPAN_H + 1, look.hour + 1)) for one in
              look.neighbours.source if look.trusts(one)]  # fmt: skip
    return median(levels) if len(known(levels)) >= 2 else NAN


def _beyond(look: Look) -> Case | None:
    """Nearly all samples impossible, yet they wander as soil does, far from what others of the board send."""
    if _bad_share(look) < ALL_BAD or reads_as_shifted(look):
        return None
    lows, peers = known(look.past("raw_low", SPAN_H)), _source_level(look)
    if len(lows) < LEAST_H or peers != peers or not peers:
        return None
    own = middle(lows)
    if (
        not moves(lows, known(look.past("raw_high", SPAN_H)))
        or any(map(is_senseless, lows))
        or 1.0 / AWAY < own / peers < AWAY
        or _was_another(look, own)
    ):
        return None
    facts = (
        Fact("samples that cannot be", 100.0 * _bad_share(look), "%"),
        Fact(BESIDE_BOARD, own / peers),
    )
    return Case(FindingKind.WRONG_UNIT, begin_of(look, SPAN_H) * HOUR_US, 0.8, facts)


def _was_another(look: Look, own: float) -> bool:
    """Whether it left the range in which it delivered tensions, and no factor between units led it out."""
    if look.standing.hours.at("cause", look.hour) not in (Cause.OPEN_CIRCUIT, Cause.SHORT_CIRCUIT):
        return False
    rows = zip(*(look.past(name, KEPT_HOURS, until=look.hour - SPAN_H) for name in ("good", "raw_low")), strict=True)
    right = [low for good, low in rows if good > 0.0]
    return len(right) >= LEAST_H and factor_of(own / middle(right)) is None
