"""Gross range: can there be such a tension, and can this tensiometer read it?"""

from parchd.contract import Cause

LOWEST_TENSION_KPA = -15.0


def gross_range(tension_kpa: float, lowest_kpa: float, highest_kpa: float, usable_limit_kpa: float) -> Cause:
    """Judge a tension against what the ground and the tensiometer can do (QARTOD gross range test).

    Bounds themselves pass. Fails outside ``lowest_kpa .. highest_kpa``; suspect above ``usable_limit_kpa``.

    >>> [gross_range(t, -15, 99, 80).name for t in (-15.1, -15, 80, 80.1, 99.1)]
    ['BELOW_PHYSICAL', 'NONE', 'NONE', 'ABOVE_LIMIT', 'ABOVE_PHYSICAL']
    """
    if tension_kpa > usable_limit_kpa:
        return Cause.ABOVE_LIMIT if tension_kpa <= highest_kpa else Cause.ABOVE_PHYSICAL
    return Cause.NONE if tension_kpa >= lowest_kpa else Cause.BELOW_PHYSICAL
