"""Times as devices and files write them."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from enum import StrEnum
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from parchd.clock import US_PER_S, from_datetime

_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)", re.ASCII)
_NUMBER = re.compile(r"\d+(?:\.\d*)?", re.ASCII)
_LEAST_MS = 100_000_000_000  # as seconds the year 5138, as milliseconds 1973
_END_US = 253_402_300_800 * US_PER_S  # the year 10000


class TimeFormat(StrEnum):
    """How a time is written."""

    AUTO = "auto"
    """ISO 8601, Unix seconds, or Unix milliseconds when the number is 1e11 or more."""
    ISO = "iso8601"
    UNIX_S = "unix-s"
    UNIX_MS = "unix-ms"


@dataclass(frozen=True, slots=True)
class TimeReader:
    """Turns written times into microseconds since 1970.

    Args:
        format: how they are written.
        zone: the zone of ISO times without an offset; ``None``: such times are refused.
        daylight_saving: false: the zone's clock stays on standard time all year.
    """

    format: TimeFormat = TimeFormat.AUTO
    zone: tzinfo | None = None
    daylight_saving: bool = True

    def read(self, found: object, after_us: int | None = None) -> int:
        """Read one time, as text or as a number.

        An hour that a clock shows twice (end of daylight saving) is the first one, unless that is not later than
        ``after_us``, the time before it.

        >>> TimeReader().read("1970-01-01T01:00:02+01:00"), TimeReader().read(1.5)
        (2000000, 1500000)

        Raises:
            ValueError: it is no time, names none, or is not in 1970 to 9999.
        """
        time_us = self._read(found, after_us)
        if not 0 <= time_us < _END_US:
            raise ValueError("a time from 1970 to 9999")
        return time_us

    def _read(self, found: object, after_us: int | None) -> int:
        if isinstance(found, str):
            text = found.strip()
            return self._from_number(float(text)) if self._is_number(text) else self._from_iso(text, after_us)
        if isinstance(found, int | float) and not isinstance(found, bool) and self.format is not TimeFormat.ISO:
            return self._from_number(found)
        raise ValueError(self.expected)

    def _is_number(self, text: str) -> bool:
        return self.format is not TimeFormat.ISO and _NUMBER.fullmatch(text) is not None

    def _from_number(self, number: float) -> int:
        if not 0 <= number < _END_US:
            raise ValueError(self.expected)
        in_ms = self.format is TimeFormat.UNIX_MS or (self.format is TimeFormat.AUTO and number >= _LEAST_MS)
        return round(number * 1000) if in_ms else round(number * US_PER_S)

    def _from_iso(self, text: str, after_us: int | None) -> int:
        if self.format not in (TimeFormat.AUTO, TimeFormat.ISO):
            raise ValueError(self.expected)
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(self.expected) from None
        return from_datetime(moment) if moment.tzinfo else self._from_local(moment, after_us)

    def _from_local(self, local: datetime, after_us: int | None) -> int:
        if self.zone is None:
            raise ValueError("a time with an offset from UTC, or the option time_zone")
        if not self.daylight_saving:
            return from_datetime((local - standard_offset(self.zone, local)).replace(tzinfo=UTC))
        first = from_datetime(local.replace(tzinfo=self.zone))
        second = from_datetime(local.replace(tzinfo=self.zone, fold=1))
        if second < first:
            raise ValueError("a time that exists (the clock skips this one when daylight saving begins)")
        return second if after_us is not None and first <= after_us < second else first

    @property
    def expected(self) -> str:
        """What a time must look like, in words."""
        return {
            TimeFormat.AUTO: "a time as ISO 8601 or Unix seconds or milliseconds",
            TimeFormat.ISO: "a time as ISO 8601",
            TimeFormat.UNIX_S: "a time as Unix seconds",
            TimeFormat.UNIX_MS: "a time as Unix milliseconds",
        }[self.format]


def standard_offset(zone: tzinfo, local: datetime) -> timedelta:
    """Return the zone's offset from UTC without daylight saving, at a local time.

    >>> standard_offset(ZoneInfo("America/Los_Angeles"), datetime(2026, 7, 1)) / timedelta(hours=1)
    -8.0
    """
    offset = zone.utcoffset(local) or timedelta()
    return offset - (zone.dst(local) or timedelta())


def parse_zone(name: str) -> tzinfo:
    """Read a zone: ``UTC``, an offset (``-08:00``), or a name of the time zone database.

    >>> parse_zone("-08:00").utcoffset(None) / timedelta(hours=1)
    -8.0

    Raises:
        ValueError: there is no such zone.
    """
    if match := _OFFSET.fullmatch(name):
        sign, hours, minutes = match.groups()
        size = timedelta(hours=int(hours), minutes=int(minutes))
        return timezone(-size if sign == "-" else size)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"a time zone such as 'Europe/Lisbon', '-08:00' or 'UTC', not {name!r}") from error
