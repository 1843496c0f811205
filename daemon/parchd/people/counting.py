"""Alarms that come and go, and floods of them: plain counts over times, so that reports can count the same."""

from collections.abc import Iterable, Sequence

from parchd.clock import US_PER_S

CHATTER_US = 3600 * US_PER_S
CHATTERS = 3
"""Raised so often within an hour, an alarm chatters. The guides say three times in a minute, of processes that move in
seconds. Here a reading comes every ten minutes, and a delay of one reading or more stands before each raise and each
clear: three raises within an hour are as fast as such an alarm can be."""
REPEAT_US = 24 * CHATTER_US
REPEATS = 3
"""Raised more often than this within a day, an alarm repeats: what the soil does, it does once a day."""
FLOOD_US = 600 * US_PER_S
FLOOD_BEGINS = 10
"""More alarms than this for one person within ten minutes are a flood (ISA-18.2, EEMUA 191)."""
FLOOD_ENDS = 5
"""Fewer than this within ten minutes, and it is over."""


def recent(times_us: Iterable[int], span_us: int, now_us: int) -> tuple[int, ...]:
    """Those times that lie within a span up to now; a time in the future is that of a clock which was set back.

    >>> recent((10, 20, 30, 99), 15, 30)
    (20, 30)
    """
    return tuple(time_us for time_us in times_us if now_us - span_us < time_us <= now_us)


def comes_and_goes(raised_us: Iterable[int]) -> bool:
    """Whether an alarm that was raised at these times chatters or repeats; the times rise.

    >>> hour = 3600 * 1_000_000
    >>> comes_and_goes([0, 1, 2]), comes_and_goes([0, hour, 2 * hour]), comes_and_goes(n * 5 * hour for n in range(4))
    (True, False, True)
    """
    times_us = list(raised_us)
    return _any_within(CHATTERS - 1, CHATTER_US, times_us) or _any_within(REPEATS, REPEAT_US, times_us)


def _any_within(steps: int, span_us: int, times_us: Sequence[int]) -> bool:
    """Whether a time and the one so many steps later lie less than a span apart."""
    return any(later - earlier < span_us for earlier, later in zip(times_us, times_us[steps:], strict=False))
