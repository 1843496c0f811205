"""The tensiometer: a cup that follows the soil late, a column of water, and what happens when air gets in."""

import math
from dataclasses import dataclass, replace

from parchd_adapters.sim.moment import US_PER_H, Moment
from parchd_adapters.sim.options import Tensiometer

KPA_PER_M = 9.7891  # water at 20 C: 998.207 kg/m3 (Tanaka 2001), g = 9.80665 m/s2
AIR_DECAY_H = 3.0
WARMEST_H = 20.0  # least vacuum at 06-08 h, most at 19-21 h: the field swings of 155 units, Soil Sci. 70, 1950


@dataclass(frozen=True, slots=True)
class Tube:
    """State of a tensiometer.

    Args:
        cup_kpa: tension of the water in the cup.
        air_us: when air got in; ``None``: the tube is full of water.
        air_kpa: the vacuum at that moment.
    """

    cup_kpa: float
    air_us: int | None = None
    air_kpa: float = 0.0


class TubeModel:
    """Steps one tensiometer."""

    def __init__(self, tensiometer: Tensiometer) -> None:
        self._lag_h = tensiometer.lag_s / 3600
        self._head_kpa = KPA_PER_M * tensiometer.height_m
        self._ripple_kpa = tensiometer.ripple_kpa
        self._air_entry_kpa = tensiometer.air_entry_kpa

    def step(self, tube: Tube, soil_kpa: float, moment: Moment, dt_h: float) -> Tube:
        """Follow the soil for a short time; let air in when the vacuum is more than the cup holds."""
        follow = 1.0 if self._lag_h == 0 else -math.expm1(-dt_h / self._lag_h)
        tube = replace(tube, cup_kpa=tube.cup_kpa + (soil_kpa - tube.cup_kpa) * follow)
        over = tube.air_us is None and self.vacuum_kpa(tube, moment) > self._air_entry_kpa
        return self.let_air_in(tube, moment) if over else tube

    def let_air_in(self, tube: Tube, moment: Moment) -> Tube:
        return replace(tube, air_us=moment.time_us, air_kpa=self.vacuum_kpa(tube, moment))

    def refill(self, tube: Tube) -> Tube:
        return replace(tube, air_us=None)

    def vacuum_kpa(self, tube: Tube, moment: Moment) -> float:
        """Return the vacuum at the transducer: tension at the cup plus the column of water that hangs in the tube."""
        if tube.air_us is not None:
            return tube.air_kpa * math.exp(-(moment.time_us - tube.air_us) / US_PER_H / AIR_DECAY_H)
        return tube.cup_kpa + self._head_kpa + self._ripple_kpa * moment.wave(peak_h=WARMEST_H)
