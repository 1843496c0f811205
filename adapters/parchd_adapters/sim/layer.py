"""The soil around one cup: it is dried by plants, drains, and is wetted."""

import math
from dataclasses import dataclass, replace

from parchd_adapters.sim.moment import US_PER_H, Moment
from parchd_adapters.sim.options import Tensiometer
from parchd_adapters.sim.soil import SOILS, Soil, capacity, tension, water_content

REFERENCE_KPA = 30.0
HALF_UPTAKE_KPA = 60.0
DRAINED_KPA = 8.0
DRAINAGE_H = 10.0
WETTED_KPA = 1.0
FRONT_M_PER_H = 0.3


@dataclass(frozen=True, slots=True)
class Layer:
    """State of the soil.

    Args:
        theta: water content.
        wet_from_us, wet_until_us: when the water of the last irrigation reaches the cup, and when it ends.
        wet_theta: the water content it leads to.
    """

    theta: float
    wet_from_us: int = 0
    wet_until_us: int = 0
    wet_theta: float = 0.0


class LayerModel:
    """Steps the soil around one cup. The seam where another model of the soil can go in.

    Uptake is set by ``drying_kpa_per_day``: what tension gains in a day at 30 kPa. Tension rises slower in wetter
    soil and faster in drier soil, as the retention curve has it; uptake itself falls to one half at 60 kPa.
    """

    def __init__(self, tensiometer: Tensiometer, irrigation_h: float) -> None:
        self._soil: Soil = SOILS[tensiometer.soil]
        self._start_kpa = tensiometer.start_kpa
        self._share = tensiometer.irrigation_share
        self._delay_us = round(tensiometer.depth_m / FRONT_M_PER_H * US_PER_H)
        self._length_us = round(irrigation_h * US_PER_H)
        self._wetting_per_h = 4.0 / irrigation_h
        per_kpa = capacity(self._soil, REFERENCE_KPA) * tensiometer.drying_kpa_per_day / 24.0
        self._uptake_per_h = per_kpa * (1 + (REFERENCE_KPA / HALF_UPTAKE_KPA) ** 2)
        self._drained = water_content(self._soil, DRAINED_KPA)
        self._wetted = water_content(self._soil, WETTED_KPA)

    def start(self) -> Layer:
        return Layer(water_content(self._soil, self._start_kpa))

    def tension_kpa(self, layer: Layer) -> float:
        return tension(self._soil, layer.theta)

    def irrigate(self, layer: Layer, now_us: int) -> Layer:
        """Open the valve now: the water arrives later the deeper the cup stands."""
        wet_theta = layer.theta + self._share * max(0.0, self._wetted - layer.theta)
        begin_us = now_us + self._delay_us
        return replace(layer, wet_from_us=begin_us, wet_until_us=begin_us + self._length_us, wet_theta=wet_theta)

    def step(self, layer: Layer, moment: Moment, dt_h: float) -> Layer:
        """Go on by a short time."""
        stress = 1 + (self.tension_kpa(layer) / HALF_UPTAKE_KPA) ** 2
        change = -self._uptake_per_h * moment.sun / stress * dt_h
        if layer.theta > self._drained:
            change -= (layer.theta - self._drained) * -math.expm1(-dt_h / DRAINAGE_H)
        if layer.wet_from_us <= moment.time_us < layer.wet_until_us:
            change += max(0.0, layer.wet_theta - layer.theta) * -math.expm1(-self._wetting_per_h * dt_h)
        return replace(layer, theta=layer.theta + change)
