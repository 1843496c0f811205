"""Which of two depths of a station does water reach first? It comes from above."""

from parchd.diagnosis.standing import Fall, Standing

LEAST_KPA, LEAST_SHARE, QUICK_H = 2.0, 0.12, 12
"""What a wetting does: what is less, or slower, may be the sun."""
BEFORE_H, SAME_H = 48, 1
"""So long before, or at the same time, the other one must have fallen for the water to have come from there."""
BESIDE_H = 12
"""The same water, at another station."""


def comes_from_below(upper: Standing, lower: Standing, beside: Standing, first: int) -> bool:
    """Whether water reached the lower of two before the upper one, and never the other way round.

    Args:
        beside: a neighbour as deep as the upper one: what reaches the lower one comes when it is wetted.
        first: hour from which on falls count.
    """
    water = [fall for fall in beside.falls if fall.begin >= first and _is_wetting(fall)]
    if any(_is_alone(fall, lower) for fall in upper.falls if fall.begin >= first and _is_wetting(fall)):
        return False
    return any(
        _is_wetting(fall) and _is_alone(fall, upper) and any(abs(fall.begin - one.begin) <= BESIDE_H for one in water)
        for fall in lower.falls
        if fall.begin >= first
    )


def _is_wetting(fall: Fall) -> bool:
    return fall.size_kpa >= max(LEAST_KPA, LEAST_SHARE * fall.from_kpa) and fall.half_hour - fall.begin <= QUICK_H


def _is_alone(fall: Fall, other: Standing) -> bool:
    """Whether the other one had not fallen by then."""
    return not any(fall.begin - BEFORE_H <= one.begin <= fall.begin + SAME_H for one in other.falls)
