"""One tensiometer and the soil around its cup."""

import random
from dataclasses import dataclass, replace

from parchd_adapters.sim.faults import FaultScript
from parchd_adapters.sim.layer import Layer, LayerModel
from parchd_adapters.sim.moment import Moment
from parchd_adapters.sim.options import FaultKind, SimOptions
from parchd_adapters.sim.transducer import convert, signal
from parchd_adapters.sim.tube import Tube, TubeModel


@dataclass(frozen=True, slots=True)
class Spot:
    """State of one tensiometer and its soil; ``held_kpa`` is the vacuum that a stuck transducer goes on showing."""

    layer: Layer
    tube: Tube
    held_kpa: float | None = None


class SpotModel:
    """Steps and reads one tensiometer."""

    def __init__(self, channel: str, options: SimOptions) -> None:
        tensiometer = options.tensiometers[channel]
        self._channel = channel
        self._seed = options.seed
        self._noise_kpa = tensiometer.noise_kpa
        self._transducer = options.transducer
        self._faults = FaultScript(options.faults, channel)
        self._layer = LayerModel(tensiometer, options.irrigation_h)
        self._tube = TubeModel(tensiometer)

    def start(self) -> Spot:
        layer = self._layer.start()
        return Spot(layer, Tube(self._layer.tension_kpa(layer)))

    def soil_kpa(self, spot: Spot) -> float:
        return self._layer.tension_kpa(spot.layer)

    def irrigate(self, spot: Spot, moment: Moment) -> Spot:
        return replace(spot, layer=self._layer.irrigate(spot.layer, moment.time_us))

    def step(self, spot: Spot, moment: Moment, dt_h: float) -> Spot:
        """Go on by a short time."""
        layer = self._layer.step(spot.layer, moment, dt_h)
        tube = self._tube.step(spot.tube, self._layer.tension_kpa(layer), moment, dt_h)
        return Spot(layer, self._script_air(tube, moment, dt_h), self._hold(spot, moment))

    def shown(self, spot: Spot, moment: Moment, supply_v: float) -> float | None:
        """Return what the channel shows; ``None``: it sends nothing."""
        if self._faults.holds(FaultKind.SILENT, moment.elapsed_s):
            return None
        if self._faults.holds(FaultKind.OPEN, moment.elapsed_s):
            return convert(self._transducer, 0.0)
        if spot.held_kpa is not None:
            return signal(self._transducer, -spot.held_kpa, self._transducer.supply_v)
        return signal(self._transducer, -self._noisy_kpa(spot, moment), supply_v)

    def _script_air(self, tube: Tube, moment: Moment, dt_h: float) -> Tube:
        if tube.air_us is None and self._faults.holds(FaultKind.AIR_ENTRY, moment.elapsed_s):
            return self._tube.let_air_in(tube, moment)
        if self._faults.ends(FaultKind.AIR_ENTRY, moment.elapsed_s, dt_h * 3600):
            return self._tube.refill(tube)
        return tube

    def _hold(self, spot: Spot, moment: Moment) -> float | None:
        if not self._faults.holds(FaultKind.STUCK, moment.elapsed_s):
            return None
        return self._noisy_kpa(spot, moment) if spot.held_kpa is None else spot.held_kpa

    def _noisy_kpa(self, spot: Spot, moment: Moment) -> float:
        chance = random.Random(f"{self._seed}/{self._channel}/{moment.time_us}")  # noqa: S311 (repeatable, no secret)
        return self._tube.vacuum_kpa(spot.tube, moment) + chance.gauss(0.0, self._noise_kpa)
