"""All tests of one tensiometer's samples, one after another."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import NamedTuple, TypeVar

from parchd.contract import Cause
from parchd.quality.limits import Limits
from parchd.quality.ranges import Ranges
from parchd.quality.rate import NEVER_US, Baseline
from parchd.quality.spike import is_spike

KeyT = TypeVar("KeyT")

FOUND_HERE = frozenset((Cause.SPIKE, Cause.RISE_RATE, Cause.FLAT_LINE, Cause.ATTENUATED, Cause.GAP))
"""Causes that these tests give."""
OPEN = FOUND_HERE | {Cause.NONE, Cause.DOUBTED, Cause.CONDEMNED}
"""Causes of readings whose cause these tests may choose; the last two come from the diagnosis, and later."""
MEASURED = OPEN | {Cause.UNDER_RANGE, Cause.OVER_RANGE, Cause.ABOVE_LIMIT}
"""Causes of readings whose tension is what the transducer felt, whatever it is worth."""


class Verdict(NamedTuple):
    """What the tests say of a sample, and of the one before it.

    Args:
        cause: of this sample; ``NONE``: nothing is wrong with it that can be known now.
        spike_us: time of the sample before, if this one shows that it was a spike.
    """

    cause: Cause
    spike_us: int | None = None


class Track:
    """What the tests remember of one tensiometer: a constant number of values, changed in place.

    A sample is kept back until the next one has shown that it is no spike; only then others are compared with it.
    """

    __slots__ = ("baseline", "before_kpa", "before_us", "label", "last_is_open", "last_kpa", "last_us", "ranges")

    def __init__(self, limits: Limits, time_us: int, kpa: float, label: str = "", *, is_open: bool = True) -> None:
        self.label = label
        """Calibration of the samples."""
        self.last_us = time_us
        self.last_kpa = kpa
        self.last_is_open = is_open
        """Whether the last sample may be called a spike."""
        self.before_us = NEVER_US
        self.before_kpa = 0.0
        self.baseline = Baseline()
        number = time_us // limits.bucket_us
        self.ranges = Ranges(time_us, number, (number + 1) * limits.bucket_us)

    def take(self, limits: Limits, time_us: int, kpa: float, *, is_open: bool = True) -> Verdict:
        """Judge a sample that is younger than all before it."""
        spike_us = None
        if self._last_was_spike(limits, time_us, kpa):
            spike_us = self.last_us if self.last_is_open else None
        else:
            self.baseline.take(self.last_us, self.last_kpa)
            self.ranges.take(self.last_kpa)
            self.before_us, self.before_kpa = self.last_us, self.last_kpa
        self.last_us, self.last_kpa, self.last_is_open = time_us, kpa, is_open
        if time_us >= self.ranges.end_us:
            self.ranges.turn_to(limits, time_us)
        too_fast = self.baseline.rose_too_fast(limits, time_us, kpa)
        cause = Cause.RISE_RATE if too_fast else self.ranges.judge(limits, time_us, kpa)
        return Verdict(cause, spike_us) if cause or spike_us is not None else PASSED

    def may_be_spike(self, limits: Limits) -> bool:
        """Whether the last sample lies so far from the one before that the next one may show it to be a spike."""
        return abs(self.last_kpa - self.before_kpa) > limits.spike_kpa and self.before_us != NEVER_US

    def _last_was_spike(self, limits: Limits, time_us: int, kpa: float) -> bool:
        if not self.may_be_spike(limits):
            return False
        came_kpa = self.last_kpa - self.before_kpa
        rose_in_us = self.last_us - self.before_us if came_kpa > 0.0 else time_us - self.last_us
        return is_spike(limits, self.before_kpa, self.last_kpa, kpa, rose_in_us)


def step(
    limits: Limits,
    tracks: MutableMapping[KeyT, Track],
    key: KeyT,
    time_us: int,
    kpa: float | None,
    cause: int,
    label: str,
) -> Verdict:
    """Follow one reading that came in time; its track is changed, or begins anew.

    Args:
        tracks: what is remembered, by channel.
        key: of the channel.
        kpa: tension; ``None``: no value.
        cause: found so far; only `OPEN` ones give way to a finding.
        label: of the calibration that was used.

    Returns:
        what the tests say; ``NONE`` also of a reading that they pass over.
    """
    if kpa is None or cause not in MEASURED:
        if cause == Cause.SERVICE:
            tracks.pop(key, None)
        return PASSED
    track, is_open = tracks.get(key), cause in OPEN
    if track is not None and track.label == label:
        elapsed_us = time_us - track.last_us
        if 0 < elapsed_us <= limits.gap_us:
            return track.take(limits, time_us, kpa, is_open=is_open)
        found = GAP if elapsed_us > 0 else PASSED
    else:
        found = PASSED
    tracks[key] = Track(limits, time_us, kpa, label, is_open=is_open)
    return found


PASSED = Verdict(Cause.NONE)
GAP = Verdict(Cause.GAP)
