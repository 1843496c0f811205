"""Flat line and attenuated signal: how far has the tension moved in a day, and in three?

Ranges are kept in buckets, lowest and highest each, so that a day of samples every second takes no more room than one
of samples every hour. Buckets begin at whole multiples of their length since 1970, whenever the daemon was started.
"""

from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from parchd.contract import Cause
from parchd.quality.limits import Limits


class Bucket(NamedTuple):
    """Lowest and highest tension of one bucket; ``number`` times the length of a bucket is where it begins."""

    number: int
    low: float
    high: float


@dataclass(slots=True)
class Ranges:
    """Ranges of the tension up to now; changed in place.

    Args:
        start_us: time of the first sample.
        number: of the bucket that is being filled.
        end_us: where that bucket ends.
        low, high: of that bucket; the highest is below the lowest while it is empty.
        past: earlier buckets within reach, oldest first.
        short_low, short_high: of that bucket and the buckets of a flat line before it.
        long_low, long_high: the same with the buckets of an attenuated signal.
    """

    start_us: int
    number: int
    end_us: int
    low: float = inf
    high: float = -inf
    past: list[Bucket] = field(default_factory=list)
    short_low: float = inf
    short_high: float = -inf
    long_low: float = inf
    long_high: float = -inf

    def take(self, kpa: float) -> None:
        """Let a sample count that lies in the bucket that is being filled."""
        if self.low <= kpa <= self.high:
            return
        self.low, self.high = min(self.low, kpa), max(self.high, kpa)
        self.short_low, self.short_high = min(self.short_low, kpa), max(self.short_high, kpa)
        self.long_low, self.long_high = min(self.long_low, kpa), max(self.long_high, kpa)

    def turn_to(self, limits: Limits, time_us: int) -> None:
        """Close the bucket that was filled, and go on with the later one that a time lies in."""
        number = time_us // limits.bucket_us
        if self.low <= self.high:
            self.past.append(Bucket(self.number, self.low, self.high))
        self.number, self.end_us = number, (number + 1) * limits.bucket_us
        self.low, self.high = inf, -inf
        self.past = [bucket for bucket in self.past if bucket.number >= number - limits.long_buckets]
        self.refresh(limits)

    def refresh(self, limits: Limits) -> None:
        """Work out anew what follows from the buckets."""
        now = Bucket(self.number, self.low, self.high)
        short = [bucket for bucket in self.past if bucket.number >= self.number - limits.flat_buckets]
        self.short_low, self.short_high = _around([*short, now])
        self.long_low, self.long_high = _around([*self.past, now])

    def judge(self, limits: Limits, time_us: int, kpa: float) -> Cause:
        """Judge a sample in the running bucket that was not taken yet: flat, attenuated, or neither.

        Flat line (QARTOD): the range of all samples since the begin of the bucket that lies ``flat_buckets`` before the
        running one is below ``flat_kpa``, this sample is above ``flat_above_kpa``, and samples reach back over
        ``flat_buckets`` times ``bucket_us`` at least. Attenuated signal (QARTOD, range): the same with
        ``long_buckets``, ``attenuated_kpa`` and ``attenuated_above_kpa``. So a "day" of eight buckets of three hours
        has 24 to 27 hours.
        """
        moved_kpa = self.short_high - self.short_low
        if moved_kpa >= limits.flat_kpa and moved_kpa >= limits.attenuated_kpa:
            return Cause.NONE
        age_us, short_kpa = time_us - self.start_us, max(self.short_high, kpa) - min(self.short_low, kpa)
        flat = short_kpa < limits.flat_kpa and kpa > limits.flat_above_kpa
        if flat and age_us >= limits.flat_buckets * limits.bucket_us:
            return Cause.FLAT_LINE
        long_kpa = max(self.long_high, kpa) - min(self.long_low, kpa)
        attenuated = long_kpa < limits.attenuated_kpa and kpa > limits.attenuated_above_kpa
        if attenuated and age_us >= limits.long_buckets * limits.bucket_us:
            return Cause.ATTENUATED
        return Cause.NONE


def _around(buckets: list[Bucket]) -> tuple[float, float]:
    return min(bucket.low for bucket in buckets), max(bucket.high for bucket in buckets)
