"""Signals that never were what they should be, told by their neighbours."""

import math
from collections.abc import Iterator, Sequence

from parchd.contract import Cause
from parchd.diagnosis.byte_turns import TURNS, is_rail, is_senseless
from parchd.diagnosis.factors import PSI_KPA, factor_of, moves, total_change
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, KEPT_HOURS, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import days, middle, scatter
from parchd.diagnosis.verdict import Case, Look, Over, Verdict, median, since

SPAN_H, LEAST_H = 48, 24
BAD_SHARE, ALL_BAD = 0.25, 0.95
SMOOTHER = 0.1
"""Put right, the numbers wander ten times less from hour to hour: chance does not do that."""
TELLING = 0.5
"""So many of the numbers that cannot be must be others once they are turned: zero is zero either way."""
AWAY = 4.0
"""Signals of one board lie within a factor of some three of each other, dry or wet."""

SPAN_DAYS, RECENT_DAYS, KNOWN_SHARE = 16, 5, 0.625
LEAST_PEER_KPA, LEAST_SWING_KPA = 4.0, 3.0
LEAST_CORRELATION = 0.8
SIDED = 0.5
"""On the logarithmic scale it lies nearer to the factor than to the rest of the zone."""
LATELY_H, APART_LOG = 12, SIDED * math.log(PSI_KPA)
"""Halfway to the least factor between units that are mixed up."""
EVEN_LOG, FACTOR_LOG, SWING_LOG = 0.15, 0.2, 0.35
"""Scatter of the ratio over the days; distance of levels, and of swings, from a factor: natural logarithms."""


def watch(look: Look) -> Iterator[Verdict]:
    """Compare a tensiometer that was wrong from the first sample with its neighbours; once a day is enough."""
    kind = holds(look)
    if kind is not None and look.has(kind):
        if _is_right_again(look, kind):
            del look.standing.notes["scale.found"]
            yield Over(kind, (look.hour + 1 - SPAN_H) * HOUR_US)
        return
    if look.has(FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT):
        return
    case = _turned(look) or _beyond(look) or _in_proportion(look, SPAN_DAYS)
    if case is not None:
        look.standing.notes["scale.found"] = case.kind.value
        yield case


def holds(look: Look) -> FindingKind | None:
    """What was found here, from which no signal can come back that was once right."""
    found = look.standing.notes.get("scale.found")
    return FindingKind(found) if isinstance(found, str) else None


def _is_right_again(look: Look, kind: FindingKind) -> bool:
    """Whether its numbers make sense, and its levels of the last days are those of its neighbours, give or take."""
    if _bad_share(look) or _turned(look) is not None:
        return False
    if kind is FindingKind.BYTE_ORDER:
        return True
    logs = [math.log(x / y) for x, y in _pairs(look, RECENT_DAYS)]
    return len(logs) >= KNOWN_SHARE * RECENT_DAYS and abs(middle(logs)) < APART_LOG


def is_apart(look: Look) -> bool:
    """Whether it read a multiple, or a fraction, of what its neighbours did in the last hours."""
    own = _vacuums(look, look.standing)
    columns = [_vacuums(look, one) for one in _peers(look) if look.trusts(one)]
    pairs = zip(own, map(median, zip(*columns, strict=True)), strict=False)
    logs = [math.log(x / y) for x, y in pairs if x > 0.0 and y > LEAST_PEER_KPA]
    return bool(logs) and abs(middle(logs)) >= APART_LOG


def _vacuums(look: Look, standing: Standing) -> list[float]:
    hours = standing.hours.column("mean_kpa", look.hour + 1 - LATELY_H, look.hour + 1)
    return [value + standing.instrument.head_kpa for value in hours]


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
    return Case(FindingKind.BYTE_ORDER, _begin(look, SPAN_H) * HOUR_US, 0.9, facts)


def _begin(look: Look, hours: int) -> int:
    """The first hour that was looked at."""
    return max(look.hour - hours + 1, look.standing.hours.begin, look.standing.since)


def _source_level(look: Look) -> float:
    """Raw signal of the others of the same board; NaN: there are too few."""
    levels = [median(one.hours.column("raw_low", look.hour - SPAN_H + 1, look.hour + 1)) for one in
              look.neighbours.source if look.trusts(one)]  # fmt: skip
    return median(levels) if len(known(levels)) >= 2 else NAN


