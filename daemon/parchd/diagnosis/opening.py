"""The hour that is still being summed up."""

from dataclasses import dataclass
from typing import NamedTuple

from parchd.contract import Cause, Flag, Reading
from parchd.diagnosis.hours import NAN, Hour
from parchd.physics.causes import flag_of

GAP_INTERVALS = 2.5
LONG_GAP_US = 12 * 3600 * 1_000_000
"""Nobody knows what a value was doing in so long a time without samples."""
LEAST_DIP_KPA = 0.5
MOST_DIPS = 16
SHORT_LOSS = 2

_UNMEASURED = frozenset((Cause.NO_VALUE, Cause.SERVICE))
_FAILS = frozenset(cause for cause in Cause if flag_of(cause) is Flag.FAIL) - {Cause.CONDEMNED}


class Dip(NamedTuple):
    """One sample that stood out from those around it.

    Args:
        time_us: its time.
        kpa: how far it lay above (positive) or below the mean of its neighbours; 0: it gave no tension at all.
    """

    time_us: int
    kpa: float


@dataclass(slots=True, unsafe_hash=True)
class Carry:
    """What the next hour must know of this one. Never changed; not frozen, for one is made in every hour.

    Args:
        times_us, tensions_kpa: of the last three tensions, the newest first.
        value, since_us: the last sample, and since when it has been this number.
        lost, lost_us: samples without a tension at the end, and the time of the first of them.
    """

    times_us: tuple[int, int, int] = (0, 0, 0)
    tensions_kpa: tuple[float, float, float] = (NAN, NAN, NAN)
    value: float = NAN
    since_us: int = 0
    lost: int = 0
    lost_us: int = 0


NO_CARRY = Carry()


class OpenHour:
    """Sums of one hour of one tensiometer.

    Args:
        longest_us: samples further apart say nothing about noise.
        before: what the hour before left.
    """

    __slots__ = (
        "_bad", "_good", "_high", "_lag_us", "_lost", "_lost_us", "_low", "_newest_us", "_raw_high", "_raw_low",
        "_rough", "_roughs", "_since_us", "_sum", "_tensions_kpa", "_times_us", "_value", "_warm", "_warms", "dips",
        "longest_us",
    )  # fmt: skip

    def __init__(self, longest_us: float, before: Carry = NO_CARRY) -> None:
        self.longest_us = longest_us
        self.dips: list[Dip] = []
        self._times_us, self._tensions_kpa = before.times_us, before.tensions_kpa
        self._value, self._since_us = before.value, before.since_us
        self._lost, self._lost_us = before.lost, before.lost_us
        self._low = self._high = self._lag_us = self._raw_low = self._raw_high = NAN
        self._sum = self._rough = self._warm = 0.0
        self._good = self._roughs = self._warms = self._newest_us = 0
        self._bad: dict[int, int] = {}

    @property
    def carry(self) -> Carry:
        """What the next hour must know."""
        return Carry(self._times_us, self._tensions_kpa, self._value, self._since_us, self._lost, self._lost_us)

    def take(self, reading: Reading, time_us: int) -> None:
        """Add a reading; ones during a service count for nothing.

        Args:
            time_us: when it was taken: what it says itself, or that put right.
        """
        sample, cause = reading.sample, reading.cause
        if cause in _UNMEASURED:
            return
        lag_us = float(reading.received_us - time_us)
        if not self._lag_us <= lag_us:
            self._lag_us = lag_us
        self._newest_us = time_us
        if sample.value is not None:
            self._note_value(time_us, sample.value)
        if reading.tension_kpa is None or cause in _FAILS:
            self._lose(time_us, int(cause))
        else:
            self._add(time_us, reading.tension_kpa)

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
            self._tensions_kpa[0] if self._good else NAN,
            self._rough / self._roughs if self._roughs else NAN,
            (self._newest_us - self._since_us) / 1e6 if self._newest_us and self._since_us else NAN,
            float(self._good),
            float(bad),
            float(max(self._bad, key=lambda cause: self._bad[cause])) if bad else 0.0,
            self._warm / self._warms if self._warms else NAN,
            self._lag_us / 1e6,
            self._raw_low,
            self._raw_high,
        )

    def _add(self, time_us: int, tension_kpa: float) -> None:
        self._sum += tension_kpa
        if not self._low <= tension_kpa:
            self._low = tension_kpa
        if not self._high >= tension_kpa:
            self._high = tension_kpa
        self._good += 1
        if self._lost:
            self._find()
        (t1, t2, _), (x1, x2, x3) = self._times_us, self._tensions_kpa
        if time_us - t1 <= self.longest_us and t1 - t2 <= self.longest_us:
            bend_kpa = abs(tension_kpa - 2.0 * x1 + x2)
            self._rough += bend_kpa
            self._roughs += 1
            if bend_kpa > LEAST_DIP_KPA:
                self._note_dip((t1, t2), (tension_kpa, x1, x2, x3))
        self._times_us, self._tensions_kpa = (time_us, t1, t2), (tension_kpa, x1, x2)

    def _lose(self, time_us: int, cause: int) -> None:
        self._bad[cause] = self._bad.get(cause, 0) + 1
        if not self._lost:
            self._lost_us = time_us
        self._lost += 1

    def _find(self) -> None:
        """There is a tension again: what was lost so shortly is a dip."""
        if self._lost <= SHORT_LOSS and len(self.dips) < MOST_DIPS:
            self.dips.append(Dip(self._lost_us, 0.0))
        self._lost = self._lost_us = 0

    def _note_value(self, time_us: int, value: float) -> None:
        if value != self._value or time_us - max(self._times_us[0], self._lost_us) > LONG_GAP_US:
            self._since_us, self._value = time_us, value
        if not self._raw_low <= value:
            self._raw_low = value
        if not self._raw_high >= value:
            self._raw_high = value

    def _note_dip(self, times_us: tuple[int, int], tensions_kpa: tuple[float, float, float, float]) -> None:
        """Keep one sample, or two in a row, if those around agree far better with each other than with it.

        Two in a row: a short dip that falls into two averages.
        """
        (t1, t2), (x0, x1, x2, x3) = times_us, tensions_kpa
        single, pair = x1 - (x0 + x2) / 2.0, min((x1, x2), key=lambda x: -abs(x - x0)) - (x0 + x3) / 2.0
        both = (x1 - x0) * (x2 - x3) > 0.0 and min(abs(x1 - x0), abs(x2 - x3)) > 0.1 * abs(pair)
        if abs(single) >= LEAST_DIP_KPA and abs(x0 - x2) < 0.5 * abs(single):
            dip = Dip(t1, single)
        elif both and abs(pair) >= LEAST_DIP_KPA and abs(x0 - x3) < 0.5 * abs(pair):
            dip = Dip(t1 if abs(x1 - x0) >= abs(x2 - x0) else t2, pair)
        else:
            return
        if len(self.dips) < MOST_DIPS:
            self.dips.append(dip)
