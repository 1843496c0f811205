"""A leap: a change from one sample to the next, with all still before it and after it.

Soil and cups take hours and relax; only what is read can leap. So it need not be waited for what follows.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import inf, log

from parchd.diagnosis.falls import FRONT_H_PER_M, SWINGS, swing_kpa, witnesses
from parchd.diagnosis.hours import NAN, known
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.steps import bridged, is_sharp, kpa_before
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

LEAST_KPA = 3.0
"""Calibration errors and the sun stay below it."""
SEEN_H = 2
"""So long after it can be told: these hours must show that nothing relaxes."""
BEFORE_H, DAY_H = 3, 24
CLEAN_SHARES = (0.12, 0.04)
"""So much of it may come in any of the hours around, or in all after it, beyond what they usually bring: water trails
more, and so does a gap that closes around a cup. Less where it took two
hours, for averages bend it only between two of them, or where the hour before is silent."""
ROUGH_TIMES, SHAKEN_TIMES = 8.0, 4.0
"""How many times the bend from sample to sample it must be: of the day before, and of the last hour after it, for noise
that has just begun leaps as well."""
USUAL_SHARE = 0.35
LEAPS, LEAP_BENDS = (0.7, 0.9), 0.95
"""Of it must be seen, not only that a trend has ended, the more if it took two hours; and how it bends: a step, in
averages too, by once or twice its size, water that comes within an hour by less."""

WETTED_BEFORE_H, WETTED_AFTER_H, STILL_FALLS_H, PASSED_H = 8, 3, 3, 3
"""Water leaps, if ever, where it runs down a hole: then it reached a neighbour within hours, or later the deeper it is,
has not passed here already, and the neighbour is not as dry again as it was."""
FELT_KPA, FELT_SHARE = 0.8, 0.1
REPEATS = 0.75
"""What fell so much in the same hours of the day before, when nothing happened here, is no water that came."""
DRY_END = 0.8
EMPTY_KPA, EMPTY_SHARE = 1.0, 0.1
"""A tube that lost its water within minutes leaps as well, to where it reads empty."""
FREE_KPA, WET_KPA = -1.5, 8.0
FINE_S = 1800.0
"""Where samples are further apart, water may fill dry soil between two of them."""
SAME_DEPTH_M, SHALLOWER_M = 0.12, 0.05
STEADY_KPA = 0.5
STILL_SHARE, WETTER_KPA = 0.06, 1.5
"""What water fills sinks or dries on by more within two hours, and is no wetter than the ground it came through."""
WET_LOG, WETTED_KPA = 0.15, 0.4
"""Wet ground has few kilopascals to lose: a neighbour that lost so much of its tension within the same hours, beyond
what they brought the day before, was wetted, too."""
SOFT_KPA = 2.0
"""Added to a tension before its logarithm is taken."""
RETURN_SHARE, BULK = 0.65, 0.7
MEMORY_H = 30


def leap_kpa(standing: Standing, hour: int) -> float:
    """Size of a leap within an hour, or over two where averages are sent; NaN: there is none."""
    size_kpa = _clean_kpa(standing, hour, abs)
    is_sharp_one = is_sharp(standing, hour, size_kpa, LEAP_BENDS, bends_kpa(standing, hour))
    return size_kpa if is_sharp_one and not _is_shaken_since(standing, hour, size_kpa) else NAN


def _is_shaken_since(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether samples lie far from each other after it; not of seldom ones, which may still hold the leap itself."""
    if standing.instrument.interval_s > FINE_S:
        return False
    return standing.hours.at("rough_kpa", hour + SEEN_H) * SHAKEN_TIMES > abs(size_kpa)


def bends_kpa(standing: Standing, hour: int) -> float:
    """What samples bend by on the day before an hour; NaN: it is not known."""
    return middle(known(standing.hours.column("rough_kpa", hour - DAY_H, hour - 1)))


def trails(standing: Standing, hour: int) -> bool:
    """Whether more of a fall came in the hours around it, as it does with water."""
    return not any(_clean_kpa(standing, one, lambda change: -change) < 0.0 for one in (hour - 1, hour))