def _beyond(look: Look) -> Case | None:
    """Nearly all samples impossible, yet they wander as soil does, far from what others of the board send."""
    if _bad_share(look) < ALL_BAD:
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
        Fact("numbers beside those of the same board, times", own / peers),
    )
    return Case(FindingKind.WRONG_UNIT, _begin(look, SPAN_H) * HOUR_US, 0.8, facts)


def _was_another(look: Look, own: float) -> bool:
    """Whether it left the range in which it delivered tensions, and no factor between units led it out."""
    if look.standing.hours.at("cause", look.hour) not in (Cause.OPEN_CIRCUIT, Cause.SHORT_CIRCUIT):
        return False
    rows = zip(*(look.past(name, KEPT_HOURS, until=look.hour - SPAN_H) for name in ("good", "raw_low")), strict=True)
    right = [low for good, low in rows if good > 0.0]
    return len(right) >= LEAST_H and factor_of(own / middle(right)) is None


def _in_proportion(look: Look, span_days: int) -> Case | None:
    """Levels and swings that are those of the neighbours times a factor, day after day."""
    peers, own, pairs = _peers(look), _vacuum_days(look, look.standing, span_days), _pairs(look, span_days)
    if len(pairs) < KNOWN_SHARE * span_days or len(pairs) < 0.8 * len(known(own)):
        return None
    logs = [math.log(x / y) for x, y in pairs]
    factor = factor_of(math.exp(middle(logs)), FACTOR_LOG)
    if (
        factor is None
        or scatter(logs) > EVEN_LOG
        or not _off_from_others(look, peers, own, math.log(factor), span_days)
    ):
        return None
    swing, others = total_change([x for x, _ in pairs]), total_change([y for _, y in pairs])
    if others < LEAST_SWING_KPA or not swing or abs(math.log(swing / others / factor)) > SWING_LOG:
        return None
    if _together([x for x, _ in pairs], [y for _, y in pairs]) < LEAST_CORRELATION:
        return None
    facts = (
        Fact("times what its neighbours read", math.exp(middle(logs))),
        Fact("their changes from day to day, times", swing / others),
        Fact("for", float(len(pairs)), "days"),
    )
    return Case(FindingKind.WRONG_UNIT, _begin(look, 24 * span_days) * HOUR_US, 0.85, facts)


def _peers(look: Look) -> Sequence[Standing]:
    return look.neighbours.level or look.neighbours.zone


def _pairs(look: Look, span_days: int) -> list[tuple[float, float]]:
    """Its vacuum and the neighbours', day by day, where both tell something."""
    own, beside = _vacuum_days(look, look.standing, span_days), _median_days(look, _peers(look), span_days)
    return [(x, y) for x, y in zip(own, beside, strict=True) if y > LEAST_PEER_KPA and x > 0.0]


def _off_from_others(
    look: Look, peers: Sequence[Standing], own: Sequence[float], factor_log: float, span_days: int
) -> bool:
    """Whether the others of the zone side with the neighbours: one of the two is wrong, and it may be the other."""
    names = {one.instrument.name for one in peers}
    others = [one for one in look.neighbours.zone if one.instrument.name not in names]
    beside = _median_days(look, others or look.neighbours.source, span_days)
    logs = [math.log(x / y) for x, y in zip(own, beside, strict=True) if x > 0.0 and y > 0.0]
    return len(logs) >= KNOWN_SHARE * span_days and middle(logs) / factor_log > SIDED


def _vacuum_days(look: Look, standing: Standing, span_days: int) -> list[float]:
    """Vacuum at the transducer, day by day: what a factor works on."""
    first = look.hour + 1 - 24 * span_days
    hours = since(standing.hours.column("mean_kpa", first, look.hour + 1), first, standing.since)
    return [value + standing.instrument.head_kpa for value in days(hours)]


def _median_days(look: Look, of: Sequence[Standing], span_days: int) -> list[float]:
    columns = [_vacuum_days(look, one, span_days) for one in of if look.trusts(one)]
    return [median(values) for values in zip(*columns, strict=True)] if columns else [NAN] * span_days


def _together(own: Sequence[float], peers: Sequence[float]) -> float:
    """Correlation of two series."""
    mean_x, mean_y = sum(own) / len(own), sum(peers) / len(peers)
    xy = sum((x - mean_x) * (y - mean_y) for x, y in zip(own, peers, strict=True))
    xx, yy = sum((x - mean_x) ** 2 for x in own), sum((y - mean_y) ** 2 for y in peers)
    return xy / math.sqrt(xx * yy) if xx > 0.0 and yy > 0.0 else 0.0
