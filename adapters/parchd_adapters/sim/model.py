"""A field of tensiometers that steps in time: no clock, no thread, no port.

>>> from parchd_adapters.sim.options import SimOptions
>>> model = Model(SimOptions())
>>> start = model.start(1_780_000_000_000_000)
>>> later = model.step(start, 86_400)
>>> model.soil_kpa(later)["shallow"] > model.soil_kpa(start)["shallow"]
True
>>> [signal.channel for signal in model.read(later)]
['shallow', 'deep']
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from parchd.contract import Unit
from parchd_adapters.sim.moment import US_PER_H, US_PER_S, Moment
from parchd_adapters.sim.options import SimOptions
from parchd_adapters.sim.spot import Spot, SpotModel
from parchd_adapters.sim.valves import Valves


@dataclass(frozen=True, slots=True)
class Signal:
    """What one channel shows."""

    channel: str
    value: float
    unit: Unit


@dataclass(frozen=True, slots=True)
class State:
    """State of the field at one moment.

    Args:
        start_us: when it began.
        time_us: the moment.
        spots: each tensiometer by its channel.
        busy_until_us: until when each valve is not opened again.
    """

    start_us: int
    time_us: int
    spots: Mapping[str, Spot]
    busy_until_us: Mapping[str, int]


class Model:
    """Steps a field. The same options, start and times give the same signals.

    Args:
        options: the field.
        grain_s: length of the steps inside, whole seconds. How the time is cut into calls of `step` changes nothing.
    """

    def __init__(self, options: SimOptions, grain_s: int = 10) -> None:
        self._options = options
        self._grain_us = grain_s * US_PER_S
        self._spots = {channel: SpotModel(channel, options) for channel in options.tensiometers}
        self._valves = Valves(options)

    def start(self, time_us: int) -> State:
        """Begin at a moment, microseconds since 1970 UTC."""
        return State(time_us, time_us, {channel: spot.start() for channel, spot in self._spots.items()}, {})

    def step(self, state: State, dt_s: float) -> State:
        """Go on by ``dt_s`` seconds, zero or more."""
        end_us = state.time_us + max(0, round(dt_s * US_PER_S))
        done = (state.time_us - state.start_us) // self._grain_us
        due = (end_us - state.start_us) // self._grain_us
        for number in range(done, due):
            state = self._tick(state, state.start_us + number * self._grain_us)
        return replace(state, time_us=end_us)

    def soil_kpa(self, state: State) -> dict[str, float]:
        """Return the true tension of the soil at each cup, by channel."""
        return {channel: self._spots[channel].soil_kpa(spot) for channel, spot in state.spots.items()}

    def read(self, state: State) -> list[Signal]:
        """Return what each channel shows; a silent one is left out."""
        moment = self._moment(state, state.time_us)
        supply_v = self._supply_v(moment)
        signals = self._supply(supply_v)
        for channel, spot in state.spots.items():
            shown = self._spots[channel].shown(spot, moment, supply_v)
            if shown is not None:
                signals.append(Signal(channel, shown, self._options.transducer.output))
        return signals

    def _supply(self, supply_v: float) -> list[Signal]:
        channel = self._options.supply_channel
        return [] if channel is None else [Signal(channel, supply_v, Unit.V)]

    def _supply_v(self, moment: Moment) -> float:
        transducer = self._options.transducer
        return transducer.supply_v + transducer.supply_swing_v * moment.wave(peak_h=15.0)

    def _moment(self, state: State, time_us: int) -> Moment:
        return Moment(time_us, state.start_us, self._options.utc_offset_h)

    def _tick(self, state: State, time_us: int) -> State:
        moment = self._moment(state, time_us)
        dt_h = self._grain_us / US_PER_H
        spots = {channel: self._spots[channel].step(spot, moment, dt_h) for channel, spot in state.spots.items()}
        return self._irrigate(replace(state, spots=spots), moment)

    def _irrigate(self, state: State, moment: Moment) -> State:
        opened = {
            valve
            for valve in self._valves.opened(self.soil_kpa(state), moment, self._grain_us / US_PER_S)
            if state.busy_until_us.get(valve, 0) <= moment.time_us
        }
        if not opened:
            return state
        busy_us = moment.time_us + self._valves.rest_us
        return replace(
            state,
            spots={channel: self._wet(channel, spot, opened, moment) for channel, spot in state.spots.items()},
            busy_until_us={**state.busy_until_us, **dict.fromkeys(opened, busy_us)},
        )

    def _wet(self, channel: str, spot: Spot, opened: set[str], moment: Moment) -> Spot:
        wet = self._valves.valve_of(channel) in opened
        return self._spots[channel].irrigate(spot, moment) if wet else spot
