"""Water that is lost slowly from wet ground: it reads ever more free water, on the curve of vacuum that leaks away."""

from itertools import pairwise
from math import inf, log

from parchd.diagnosis.falls import SWINGS, steady_swing_kpa, witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap_in_doubt import leap_in_doubt_kpa
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.tube import OFFSETS, SERVED_H, lost_kpa_of, stands_in_water, was_cold
from parchd.diagnosis.verdict import Case, Look

FREE_KPA = -1.5
"""Water seldom stands higher than that above a cup."""
AGES_H = (54, 44, 36, 29, 23, 18, 14, 11, 9)
"""Hours since it began."""
WET_KPA, LEAST_KPA, STEEPEST = 10.0, 3.0, 0.35
"""What it read before at most, for drier ground is judged by longer courses; what it must have lost; and the share of
it that may go within one hour."""
CURVE_KPA, CURVE_SHARE = 0.8, 0.08
"""How far the sun, and a calibration, carry it from what goes by the same share in every hour."""
QUICKEST_H, SLOWEST_H = 5.0, 60.0
"""Time constants of it."""
FELT_KPA, FELT_SHARE, SWING_SHARE = 0.6, 0.25, 0.12
"""What neighbours may fall meanwhile, as a share of its own fall too, and of what they read: more is water."""
BEFORE_H, LESS_KPA = 20 * 24, 1.0
"""So long before it read at least so much more: with a wrong zero it would have read as little before."""
TAIL, PARTS, FASTER = 0.5, 5, 1.15
"""So much of a fall had gone before what is looked at; and how many times its first fifth a later one may be."""
DRY_BELOW_KPA = 10.0
"""Above ground as dry as that no water stands for long."""
KNOWN, SAME_DEPTH_M, DAY_H = 0.8, 0.12, 24


def sinking(look: Look) -> Case | None:
    """See vacuum leak away below what free water reads while no neighbour gets any water."""
    head_kpa, now_kpa = look.instrument.head_kpa, look.now.mean_kpa
    if not now_kpa <= FREE_KPA or lost_kpa_of(look) is None or look.has(*OFFSETS) or was_cold(look):
        return None
    if leap_in_doubt_kpa(look, now_kpa - FREE_KPA):
        return None  # A level that shifted when water came, too, reads so.
    for age_h in AGES_H:
        course = look.past("mean_kpa", age_h + 1)
        if course[0] <= WET_KPA and _leaks_away(course, head_kpa):
            return _case(look, look.hour - age_h, course[0])
    return None


def _case(look: Look, begin: int, from_kpa: float) -> Case | None:
    lost_kpa = from_kpa - look.now.mean_kpa
    if not _came_down(look, begin) or stands_in_water(look) or _may_be_water(look, begin, from_kpa):
        return None
    if look.hour - begin < SERVED_H and someone_was_there(look, begin + 1):
        return None
    if lost_kpa < max(SWINGS * steady_swing_kpa(look.standing, begin), LEAST_KPA + _fell_yesterday(look, begin)):
        return None  # The day takes as much, and brings it back.
    seen = _unmoved(look, begin, lost_kpa)
    if not seen:
        return None
    facts = (
        Fact("fell from", from_kpa, "kPa"),
        Fact("to", look.now.mean_kpa, "kPa"),
        Fact("since", begin * HOUR_US, "time"),
        Fact("neighbours that got no water", len(seen)),
    )
    return Case(FindingKind.LOST_WATER, begin * HOUR_US, 0.85, facts)


