"""Local days, and on which of them a digest comes."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from parchd.clock import from_datetime, to_datetime
from parchd.people.person import DigestTime

LATEST_START_H = 12


def local_day(zone: ZoneInfo, now_us: int) -> date:
    """The date where somebody lives.

    >>> local_day(ZoneInfo("Europe/Berlin"), 1_780_000_000_000_000).isoformat()
    '2026-05-28'
    """
    return to_datetime(now_us).astimezone(zone).date()


def digest_due(when: DigestTime | None, zone: ZoneInfo, last_day: str | None, now_us: int) -> str | None:
    """The local date whose digest is due now; ``None``: none is.

    It is due once on its day from its time on, for twelve hours: a daemon that slept longer skips the day.

    >>> from datetime import time
    >>> noon = from_datetime(datetime(2026, 5, 1, 12, tzinfo=ZoneInfo("Europe/Berlin")))
    >>> digest_due(DigestTime(time(6, 30)), ZoneInfo("Europe/Berlin"), "2026-04-30", noon)
    '2026-05-01'
    >>> digest_due(DigestTime(time(6, 30), weekday=0), ZoneInfo("Europe/Berlin"), "2026-04-30", noon) is None
    True
    """
    if when is None:
        return None
    local = to_datetime(now_us).astimezone(zone)
    today = local.date().isoformat()
    passed_s = (local.hour - when.at.hour) * 3600 + (local.minute - when.at.minute) * 60 + local.second
    due = 0 <= passed_s < LATEST_START_H * 3600 and (last_day is None or last_day < today)
    return today if due and _is_its_day(when, local.date()) else None


def first_day(when: DigestTime, zone: ZoneInfo, now_us: int) -> str:
    """The local date that counts as told when there never was a digest: what is past is not made up for.

    >>> from datetime import time
    >>> noon = from_datetime(datetime(2026, 5, 1, 12, tzinfo=ZoneInfo("Europe/Berlin")))
    >>> first_day(DigestTime(time(6, 30)), ZoneInfo("Europe/Berlin"), noon)
    '2026-05-01'
    >>> first_day(DigestTime(time(18, 0)), ZoneInfo("Europe/Berlin"), noon)
    '2026-04-30'
    """
    local = to_datetime(now_us).astimezone(zone)
    return (local.date() - timedelta(days=local.time() < when.at)).isoformat()


def next_digest_us(when: DigestTime, zone: ZoneInfo, last_day: str | None, now_us: int) -> int:
    """When the next digest comes that is not told yet; now, if it is due.

    >>> from datetime import time
    >>> noon = from_datetime(datetime(2026, 5, 1, 12, tzinfo=ZoneInfo("UTC")))
    >>> to_datetime(next_digest_us(DigestTime(time(6, 30)), ZoneInfo("UTC"), "2026-05-01", noon)).isoformat()
    '2026-05-02T06:30:00+00:00'
    """
    if digest_due(when, zone, last_day, now_us) is not None:
        return now_us
    today = local_day(zone, now_us)
    days = (today + timedelta(days=n) for n in range(9))
    moments = (
        from_datetime(datetime.combine(day, when.at, tzinfo=zone))
        for day in days
        if _is_its_day(when, day) and (last_day is None or day.isoformat() > last_day)
    )
    return next((moment_us for moment_us in moments if moment_us > now_us), now_us + 9 * 86_400_000_000)


def comes_today(when: DigestTime | None, zone: ZoneInfo, last_day: str | None, now_us: int) -> bool:
    """Whether a digest is still to come on this local day."""
    if when is None:
        return False
    return local_day(zone, next_digest_us(when, zone, last_day, now_us)) == local_day(zone, now_us)


def _is_its_day(when: DigestTime, day: date) -> bool:
    return when.weekday is None or day.weekday() == when.weekday