def _clean_kpa(standing: Standing, hour: int, counts: Callable[[float], float]) -> float:
    """Size of a change of an hour, or two, with little that counts in the hours around; NaN: there is none."""
    first, last = hour - BEFORE_H - 1, hour + SEEN_H + 1
    changes = _changes(bridged(standing, first, last))
    usual = _changes(standing.hours.column("last_kpa", first - DAY_H, last - DAY_H))
    rough_kpa = bends_kpa(standing, hour)
    if rough_kpa != rough_kpa:
        return NAN
    trend_kpa = _trend_kpa(changes[:BEFORE_H])
    is_silent = standing.hours.at("good", hour - 1) == 0.0
    shares = (CLEAN_SHARES[is_silent], CLEAN_SHARES[1])
    for width, share, least in zip((1, 2), shares, LEAPS, strict=True):
        seen_kpa = sum(changes[BEFORE_H : BEFORE_H + width])
        back_kpa = _back_kpa(seen_kpa, changes[:BEFORE_H], changes[BEFORE_H + width :])
        size_kpa = min(seen_kpa - width * trend_kpa, back_kpa, key=abs)
        around = [BEFORE_H - 1 - is_silent, *range(BEFORE_H + width, len(changes))]
        daily = [(changes[one], usual[one] if width == 1 else NAN) for one in around]
        left = [_left_kpa(change, day, trend_kpa, size_kpa) for change, day in daily]
        left_kpa = max(map(counts, (*left, sum(left[1:]))))
        leaps = least * abs(size_kpa) <= abs(seen_kpa) and size_kpa * seen_kpa > 0.0
        leaps = leaps and abs(size_kpa) >= width * abs(trend_kpa)
        leaps = leaps and (
            width == 1 or _wanders_kpa(standing, hour + 1) <= share * abs(size_kpa) + abs(trend_kpa) + rough_kpa
        )
        if leaps and abs(size_kpa) >= ROUGH_TIMES * rough_kpa and left_kpa <= share * abs(size_kpa) + rough_kpa:
            return size_kpa
    return NAN


def _wanders_kpa(standing: Standing, hour: int) -> float:
    """How far the samples of an hour lie apart: after a leap, also one that averages spread over two, they stand."""
    return standing.hours.at("high_kpa", hour) - standing.hours.at("low_kpa", hour)


def _trend_kpa(before: Sequence[float]) -> float:
    """What an hour brought before; the last one, where a wetting or a steep rise has come to rest by then."""
    return min((middle(known(before[:-1]) or [0.0]), before[-1]), key=abs)


def _back_kpa(seen_kpa: float, before: Sequence[float], after: Sequence[float]) -> float:
    """What is left where the hour before led the other way, beyond what both may have brought: a sample stood out.

    A way that turned by then, as when water has come to rest, brought nothing.
    """
    way_kpa, on_kpa = (middle(known(hours) or [0.0]) for hours in (before[:-1], after))
    way_kpa = way_kpa if way_kpa * on_kpa >= 0.0 else 0.0
    return seen_kpa + before[-1] - 2.0 * way_kpa if before[-1] * seen_kpa < 0.0 else inf


def _changes(values: Sequence[float]) -> list[float]:
    return [late - early for early, late in pairwise(values)]


def _left_kpa(change_kpa: float, usual_kpa: float, trend_kpa: float, size_kpa: float) -> float:
    """What of an hour's change neither the day before nor the hours before explain; minus infinite: it is not known.

    A day before that brought nearly as much itself, such as water, explains nothing.
    """
    if change_kpa != change_kpa:
        return -inf
    expected = [0.0, trend_kpa]
    if abs(usual_kpa) <= USUAL_SHARE * abs(size_kpa):
        expected.append(usual_kpa)
    return min((change_kpa - one for one in expected), key=abs)