def _leaks_away(course: list[float], head_kpa: float) -> bool:
    """Whether the same share of the vacuum goes in every hour, more or less."""
    age_h, values = len(course) - 1, known(course)
    lost_kpa, first_kpa, last_kpa = course[0] - course[-1], course[0] + head_kpa, course[-1] + head_kpa
    if len(values) < KNOWN * len(course) or not lost_kpa >= LEAST_KPA or last_kpa <= 0.0:
        return False
    if not QUICKEST_H <= age_h / log(first_kpa / last_kpa) <= SLOWEST_H:
        return False
    if max(early - late for early, late in pairwise(values)) > STEEPEST * lost_kpa:
        return False
    left = last_kpa / first_kpa
    off = known(value + head_kpa - first_kpa * left ** (hour / age_h) for hour, value in enumerate(course))
    return max(map(abs, off)) <= CURVE_KPA + CURVE_SHARE * first_kpa


def _came_down(look: Look, begin: int) -> bool:
    """Whether it never read as little before: else its zero may be wrong."""
    before = known(look.past("mean_kpa", BEFORE_H, until=begin))
    return bool(before) and min(before) >= look.now.mean_kpa + LESS_KPA


def _fell_yesterday(look: Look, begin: int) -> float:
    """What it fell in the same hours of the day before."""
    course = known(look.past("mean_kpa", look.hour - begin + 1, until=look.hour - DAY_H))
    return max(course[0] - course[-1], 0.0) if look.hour - begin < DAY_H and course else 0.0


def _may_be_water(look: Look, begin: int, from_kpa: float) -> bool:
    """Whether it belongs to a fall that water began, at neighbours too: its end, or one that was slow at first."""
    watered = (fall for fall in look.standing.falls[-2:] if fall.why == "neighbours" and fall.low_hour >= begin)
    return any(_is_tail(fall, begin, from_kpa) or not _was_fastest_at_first(look, fall) for fall in watered)


def _is_tail(fall: Fall, begin: int, from_kpa: float) -> bool:
    """Whether it is the end of a fall: its neighbours were through sooner."""
    return fall.begin < begin and fall.from_kpa - from_kpa >= TAIL * fall.size_kpa


def _was_fastest_at_first(look: Look, fall: Fall) -> bool:
    """Whether no later part of a fall lost plainly more than the first, as through a leak: water begins slowly."""
    course = look.standing.hours.column("mean_kpa", fall.begin + 1, look.hour + 1)
    part = max(1, len(course) // PARTS)
    lost = [early - late for early, late in zip(course, course[part:], strict=False)]
    return not lost or not max(known(lost), default=0.0) > FASTER * lost[0]


def _fell_beyond_the_day(near: Standing, begin: int, last: int) -> float:
    """How far it has been below the same hour of the day before; infinite: not known."""
    day = near.hours.column("mean_kpa", begin - DAY_H + 1, begin + 1)
    course = near.hours.column("mean_kpa", begin + 1, last + 1)
    fell = known(day[number % DAY_H] - value for number, value in enumerate(course))
    return max(fell) if len(fell) >= KNOWN * len(course) else inf


def _unmoved(look: Look, begin: int, lost_kpa: float) -> list[Standing]:
    """Give the neighbours that water would have reached first, if it reached none of those nor went down below it.

    Where none of them can be asked the ones below it tell: water that stands above a cup goes down from there.
    """
    deepest_m = look.instrument.place.depth_m + SAME_DEPTH_M
    courses = [(near, known(near.hours.column("mean_kpa", begin, look.hour + 1))) for near in witnesses(look)]
    told = [(near, course) for near, course in courses if len(course) >= KNOWN * (look.hour - begin)]
    first = [(near, course) for near, course in told if near.instrument.place.depth_m <= deepest_m]
    station = [(near, course) for near, course in told if near in look.neighbours.station]
    below = [(near, course) for near, course in station if near.instrument.place.depth_m > deepest_m]
    least_kpa = max(FELT_KPA, FELT_SHARE * lost_kpa)
    for near, course in (*first, *below):
        fell_kpa = min(course[0] - min(course), _fell_beyond_the_day(near, begin, look.hour))
        if fell_kpa > max(least_kpa, SWING_SHARE * course[0]):
            return []
    return [near for near, _ in first] or [near for near, course in below if min(course) >= DRY_BELOW_KPA]
