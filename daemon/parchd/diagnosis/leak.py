"""A slow air leak: it follows the soil at first, then stands still or sinks while its neighbours dry on."""

from collections.abc import Iterator

from parchd.diagnosis.falls import is_quick
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, median

STALL_H = (60, 96)
"""So long it has stood still: several days and nights, for one cloudy day may do that to healthy ones."""
STALL_SHARE = 0.08
"""Of what neighbours gained meanwhile; a cup with poor contact still follows a sixth and more."""
NEIGHBOUR_KPA, NEIGHBOUR_SHARE = 4.0, 0.18
ROSE_KPA, ROSE_SHARE = 2.0, 0.3
FORMER_SHARE = 1.35
"""It has held so much more within the last weeks: there are roots, and it could tell."""
LEAST_KPA = 5.0


def watch(look: Look) -> Iterator[Case]:
    """Compare the course since the last wetting with that of neighbours."""
    if look.has(*_EXPLAINED) or not look.standing.falls:
        return
    for hours in STALL_H:
        case = _stalled(look, hours)
        if case is not None:
            yield case
            return


_EXPLAINED = (
    FindingKind.AIR_LEAK, FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP, FindingKind.FROZEN,
    FindingKind.STUCK_VALUE, FindingKind.SWAPPED, FindingKind.WRONG_UNIT,
)  # fmt: skip


def _stalled(look: Look, hours: int) -> Case | None:
    fall = look.standing.falls[-1]
    if not fall.over or look.hour - fall.low_hour < hours + 12:
        return None
    before_kpa, now_kpa = _ends(look.standing, look.hour, hours)
    if not now_kpa >= LEAST_KPA or before_kpa - fall.low_kpa < max(ROSE_KPA, ROSE_SHARE * before_kpa):
        return None
    rises = [_rise(n, look.hour, hours) for n in _comparable(look)]
    rise_kpa = median(rises)
    if not rise_kpa >= NEIGHBOUR_KPA or now_kpa - before_kpa > STALL_SHARE * rise_kpa:
        return None
    former_kpa = max(known(look.past("mean_kpa", 28 * 24, until=fall.begin)), default=0.0)
    if former_kpa < FORMER_SHARE * now_kpa:
        return None
    facts = (
        Fact("rose after the last wetting to", before_kpa, "kPa"),
        Fact("gained since", now_kpa - before_kpa, "kPa"),
        Fact("within", float(hours), "h"),
        Fact("neighbours gained", rise_kpa, "kPa"),
        Fact("held before", former_kpa, "kPa"),
    )
    return Case(FindingKind.AIR_LEAK, _first_still(look, now_kpa, fall.low_hour) * HOUR_US, 0.8, facts)


def _comparable(look: Look) -> list[Standing]:
    """Neighbours as deep or shallower that nothing is known against and that got no water meanwhile."""
    deepest_m = look.instrument.place.depth_m + 0.12
    near = [n for n in look.neighbours.zone if n.instrument.place.depth_m <= deepest_m and look.trusts(n)]
    return [n for n in near if look.hour - n.hours.end < 6]


def _rise(standing: Standing, hour: int, hours: int) -> float:
    """What it gained; NaN where it was wetted meanwhile, or gained little for what it reads."""
    before_kpa, now_kpa = _ends(standing, hour, hours)
    if any(fall.low_hour > hour - hours and is_quick(fall) for fall in standing.falls[-2:]):
        return NAN
    return now_kpa - before_kpa if now_kpa > (1.0 + NEIGHBOUR_SHARE) * before_kpa else min(0.0, now_kpa - before_kpa)


def _ends(standing: Standing, hour: int, hours: int) -> tuple[float, float]:
    """Medians of the days at both ends: the daily swing is not to count."""
    column = standing.hours.column("mean_kpa", hour - hours - 11, hour + 1)
    return median(column[:24]), median(column[-24:])


def _first_still(look: Look, now_kpa: float, low_hour: int) -> int:
    """Since when it has been about where it is."""
    values = look.standing.hours.column("mean_kpa", low_hour, look.hour + 1)
    for number, value in enumerate(values):
        if value > 0.9 * now_kpa:
            return low_hour + number
    return look.hour