def may_be_no_shift(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether something else leads there so fast: water down a hole, an empty tube, a return to where it was."""
    if size_kpa > 0.0:
        return _returns(look, hour, size_kpa) or _looks_empty(look, kpa_before(look.standing, hour))
    if kpa_before(look.standing, hour) > DRY_END * look.instrument.limit_kpa or _was_led(look.standing, hour, size_kpa):
        return True
    now_kpa = look.standing.hours.at("last_kpa", look.hour)
    return _looks_empty(look, now_kpa) or _may_be_water(look, hour, size_kpa, now_kpa)


def _was_led(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether it had fallen by as much in the hours before, beyond what the day brings: water may have led it down."""
    before, usual = (standing.hours.column("last_kpa", end - 1 - BEFORE_H, end) for end in (hour, hour - DAY_H))
    usual_kpa = max(0.0, usual[0] - usual[-1])  # Nought where it is not known.
    return before[0] - before[-1] - usual_kpa >= abs(size_kpa)


def _looks_empty(look: Look, value_kpa: float) -> bool:
    """Whether a tube that lost its water within minutes reads about so much; also where it is not known."""
    head_kpa = look.instrument.head_kpa
    return not abs(value_kpa + head_kpa) > EMPTY_KPA + EMPTY_SHARE * abs(head_kpa)


def _returns(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether it went down as fast within the last day: water that stood in a hole, a hand, or a wire led it away."""
    last = look.past("last_kpa", MEMORY_H, until=hour - 1)
    for at in range(1, len(last) - 1):
        fell_kpa = last[at - 1] - last[at]
        around = known(last[max(0, at - 6) : at + 4])
        if fell_kpa >= RETURN_SHARE * size_kpa and fell_kpa >= BULK * (max(around) - min(around)):
            return True
    return False


def _may_be_water(look: Look, hour: int, size_kpa: float, now_kpa: float) -> bool:
    """Whether water may have come: it reached others within hours, or nobody above can tell."""
    depth_m = look.instrument.place.depth_m
    still = _stands_still(look.standing, hour, size_kpa)
    seen = [n for n in witnesses(look) if n.hours.at("last_kpa", hour) == n.hours.at("last_kpa", hour)]
    passed = _passed(look, now_kpa) if still else look.neighbours.zone
    if any(_was_wetted(look, n, hour, size_kpa) for n in passed) or _was_wetted_at_once(look, hour):
        return True
    if not any(n.instrument.place.depth_m <= depth_m + SAME_DEPTH_M for n in seen):
        return FREE_KPA <= now_kpa <= (WET_KPA if still else inf)
    if still or look.instrument.interval_s <= FINE_S or not FREE_KPA <= now_kpa <= WET_KPA:
        return False
    above = [n for n in look.neighbours.station if n.instrument.place.depth_m < depth_m - SHALLOWER_M]
    return not any(n in seen and _is_steady(n, hour) for n in above)


def _passed(look: Look, now_kpa: float) -> list[Standing]:
    """The neighbours through whose ground water may have come here: they read about as little as it does now."""
    near = (*look.neighbours.level, *look.neighbours.station)
    return [n for n in near if not n.hours.at("last_kpa", look.hour) > now_kpa + WETTER_KPA]


def _stands_still(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether all of it came within the hour, and next to nothing after it, or what the hours before it brought."""
    last = bridged(standing, hour - BEFORE_H - 1, hour + SEEN_H + 1)
    trend_kpa = _trend_kpa(_changes(last[: BEFORE_H + 1]))
    before_kpa, first_kpa, *_, last_kpa = last[BEFORE_H:]
    came = abs(first_kpa - before_kpa) >= LEAPS[1] * abs(size_kpa)
    after_kpa = last_kpa - first_kpa
    return came and min(abs(after_kpa), abs(after_kpa - SEEN_H * trend_kpa)) <= STILL_SHARE * abs(size_kpa)


def _was_wetted(look: Look, neighbour: Standing, hour: int, size_kpa: float) -> bool:
    """Whether water that reached a neighbour may come here only now; it does not come twice."""
    deeper_m = max(0.0, look.instrument.place.depth_m - neighbour.instrument.place.depth_m)
    first, last = hour - WETTED_BEFORE_H - FRONT_H_PER_M * deeper_m, hour + WETTED_AFTER_H
    least_kpa = max(FELT_KPA, FELT_SHARE * abs(size_kpa))
    own = [fall.begin for fall in look.standing.falls[-4:]]
    for fall in neighbour.falls[-4:]:
        if fall.begin > last or fall.size_kpa < max(least_kpa, SWINGS * swing_kpa(neighbour, fall.begin)):
            continue
        if _repeats(neighbour, fall) and not _fell_yesterday(look.standing, hour, size_kpa):
            continue
        has_passed = any(fall.begin - 1 <= begin <= hour - PASSED_H for begin in own)
        has_passed = has_passed or neighbour.hours.at("last_kpa", hour) >= fall.from_kpa
        if fall.low_hour >= hour - STILL_FALLS_H or (fall.begin >= first and not has_passed):
            return True
    return False


def _was_wetted_at_once(look: Look, hour: int) -> bool:
    """Whether a neighbour at its depth or of its station became wetter in the same hours, by what wet ground can."""
    near = [n for n in (*look.neighbours.level, *look.neighbours.station) if look.trusts(n)]
    return any(_fell_log(n, hour) - _fell_log(n, hour - DAY_H) >= WET_LOG for n in near)


def _fell_log(standing: Standing, hour: int) -> float:
    """By how much it fell in an hour and the two after it, as a logarithm; 0: by next to nothing, or not known."""
    last = standing.hours.column("last_kpa", hour - 1, hour + SEEN_H + 1)
    before, after = known(last[:2]), known(last[1:])
    if not before or not after or max(before) - min(after) < WETTED_KPA:
        return 0.0
    return logarithm(max(before)) - logarithm(min(after))


def logarithm(kpa: float) -> float:
    """Of a tension: what it falls by tells of water in wet ground, too."""
    return log(max(kpa, -1.0) + SOFT_KPA)


def _repeats(neighbour: Standing, fall: Fall) -> bool:
    """Whether it fell as much a day earlier: warmth, or roots that rest, come and go with the day."""
    before_kpa, after_kpa = (neighbour.hours.at("mean_kpa", one - DAY_H) for one in (fall.begin, fall.low_hour))
    return before_kpa - after_kpa >= REPEATS * fall.size_kpa


def _fell_yesterday(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether it had fallen, too, about this hour of the day before."""
    last = known(standing.hours.column("last_kpa", hour - DAY_H - WETTED_BEFORE_H, hour - DAY_H + WETTED_AFTER_H))
    return not last or max(last) - min(last) >= USUAL_SHARE * abs(size_kpa)


def _is_steady(neighbour: Standing, hour: int) -> bool:
    """Whether it did not fall: water from above would have passed it."""
    last = known(neighbour.hours.column("last_kpa", hour - 2, hour + 3))
    return len(last) >= 4 and last[0] - min(last) <= STEADY_KPA
