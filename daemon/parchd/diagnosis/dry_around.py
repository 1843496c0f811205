"""Neighbours that stayed dry: where water would have come to them first, there was none."""

from parchd.diagnosis.falls import wetted_neighbours, witnesses
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.verdict import Look, above, median

DRY_KPA, DRY_SHARE = 5.0, 0.3
LONG_H = 30 * 24
SAME_DEPTH_M = 0.12
"""Only a neighbour as deep or shallower tells that there was no water; one below may not have got it yet."""


def dry_neighbours(look: Look, fall: Fall, within_h: int = LONG_H) -> list[Standing]:
    """Give the trusted neighbours that the water would have reached first, and that stayed dry; none if any got water.

    Args:
        within_h: hours after the fall began; what comes later did not make it.
    """
    hour = min(look.hour, fall.begin + within_h)
    if wetted_neighbours(look, fall) or _wet_above(look, fall, hour):
        return []
    deepest_m = look.instrument.place.depth_m + SAME_DEPTH_M
    first = [n for n in witnesses(look) if n.instrument.place.depth_m <= deepest_m]
    dry = [n for n in first if _stayed_dry(n, fall, hour)]
    return dry if 2 * len(dry) > len(first) else []


def sees_above(look: Look) -> bool:
    """Whether the ground above can be trusted: only there water that comes down to a deeper cup shows in time."""
    further_up = above(look)
    return not further_up or any(look.trusts(n) for n in further_up)


def _wet_above(look: Look, fall: Fall, hour: int) -> bool:
    """Whether a shallower tensiometer of its own station stands in wet soil: then water may well go down from there."""
    wet_kpa = max(DRY_KPA, 0.5 * fall.from_kpa)
    return any(n.hours.at("mean_kpa", hour) < wet_kpa for n in above(look))


def _stayed_dry(neighbour: Standing, fall: Fall, hour: int) -> bool:
    """It was dry before, and its tension is not below that of the same hour on the day before the fall."""
    same_hour = hour - 24 * -((fall.begin - hour) // 24)
    before_kpa = median(neighbour.hours.column("mean_kpa", same_hour - 1, same_hour + 2))
    now_kpa = median(neighbour.hours.column("mean_kpa", hour - 2, hour + 1))
    least_kpa = before_kpa - max(0.5, 0.04 * before_kpa)
    return before_kpa >= max(DRY_KPA, DRY_SHARE * fall.from_kpa) and now_kpa >= least_kpa
