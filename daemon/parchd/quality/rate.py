"""Rate of change: does the tension rise faster than soil dries?"""

from dataclasses import dataclass

from parchd.quality.limits import HOUR_US, Limits

STEP_US = HOUR_US // 6
"""Rises are taken from before the running ten minutes of the clock: the noise of a converter is no rate."""
NEVER_US = -1


def is_too_fast(limits: Limits, rise_kpa: float, elapsed_us: int) -> bool:
    """Judge a rise of the tension (QARTOD rate of change test, for one direction).

    A fall, wetting, is never too fast. A rise in less than the shortest time counts as one in that time.

    >>> limits = Limits(rise_kpa_per_h=10.0)
    >>> [is_too_fast(limits, rise_kpa, HOUR_US) for rise_kpa in (-60.0, 10.0, 10.1)]
    [False, False, True]
    >>> [is_too_fast(limits, rise_kpa, HOUR_US // 60) for rise_kpa in (5.0, 5.1)]
    [False, True]
    """
    if rise_kpa <= 0.0:
        return False
    return rise_kpa * HOUR_US > limits.rise_kpa_per_h * max(elapsed_us, limits.shortest_rise_us)


@dataclass(slots=True)
class Baseline:
    """What a new sample is compared with: the first sample of the last ten minutes of the clock before its own.

    Where samples are rarer, that is the sample before. It is changed in place.

    Args:
        mark_us, mark_kpa: first sample of the newest ten minutes that have one; `NEVER_US`: none was taken yet.
        end_us: when those ten minutes end.
        base_us, base_kpa: first sample of those before; `NEVER_US`: there is none.
    """

    mark_us: int = NEVER_US
    mark_kpa: float = 0.0
    end_us: int = NEVER_US
    base_us: int = NEVER_US
    base_kpa: float = 0.0

    def take(self, time_us: int, kpa: float) -> None:
        """Let a sample be one to compare with."""
        if time_us >= self.end_us:
            self.base_us, self.base_kpa = self.mark_us, self.mark_kpa
            self.mark_us, self.mark_kpa = time_us, kpa
            self.end_us = time_us - time_us % STEP_US + STEP_US

    def rose_too_fast(self, limits: Limits, time_us: int, kpa: float) -> bool:
        """Judge a new sample; where there is none to compare with, it passes."""
        from_us, from_kpa = self.mark_us, self.mark_kpa
        if time_us < self.end_us:
            from_us, from_kpa = self.base_us, self.base_kpa
        return kpa > from_kpa and from_us != NEVER_US and is_too_fast(limits, kpa - from_kpa, time_us - from_us)
