"""The part of the day that decides."""

from collections.abc import Callable
from datetime import datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from parchd.alarms.rules import DecisionWindow
from parchd.clock import US_PER_S, to_datetime

_DAY_S = 86_400


def compile_window(window: DecisionWindow | None) -> Callable[[int], bool]:
    """Make the test "does a reading taken at this time decide?" for microseconds UTC.

    The start belongs to the window, the end does not. Local standard time: daylight saving does not move it.

    >>> berlin = compile_window(DecisionWindow(time(5), time(8), "Europe/Berlin"))
    >>> from parchd.clock import from_datetime
    >>> from datetime import UTC
    >>> [berlin(from_datetime(datetime(2026, 7, 1, hour, tzinfo=UTC))) for hour in (3, 4, 6, 7)]
    [False, True, True, False]
    """
    if window is None:
        return _always
    start_s, end_s = _seconds(window.start), _seconds(window.end)
    zone = ZoneInfo(window.time_zone)

    def decides(time_us: int) -> bool:
        local_s = (time_us // US_PER_S + standard_offset_s(zone, time_us // US_PER_S // 3600)) % _DAY_S
        return start_s <= local_s < end_s if start_s <= end_s else local_s >= start_s or local_s < end_s

    return decides


def _always(_time_us: int) -> bool:
    return True


@lru_cache(maxsize=4096)
def standard_offset_s(zone: ZoneInfo, utc_hour: int) -> int:
    """Offset of local standard time from UTC in seconds, for an hour counted since 1970.

    >>> standard_offset_s(ZoneInfo("Europe/Berlin"), 24 * 365 * 50)
    3600
    """
    moment: datetime = to_datetime(utc_hour * 3600 * US_PER_S).astimezone(zone)
    offset, saving = moment.utcoffset(), moment.dst()
    assert offset is not None
    return int((offset - (saving or timedelta(0))).total_seconds())


def _seconds(moment: time) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second
