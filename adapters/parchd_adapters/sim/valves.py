"""Who opens which valve, and when."""

from collections.abc import Mapping

from parchd_adapters.sim.layer import FRONT_M_PER_H
from parchd_adapters.sim.moment import US_PER_H, Moment
from parchd_adapters.sim.options import SimOptions


class Valves:
    """Opens a valve when the soil at one of its cups is dry enough, or at a set time."""

    def __init__(self, options: SimOptions) -> None:
        tensiometers = options.tensiometers.items()
        self._valves = {channel: tensiometer.valve or channel for channel, tensiometer in tensiometers}
        self._limits = {
            channel: tensiometer.irrigate_at_kpa
            for channel, tensiometer in tensiometers
            if not isinstance(tensiometer.irrigate_at_kpa, str)
        }
        self._irrigations = options.irrigations
        deepest_m = max(tensiometer.depth_m for _, tensiometer in tensiometers)
        self.rest_us = round((2 * options.irrigation_h + deepest_m / FRONT_M_PER_H) * US_PER_H)
        """How long a valve is left alone after it opened: the water must first reach the deepest cup."""

    def valve_of(self, channel: str) -> str:
        return self._valves[channel]

    def opened(self, soil_kpa: Mapping[str, float], moment: Moment, within_s: float) -> set[str]:
        """Name the valves that open in the coming ``within_s`` seconds."""
        dry = {self._valves[channel] for channel, limit in self._limits.items() if soil_kpa[channel] >= limit}
        return dry | self._timed(moment.elapsed_s, within_s)

    def _timed(self, elapsed_s: float, within_s: float) -> set[str]:
        due = [one.valve for one in self._irrigations if 0 <= one.after_s - elapsed_s < within_s]
        return set(self._valves.values()) if "" in due else set(due)
