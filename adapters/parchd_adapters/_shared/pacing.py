"""Waiting for a moment on a clock that may run fast or be set."""

from parchd.clock import US_PER_S, Clock
from parchd.contract import Intake, StopSignal

_SHORT_S = 0.05
_LONG_S = 0.5


class Pacer:
    """Waits until the clock shows a given time, in short real pauses fitted to the speed of the clock."""

    def __init__(self, clock: Clock, intake: Intake, stop: StopSignal) -> None:
        self._clock = clock
        self._intake = intake
        self._stop = stop
        self._seen = (clock.now_us(), clock.monotonic_s())

    def is_due(self, due_us: int) -> bool:
        return self._clock.now_us() >= due_us

    def wait_until(self, due_us: int) -> bool:
        """Wait, telling the daemon that all is well; false when the stop came first."""
        while not self._stop.is_set():
            left_us = due_us - self._clock.now_us()
            if left_us <= 0:
                return True
            self._intake.beat()
            self._stop.wait(self._pause_s(left_us / US_PER_S))
        return False

    def _pause_s(self, left_s: float) -> float:
        speed = self._speed()
        longest_s = _LONG_S if 0.5 < speed < 2.0 else _SHORT_S
        return min(max(left_s / speed, 0.001), longest_s) if speed > 0 else longest_s

    def _speed(self) -> float:
        (then_us, then_s), self._seen = self._seen, (self._clock.now_us(), self._clock.monotonic_s())
        passed_s = self._seen[1] - then_s
        return (self._seen[0] - then_us) / US_PER_S / passed_s if passed_s > 0 else 0.0
