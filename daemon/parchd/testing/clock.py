"""A clock that moves only when told."""

from parchd.clock import US_PER_S


class FakeClock:
    """Starts at ``now_us``; `advance` moves both clocks, `step` moves the time of day alone."""

    def __init__(self, now_us: int = 1_780_000_000 * US_PER_S) -> None:
        self._now_us = now_us
        self._monotonic_s = 1000.0

    def now_us(self) -> int:
        return self._now_us

    def monotonic_s(self) -> float:
        return self._monotonic_s

    def advance(self, seconds: float) -> None:
        self._now_us += round(seconds * US_PER_S)
        self._monotonic_s += seconds

    def step(self, seconds: float) -> None:
        self._now_us += round(seconds * US_PER_S)
