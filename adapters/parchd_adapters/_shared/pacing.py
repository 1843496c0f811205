"""Waiting for a moment on a clock that may run fast or be set."""

from parchd.clock import US_PER_S, Clock
from parchd.contract import Intake, StopSignal

_SHORT_S = 0.05
_LONG_S = 0.5
_SET_BACK_US = US_PER_S


class Pacer:
    """Waits until the clock shows a given time, in short real pauses fitted to the speed of the clock.

    When the clock is set back while we wait, the moment waited for moves with it, and ``slipped_us`` grows by as much:
    a clock that is corrected by an hour does not silence a source for an hour.
    """

    def __init__(self, clock: Clock, intake: Intake, stop: StopSignal) -> None:
        self.slipped_us = 0
        self._clock = clock
        self._intake = intake
        self._stop = stop
        self._now_us, self._now_s = clock.now_us(), clock.monotonic_s()

    def is_due(self, due_us: int) -> bool:
        return self._clock.now_us() >= due_us

    def wait_until(self, due_us: int) -> bool:
        """Wait, telling the daemon that all is well; false when the stop came first."""
        while not self._stop.is_set():
            speed, slip_us = self._look()
            due_us -= slip_us
            left_s = (due_us - self._now_us) / US_PER_S
            if left_s <= 0:
                return True
            self._intake.beat()
            self._stop.wait(_pause_s(left_s, speed))
        return False

    def _look(self) -> tuple[float, int]:
        """Return how fast the clock runs, and by how much it was set back since the last look."""
        then_us, then_s = self._now_us, self._now_s
        self._now_us, self._now_s = self._clock.now_us(), self._clock.monotonic_s()
        passed_us, passed_s = self._now_us - then_us, self._now_s - then_s
        slip_us = -passed_us if passed_us < -_SET_BACK_US else 0
        self.slipped_us += slip_us
        return (passed_us / US_PER_S / passed_s if passed_s > 0 else 0.0), slip_us


def _pause_s(left_s: float, speed: float) -> float:
    longest_s = _LONG_S if 0.5 < speed < 2.0 else _SHORT_S
    return min(max(left_s / speed, 0.001), longest_s) if speed > 0 else longest_s
