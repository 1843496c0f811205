"""Spike: does one value stand apart from both its neighbours?"""

from parchd.quality.limits import Limits
from parchd.quality.rate import is_too_fast


def is_spike(limits: Limits, before_kpa: float, kpa: float, after_kpa: float, rose_in_us: int = 0) -> bool:
    """Judge a value once the next one is known (QARTOD spike test, "differential" method of the reference code).

    It is a spike if it lies beyond both its neighbours, to the same side, by more than the limit. A wetting goes down
    and stays down, and is none. Neither is soil that is wetted and dries again between rare samples: the side on which
    the tension rises must be too steep for drying as well.

    Args:
        rose_in_us: time between the value and the neighbour on the side of the rise.

    >>> limits = Limits(spike_kpa=5.0)
    >>> [is_spike(limits, 40.0, kpa, 41.0) for kpa in (2.0, 38.0, 60.0)]
    [True, False, True]
    >>> is_spike(limits, 40.0, 2.0, 2.5)
    False
    """
    came_kpa, went_kpa = kpa - before_kpa, after_kpa - kpa
    if came_kpa * went_kpa >= 0.0:
        return False
    if min(abs(came_kpa), abs(went_kpa)) <= limits.spike_kpa:
        return False
    return is_too_fast(limits, max(came_kpa, went_kpa), rose_in_us)
