"""Spans of time as people type them."""

import re
from datetime import datetime
from zoneinfo import ZoneInfo

from parchd.clock import US_PER_S, from_datetime
from parchd.contract import ParchdError

_AGE = re.compile(r"(\d+(?:\.\d+)?)\s*(min|h|d)")
_SECONDS = {"min": 60, "h": 3600, "d": 86_400}


class SpanError(ParchdError, ValueError):
    """A time that cannot be understood."""


def parse_time(text: str, zone: ZoneInfo, now_us: int) -> int:
    """Read a local time or an age as microseconds UTC.

    >>> parse_time("90min", ZoneInfo("UTC"), 5_400_000_000)
    0
    >>> parse_time("1970-01-02", ZoneInfo("UTC"), 0) == 86_400 * US_PER_S
    True

    Raises:
        SpanError: it is neither.
    """
    if match := _AGE.fullmatch(text.strip()):
        return now_us - round(float(match[1]) * _SECONDS[match[2]] * US_PER_S)
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise SpanError(
            f"{text!r} is no time: expected 2026-05-01, 2026-05-01T06:00 or an age such as 90min, 36h, 7d"
        ) from error
    return from_datetime(moment if moment.tzinfo else moment.replace(tzinfo=zone))
