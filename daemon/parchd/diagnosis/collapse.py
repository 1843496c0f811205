"""A tension that fell within hours without water: air at the dry end, or a column that was lost."""

from dataclasses import replace
from itertools import pairwise

from parchd.diagnosis.dry_around import dry_neighbours
from parchd.diagnosis.falls import steady_swing_kpa, wetted_neighbours
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import FINE_S, WET_KPA, leap_kpa
from parchd.diagnosis.standing import Fall
from parchd.diagnosis.tube import (
    DRY_END,
    OFFSETS,
    fall_behind,
    fall_facts,
    may_be_filling,
    reads_below_empty,
    shifted_kpa,
    stands_in_water,
)
from parchd.diagnosis.verdict import Case, Look, median

JUDGED_H, LATEST_H = 4, 96
COLLAPSE_SHARE = 0.3
QUICK_H = 5
GOES_ON_H, LEAST_SINK_KPA, SINK_SHARE = 5, 0.8, 0.06
"""Hours since the fall, and what it must lose meanwhile after the first of them."""
ALONE_LEFT = 0.5
"""And what is left of it at most by then where no neighbour tells: air breaks nearly all of the column at once, water
that reached one spot seldom takes so much."""
BURST_SHARE = 0.45
"""Of the vacuum, gone from one sample to the next."""
BELOW_H, BEFORE_H = 8, 6
STOOD_SHARES = (0.5, 0.2)
"""Of the fall so much of its beginning may be new, and less amid drop-outs: averages take wild samples along."""
RIPPLED_H, RIPPLE_KPA = 24, 4.0
"""Where gas in the tube follows the day by so much, the middle of a whole day tells where it stands."""


def collapsed(look: Look) -> Case | None:
    """Tension fell within hours, no neighbour got water, and it does not come back."""
    fall = _collapse(look)
    if fall is None or may_be_filling(look, fall):
        return None
    if fall.from_kpa - shifted_kpa(look) >= DRY_END * look.instrument.limit_kpa:
        return _air_entry(look, fall)
    seen = dry_neighbours(look, fall)
    return _below_zero(look, fall, _facts(fall, len(seen))) if seen else None


def collapsed_again(look: Look) -> Case | None:
    """It broke anew while nobody has written down that it was filled up: only a column that stands gets so dry."""
    told = look.state.findings.get(FindingKey(FindingKind.AIR_ENTRY, look.instrument.subject))
    fall = None if told is None else _fall_since(look, hour_of(told.found_us))
    if told is None or fall is None or wetted_neighbours(look, fall) or may_be_filling(look, fall):
        return None
    case = _air_entry(look, fall)
    filled = Fact("filled up after", told.found_us, "time")
    return None if case is None else replace(case, facts=(*case.facts, filled), is_repeated=True)


def _fall_since(look: Look, first: int) -> Fall | None:
    """A fall from the dry end that began after an hour and has stayed down.

    What was low until then knows no fall: it leads to nothing lower than before.
    """
    first = max(first, look.hour - LATEST_H)
    course = look.standing.hours.column("mean_kpa", first, look.hour + 1)
    dry = [hour for hour, value in enumerate(course, first) if value >= DRY_END * look.instrument.limit_kpa]
    if not dry or look.hour - dry[-1] < JUDGED_H:
        return None
    from_kpa, lower = course[dry[-1] - first], known(course[dry[-1] + 2 - first :])
    fell = len(lower) >= JUDGED_H - 1 and max(lower) <= (1.0 - COLLAPSE_SHARE) * from_kpa
    return Fall(dry[-1], from_kpa, min(lower), look.hour) if fell else None


def _air_entry(look: Look, fall: Fall) -> Case | None:
    """Air broke a column that stood at the dry end, unless water may have come."""
    seen = dry_neighbours(look, fall)
    if not _stood_dry(look, fall) or not (seen or _goes_on(look, fall)):
        return None
    return Case(FindingKind.AIR_ENTRY, fall.begin * HOUR_US, 0.9 if seen else 0.7, _facts(fall, len(seen)))


