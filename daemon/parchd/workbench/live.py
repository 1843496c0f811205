"""Samples of one tensiometer as they come: what the guided commands look at."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from parchd.clock import US_PER_S
from parchd.config import Loaded
from parchd.config.schema import among
from parchd.contract import ParchdError, Unit
from parchd.pipeline.setup import TensiometerSetup

LEAST_PATIENCE_S = 10.0
INTERVALS = 3.0
_BACK_US, _AHEAD_US = US_PER_S, 6 * 3600 * US_PER_S


class LiveError(ParchdError, ConnectionError):
    """No samples can be had; the text says why and what to check."""


@dataclass(frozen=True, slots=True)
class LiveSample:
    """One sample with what became of it.

    Args:
        time_us: when it was measured.
        value, unit: as it came.
        signal: what the transducer gave, in its own unit; ``None``: there is no pressure in it.
        supply_v: supply voltage at that time, measured or nominal.
        indicated_kpa: pressure by the data sheet's line, before any calibration, against the transducer's own
            reference.
        vacuum_kpa: at the transducer, calibrated, positive.
        tension_kpa: at the cup.
        trouble: why there is none, in words; empty if there is.
        air_kpa: pressure of the air at that time, measured or by the altitude.
    """

    time_us: int
    value: float | None
    unit: Unit
    signal: float | None
    supply_v: float
    indicated_kpa: float | None
    vacuum_kpa: float | None
    tension_kpa: float | None
    trouble: str
    air_kpa: float


class Feed(Protocol):
    """Where samples come from. Belongs to one thread."""

    @property
    def origin(self) -> str:
        """Where from, for people."""
        ...

    @property
    def ended(self) -> bool:
        """Whether nothing will come any more, and all that came was taken."""
        ...

    def take(self, timeout_s: float) -> Sequence[LiveSample]:
        """Wait for samples, at most so long.

        Raises:
            LiveError: there will be none.
        """
        ...

    def forget(self) -> None:
        """Throw away what has come so far and was not taken."""
        ...

    def silence(self) -> str:
        """What is known of why nothing comes; whole sentences, may be empty."""
        ...

    def close(self) -> None: ...


def find_setup(loaded: Loaded, name: str) -> TensiometerSetup:
    """Find a tensiometer by its name.

    Raises:
        LiveError: there is none; with a guess.
    """
    setups = {setup.place.tensiometer: setup for setup in loaded.pipeline.tensiometers}
    if name not in setups:
        raise LiveError(f"{loaded.path} has no tensiometer {name!r}: {among(name, list(setups))}")
    return setups[name]


def patience_s(interval_s: float) -> float:
    """Give how long to wait for a sample before something must be wrong.

    >>> patience_s(1.0), patience_s(600.0)
    (10.0, 1800.0)
    """
    return max(LEAST_PATIENCE_S, INTERVALS * interval_s)


class Stopwatch:
    """Seconds since the first sample, by the times of the samples; a clock that is set does not move it."""

    def __init__(self) -> None:
        self._base_us: int | None = None
        self._last_us = 0

    def at_s(self, time_us: int) -> float | None:
        """Give the seconds of a sample; ``None``: it is no newer than the one before.

        >>> watch = Stopwatch()
        >>> [watch.at_s(us) for us in (5_000_000, 6_500_000, 6_500_000, 1_000_000, 2_000_000)]
        [0.0, 1.5, None, None, 2.5]
        """
        if self._base_us is None:
            self._base_us = self._last_us = time_us
            return 0.0
        passed_us = time_us - self._last_us
        if -_BACK_US < passed_us <= 0:
            return None
        self._last_us = time_us
        if passed_us < 0 or passed_us > _AHEAD_US:
            self._base_us += passed_us
            return None
        return (time_us - self._base_us) / US_PER_S
