"""Who waters the zones, when and how much."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from parchd.simulator.weather import SLOTS_PER_DAY

Floats = NDArray[np.float64]

COARSE = frozenset({"sand", "loamy sand"})
SAFE_SHARE = 0.55
"""Share of the usable limit at which a farmer who looks after his tensiometers stops waiting."""


@dataclass(frozen=True, slots=True)
class Gift:
    """Water that a zone was given: slots and mm."""

    zone: int
    first: int
    last: int
    mm: float


@dataclass(slots=True)
class Farmer:
    """Waters each zone by its shallow tensiometers' true tension.

    Args:
        limit_kpa: of each zone.
        coarse: whether a zone is watered a little each day.
        slots: of the season.
        random: what chance decides with.
    """

    limit_kpa: list[float]
    coarse: list[bool]
    slots: int
    random: np.random.Generator
    gifts: list[Gift] = field(default_factory=list)
    rate_mm_h: Floats = field(init=False)
    _busy: list[int] = field(init=False)
    _hurried: list[int] = field(init=False)

    def __post_init__(self) -> None:
        self.rate_mm_h = np.zeros((self.slots, len(self.limit_kpa)))
        self._busy = [0] * len(self.limit_kpa)
        self._hurried = [0] * len(self.limit_kpa)

    def look(self, slot: int, zone: int, mean_kpa: float, worst_share: float, used_mm: float) -> None:
        """Decide about one zone.

        Args:
            mean_kpa: mean of the shallow cups.
            worst_share: highest tension of any cup of the zone as a share of its usable limit.
            used_mm: what the crop used since yesterday.
        """
        if worst_share > SAFE_SHARE:
            self._hurry(slot, zone)
        elif slot < self._busy[zone]:
            return
        elif self.coarse[zone]:
            if mean_kpa > 0.5 * self.limit_kpa[zone]:
                self._give(zone, slot + 4, max(4.0, 1.2 * used_mm), self.random.uniform(2.0, 4.0))
        elif mean_kpa > self.limit_kpa[zone]:
            self._plan(slot, zone)

    def _hurry(self, slot: int, zone: int) -> None:
        """Give much at once, unless that was done in the last hours."""
        if slot < self._hurried[zone]:
            return
        self._give(zone, slot + 1, self.random.uniform(35.0, 60.0), self.random.uniform(5.0, 10.0))
        self._hurried[zone] = self._busy[zone]

    def _plan(self, slot: int, zone: int) -> None:
        random = self.random
        share = float(random.choice([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.0]))
        later = int(random.uniform(0.0, 1.5) * SLOTS_PER_DAY)
        millimetres = random.uniform(12.0, 55.0) * share
        if millimetres > 0.0:
            self._give(zone, slot + 1 + later, millimetres, random.uniform(2.0, 12.0))
        self._busy[zone] = max(self._busy[zone], slot + later + SLOTS_PER_DAY)

    def _give(self, zone: int, first: int, millimetres: float, rate: float) -> None:
        lasting = max(1, round(millimetres / rate * 4.0))
        last = min(first + lasting, self.slots)
        if first >= last:
            return
        self.rate_mm_h[first:last, zone] = millimetres / lasting * 4.0
        self.gifts.append(Gift(zone, first, last, millimetres * (last - first) / lasting))
        self._busy[zone] = last + SLOTS_PER_DAY // 4