def _facts(fall: Fall, stayed_dry: int) -> tuple[Fact, ...]:
    return (*fall_facts(fall), Fact("neighbours that stayed dry", stayed_dry))


def _stood_dry(look: Look, fall: Fall) -> bool:
    """Whether it had been dry for hours: a sample that stood out, or numbers that cannot be, come from nowhere."""
    before = known(look.standing.hours.column("mean_kpa", fall.begin + 1 - BEFORE_H, fall.begin + 1))
    share = STOOD_SHARES[look.source_has(FindingKind.DROP_OUTS)]
    return len(before) >= BEFORE_H // 2 and median(before) >= fall.from_kpa - share * fall.size_kpa


def _collapse(look: Look) -> Fall | None:
    """The fall that led to what it reads now, if it was quick and large and water does not explain it."""
    newest = look.standing.falls[-1] if look.standing.falls else None
    if newest is None or not JUDGED_H <= look.hour - newest.begin <= LATEST_H:
        return None
    if newest.explained and not _burst(look, newest):
        return None
    fall = fall_behind(look)
    if fall is None or fall.half_hour - fall.begin > QUICK_H:
        return None
    recent = known(look.past("mean_kpa", 3))
    stays = len(recent) >= 2 and recent[-1] <= fall.from_kpa - 0.5 * fall.size_kpa
    return fall if stays and fall.size_kpa >= max(4.0, COLLAPSE_SHARE * fall.from_kpa) else None


def _burst(look: Look, fall: Fall) -> bool:
    """Whether a column at the dry end lost half of its vacuum from one sample to the next, and was not wet after it.

    Water takes hours to go so far, so there was none, whatever came to a neighbour. Where samples are far apart, or
    soil was wet at once, it may have.
    """
    if fall.from_kpa < DRY_END * look.instrument.limit_kpa or look.instrument.interval_s > FINE_S:
        return False
    if not look.standing.hours.at("mean_kpa", fall.begin + GOES_ON_H) > WET_KPA:
        return False
    least_kpa = BURST_SHARE * (fall.from_kpa + look.instrument.head_kpa)
    return any(leap_kpa(look.standing, hour) <= -least_kpa for hour in range(fall.begin, fall.begin + 3))


def _below_zero(look: Look, fall: Fall, facts: tuple[Fact, ...]) -> Case | None:
    """It reads free water that no neighbour has; a cracked cup would read none."""
    wanted_h = RIPPLED_H if steady_swing_kpa(look.standing, fall.begin) >= RIPPLE_KPA else BELOW_H
    recent = known(look.past("mean_kpa", wanted_h))
    if (
        len(recent) < wanted_h
        or look.has(*OFFSETS)
        or stands_in_water(look)
        or reads_below_empty(look, look.hour - fall.begin)
        or median(recent) > -0.3 - 0.25 * look.instrument.head_kpa
    ):
        return None
    return Case(FindingKind.LOST_WATER, fall.begin * HOUR_US, 0.8, (*facts, Fact("reads", median(recent), "kPa")))


def _goes_on(look: Look, fall: Fall) -> bool:
    """It fell by more than half at once and sinks on, hour by hour since, when drained soil would not."""
    age_h = look.hour - fall.begin
    soon_kpa = look.standing.hours.at("mean_kpa", fall.begin + GOES_ON_H)
    if age_h < GOES_ON_H or soon_kpa > ALONE_LEFT * fall.from_kpa:
        return False
    recent = known(look.past("mean_kpa", age_h - 1))
    if len(recent) < age_h - 1 or any(late > early for early, late in pairwise(recent)):
        return False
    return recent[0] - recent[-1] >= max(LEAST_SINK_KPA, SINK_SHARE * (recent[0] + look.instrument.head_kpa))
