"""The pause that an HTTP server asks for."""

from datetime import UTC
from email.utils import parsedate_to_datetime

from parchd.clock import US_PER_S, from_datetime

LONGEST_S = 86_400.0


def retry_after_s(header: str | None, now_us: int) -> float | None:
    """Read a ``Retry-After``, seconds or an HTTP date (RFC 9110, 10.2.3); ``None`` where it says nothing of use.

    It is a day at most and never negative: a server's slip must not silence the sender for a year.

    >>> retry_after_s("120", 0), retry_after_s("Thu, 01 Jan 1970 00:02:00 GMT", 60 * US_PER_S)
    (120.0, 60.0)
    >>> retry_after_s("soon", 0) is None
    True
    """
    if header is None:
        return None
    text = header.strip()
    seconds = float(text) if text.isascii() and text.isdigit() else _seconds_until(text, now_us)
    return None if seconds is None else min(max(seconds, 0.0), LONGEST_S)


def _seconds_until(text: str, now_us: int) -> float | None:
    try:
        moment = parsedate_to_datetime(text)
        # The old form of a date names no zone: HTTP times are UTC.
        return (from_datetime(moment if moment.tzinfo else moment.replace(tzinfo=UTC)) - now_us) / US_PER_S
    except (ValueError, OverflowError, IndexError):
        return None
