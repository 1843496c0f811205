"""Times as devices write them."""

from datetime import UTC, datetime
from enum import StrEnum

from parchd.clock import US_PER_S, from_datetime
from parchd.contract import JsonValue
from parchd_adapters.mqtt.numbers import as_number

_END_US = 253_402_300_800 * US_PER_S
_LEAST_MS = 100_000_000_000
_LIMIT = 1000 * _LEAST_MS
_DATE_LENGTH = len("2026-05-01")


class TimeFormat(StrEnum):
    """How a payload writes the time."""

    AUTO = "auto"
    """A text is ISO 8601; a number is seconds, or from 100 000 000 000 on milliseconds, since 1970."""
    ISO = "iso"
    """ISO 8601 with its offset from UTC: ``2026-05-01T06:30:00Z``."""
    ISO_UTC = "iso-utc"
    """ISO 8601; without an offset it is UTC."""
    UNIX = "unix"
    """Seconds since 1970 UTC, with or without a fraction."""
    UNIX_MS = "unix-ms"
    """Milliseconds since 1970 UTC."""


def parse_time(value: JsonValue, time_format: TimeFormat) -> int:
    """Turn a time of a payload into microseconds since 1970 UTC.

    >>> parse_time("1970-01-01T02:00:01.5+02:00", TimeFormat.ISO)
    1500000
    >>> parse_time(1_780_000_000, TimeFormat.AUTO) == parse_time(1_780_000_000_000, TimeFormat.AUTO)
    True

    Raises:
        ValueError: it is no such time, or lies before 1970 or after 9999.
    """
    time_us = _iso(value, time_format) if _is_iso(value, time_format) else _unix(value, time_format)
    if not 0 <= time_us < _END_US:
        raise ValueError("out of range")
    return time_us


def _is_iso(value: JsonValue, time_format: TimeFormat) -> bool:
    if time_format is TimeFormat.AUTO:
        return isinstance(value, str)
    return time_format in (TimeFormat.ISO, TimeFormat.ISO_UTC)


def _iso(value: JsonValue, time_format: TimeFormat) -> int:
    if not isinstance(value, str) or len(value) <= _DATE_LENGTH:
        raise ValueError("no date with a time of day")
    moment = datetime.fromisoformat(value.upper())
    if moment.tzinfo is None and time_format is TimeFormat.ISO_UTC:
        moment = moment.replace(tzinfo=UTC)
    return from_datetime(moment)


def _unix(value: JsonValue, time_format: TimeFormat) -> int:
    number = _number(value)
    in_ms = abs(number) >= _LEAST_MS if time_format is TimeFormat.AUTO else time_format is TimeFormat.UNIX_MS
    return round(number * (1000 if in_ms else US_PER_S))


def _number(value: JsonValue) -> int | float:
    number = value if isinstance(value, int) and not isinstance(value, bool) else as_number(value)
    if abs(number) >= _LIMIT:
        raise ValueError("neither seconds nor milliseconds")
    return number
