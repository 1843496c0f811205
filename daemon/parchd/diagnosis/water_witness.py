"""May water have led a tensiometer down within the hour? Its neighbours are the witnesses."""

from parchd.diagnosis.falls import witnesses
from parchd.diagnosis.hours import known
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

BEFORE_H, BEFORE_H_PER_M, AFTER_H = 24, 100, 8
"""Water at a neighbour so long before or after may have come here too, or closed a gap around the cup; the deeper, the
later."""
FELT_SHARE = 0.1
FREE_KPA = -1.5
"""Water does not lead below it without standing above the cup."""
SINKS_SHARE = 0.25
SAME_DEPTH_M = 0.12
DRY_END = 0.8
"""A fall from above this share of the usable limit is air that came in."""


def may_be_water(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether water or air may have led down there: it reached a neighbour, or none can tell."""
    if look.standing.hours.at("last_kpa", hour - 1) > DRY_END * look.instrument.limit_kpa:
        return True
    depth_m = look.instrument.place.depth_m
    seen = witnesses(look)
    above = [n for n in seen if n.instrument.place.depth_m <= depth_m + SAME_DEPTH_M]
    now_kpa = middle(known(look.past("mean_kpa", look.hour - hour)))
    if not above:
        return now_kpa >= FREE_KPA
    return any(_was_wetted(n, look, hour, size_kpa) or _sinks(n, look, hour, size_kpa) for n in seen)


def _sinks(neighbour: Standing, look: Look, hour: int, size_kpa: float) -> bool:
    """Whether a neighbour has gone down as well since then, by and by."""
    before, now = neighbour.hours.at("mean_kpa", hour - 2), neighbour.hours.at("mean_kpa", look.hour)
    return before - now >= max(1.0, SINKS_SHARE * abs(size_kpa))


def _was_wetted(neighbour: Standing, look: Look, hour: int, size_kpa: float) -> bool:
    """Whether water that reached a neighbour may have reached this one in an hour."""
    deeper_m = look.instrument.place.depth_m - neighbour.instrument.place.depth_m
    first = hour - BEFORE_H - round(BEFORE_H_PER_M * max(0.0, deeper_m))
    last = hour + AFTER_H + round(BEFORE_H_PER_M * max(0.0, -deeper_m))
    least_kpa = max(0.8, min(FELT_SHARE * abs(size_kpa), 2.0))
    return any(first <= fall.begin <= last and fall.size_kpa >= least_kpa for fall in neighbour.falls[-8:])
