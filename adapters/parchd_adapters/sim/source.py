"""The source: the model stepped by the daemon's clock."""

from parchd.clock import US_PER_S
from parchd.contract import Intake, Sample, SampleBatch, Services, StopSignal, TimeSource
from parchd_adapters._shared.pacing import Pacer
from parchd_adapters.sim.model import Model, State
from parchd_adapters.sim.options import SimOptions

MOST_BEHIND = 1000
LONGEST_US = 86_400 * US_PER_S


class Sim:
    """Hands over what all channels show, each time the clock passes a multiple of the interval."""

    def __init__(self, options: SimOptions, services: Services) -> None:
        self._name = services.name
        self._clock = services.clock
        self._interval_us = round(options.interval_s * US_PER_S)
        self._model = Model(options)
        self._state: State | None = None
        self._last_us = 0

    def run(self, intake: Intake, stop: StopSignal) -> None:
        pacer = Pacer(self._clock, intake, stop)
        now_us = self._clock.now_us()
        self._state = self._state or self._begin(now_us)
        due_us = self._next_due(now_us)
        intake.connected("simulated field")
        while pacer.wait_until(due_us):
            due_us = min(due_us, self._last_due(self._clock.now_us()))  # less: the clock was set back
            self._state = self._model.step(self._state, self._passed_s(due_us))
            if samples := self._samples(self._state, due_us):
                intake.put(SampleBatch(self._name, samples))
            due_us = self._after(due_us)

    def _begin(self, now_us: int) -> State:
        self._last_us = now_us
        return self._model.start(now_us)

    def _last_due(self, now_us: int) -> int:
        return now_us // self._interval_us * self._interval_us

    def _next_due(self, now_us: int) -> int:
        return self._last_due(now_us) + self._interval_us

    def _after(self, due_us: int) -> int:
        """Return the next due time; when the clock leapt ahead, the next one from now on."""
        next_us = self._next_due(self._clock.now_us())
        leapt = next_us - due_us > MOST_BEHIND * self._interval_us
        return next_us if leapt else due_us + self._interval_us

    def _passed_s(self, due_us: int) -> float:
        """Return how long the soil goes on: it does not follow the clock backwards, nor more than a day ahead."""
        passed_us, self._last_us = due_us - self._last_us, due_us
        return min(passed_us, LONGEST_US) / US_PER_S if passed_us > 0 else self._interval_us / US_PER_S

    def _samples(self, state: State, time_us: int) -> tuple[Sample, ...]:
        return tuple(
            Sample(signal.channel, time_us, signal.value, signal.unit, TimeSource.DEVICE)
            for signal in self._model.read(state)
        )
