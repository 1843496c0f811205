"""The hour that is still being summed up."""

from dataclasses import dataclass, field
from typing import NamedTuple

from parchd.contract import Cause, Flag, Reading
from parchd.diagnosis.hours import NAN, Hour
from parchd.physics.causes import flag_of

GAP_INTERVALS = 2.5
LEAST_DIP_KPA = 1.0

_UNMEASURED = frozenset((Cause.NO_VALUE, Cause.CLOCK, Cause.TIME_UNKNOWN, Cause.SERVICE))
_CONDEMNED = frozenset((Cause.DOUBTED, Cause.CONDEMNED)) if hasattr(Cause, "DOUBTED") else frozenset()


class Dip(NamedTuple):
    """One sample that stood out from those around it.

    Args:
        time_us: its time.
        kpa: how far it lay above (positive) or below the mean of its neighbours.
    """

    time_us: int
    kpa: float


@dataclass(frozen=True, slots=True)
class Carry:
    """What the next hour must know of this one.

    Args:
        times_us, tensions_kpa: of the last two tensions, the newer first.
        value, since_us: the last sample, and since when it has been this number.
    """

    times_us: tuple[int, int] = (0, 0)
    tensions_kpa: tuple[float, float] = (NAN, NAN)
    value: float = NAN
    since_us: int = 0


NO_CARRY = Carry()


@dataclass(slots=True)
class OpenHour:
    """Sums of one hour of one tensiometer.

    Args:
        carry: what the hour before left, then what this one leaves.
        dips: samples that stood out.
    """

    interval_us: float
    carry: Carry = NO_CARRY
    dips: list[Dip] = field(default_factory=list)
    _sum: float = 0.0
    _low: float = NAN
    _high: float = NAN
    _good: int = 0
    _rough: float = 0.0
    _roughs: int = 0
    _bad: dict[int, int] = field(default_factory=dict)
    _lag_us: float = NAN
    _newest_us: int = 0
    _warm: float = 0.0
    _warms: int = 0

    def take(self, reading: Reading) -> None:
        """Add a reading; ones during a service, or of a time that cannot be believed, count for nothing."""
        sample, cause = reading.sample, reading.cause
        if cause in _UNMEASURED:
            return
        lag_us = float(reading.received_us - sample.time_us)
        if not self._lag_us <= lag_us:
            self._lag_us = lag_us
        self._newest_us = sample.time_us
        if sample.value is not None and sample.value != self.carry.value:
            since_us, value = sample.time_us, sample.value
        else:
            since_us, value = self.carry.since_us, self.carry.value
        tension_kpa = reading.tension_kpa
        if tension_kpa is None or (flag_of(cause) is Flag.FAIL and cause not in _CONDEMNED):
            self._bad[int(cause)] = self._bad.get(int(cause), 0) + 1
            if since_us != self.carry.since_us:
                self.carry = Carry(self.carry.times_us, self.carry.tensions_kpa, value, since_us)
            return
        self._add(tension_kpa)
        (t1, t2), (x1, x2) = self.carry.times_us, self.carry.tensions_kpa
        if sample.time_us - t1 <= GAP_INTERVALS * self.interval_us and t1 - t2 <= GAP_INTERVALS * self.interval_us:
            bend_kpa = tension_kpa - 2.0 * x1 + x2
            if bend_kpa == bend_kpa:
                self._rough += abs(bend_kpa)
                self._roughs += 1
                if abs(bend_kpa) > 2.0 * LEAST_DIP_KPA:
                    self._note_dip(Dip(t1, -bend_kpa / 2.0), x2, tension_kpa)
        self.carry = Carry((sample.time_us, t1), (tension_kpa, x1), value, since_us)

    def take_temperature(self, celsius: float) -> None:
        """Add a value of its temperature channel."""
        self._warm += celsius
        self._warms += 1

    def close(self) -> Hour:
        """Sum up."""
        bad = sum(self._bad.values())
        return Hour(
            self._sum / self._good if self._good else NAN,
            self._low,
            self._high,
            self.carry.tensions_kpa[0] if self._good else NAN,
            self._rough / self._roughs if self._roughs else NAN,
            (self._newest_us - self.carry.since_us) / 1e6 if self._newest_us and self.carry.since_us else NAN,
            float(self._good),
            float(bad),
            float(max(self._bad, key=lambda cause: self._bad[cause])) if bad else 0.0,
            self._warm / self._warms if self._warms else NAN,
            self._lag_us / 1e6,
        )

    def _add(self, tension_kpa: float) -> None:
        self._sum += tension_kpa
        if not self._low <= tension_kpa:
            self._low = tension_kpa
        if not self._high >= tension_kpa:
            self._high = tension_kpa
        self._good += 1

    def _note_dip(self, dip: Dip, before_kpa: float, after_kpa: float) -> None:
        """Keep it if the samples around it agree far better with each other than with it."""
        if abs(after_kpa - before_kpa) < 0.5 * abs(dip.kpa) and len(self.dips) < 16:
            self.dips.append(dip)
