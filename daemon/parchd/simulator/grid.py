"""The fine grid of time on which instruments are followed; gateways send some of its moments, or means over them."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.simulator.plan import Plan

Floats = NDArray[np.float64]
FINEST_S = 900.0
SLOT_US = 900 * US_PER_S


@dataclass(frozen=True)
class Grid:
    """Moments of a season.

    Args:
        start_us: of the season.
        step_s: between moments.
        each: moments in one interval of the gateways.
        intervals: how many a gateway sends.
    """

    start_us: int
    step_s: float
    each: int
    intervals: int

    @property
    def size(self) -> int:
        return self.each * self.intervals

    @cached_property
    def time_us(self) -> NDArray[np.int64]:
        """The end of each step."""
        step_us = round(self.step_s * US_PER_S)
        return self.start_us + step_us * np.arange(1, self.size + 1, dtype=np.int64)

    @cached_property
    def sample_us(self) -> NDArray[np.int64]:
        """When the gateways sample, or end their means."""
        return self.time_us[self.each - 1 :: self.each]

    def index(self, time_us: int) -> int:
        """First moment at or after a time; the size of the grid from its last moment on.

        >>> Grid(0, 900.0, 1, 10).index(1_000_000_000), Grid(0, 900.0, 1, 10).index(9_000_000_000)
        (1, 10)
        """
        return int(np.searchsorted(self.time_us[:-1], time_us)) + int(time_us >= self.time_us[-1])

    def sample_index(self, time_us: int) -> int:
        """First sample at or after a time; see `index`."""
        return int(np.searchsorted(self.sample_us[:-1], time_us)) + int(time_us >= self.sample_us[-1])

    def hours(self, number: float) -> int:
        """Steps in so many hours, at least one."""
        return max(1, round(number * 3600.0 / self.step_s))

    def since_d(self, onset_us: int) -> Floats:
        """Days since a moment, negative before it."""
        days: Floats = (self.time_us - onset_us) / (86_400.0 * US_PER_S)
        return days

    def at_slots(self, slots: Floats) -> Floats:
        """Take a course over the slots of 15 minutes (first row: the start) to the moments of the grid."""
        at = (self.time_us - self.start_us) / SLOT_US
        below = np.minimum(at.astype(np.int64), len(slots) - 2)
        share = at - below
        if slots.ndim == 2:
            share = share[:, None]
        course: Floats = slots[below] + (slots[below + 1] - slots[below]) * share
        return course


def grid_of(plan: Plan) -> Grid:
    """Make the grid of a season."""
    each = max(1, math.ceil(plan.interval_s / FINEST_S))
    intervals = int(plan.days * 86_400 // plan.interval_s)
    return Grid(plan.start_us, plan.interval_s / each, each, intervals)
