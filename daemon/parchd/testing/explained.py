"""Invented tensiometers to be explained: some days, and a whole season."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from parchd.clock import from_datetime
from parchd.contract import Cause, Flag
from parchd.diagnosis.findings import End, Event, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.store.services import ServiceRecord
from parchd.workbench.explain_case import Bucket, Dismissal, Explained, Newest, Portrait, Told, Track

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
START_US = from_datetime(datetime(2026, 6, 1, 22, tzinfo=UTC))
PORTRAIT = Portrait(
    site="Quillmere Orchard", time_zone="Europe/Berlin", name="north-1-30", zone="north block", station="post-1",
    depth_m=0.3, channel="bus1/a0", interval_s=900.0, height_m=0.45, head_kpa=4.4, limit_kpa=84.0,
    limits=(("irrigate now", 45.0), ("plan", 35.0)),
)  # fmt: skip

Curve = Callable[[float], float]
"""Tension in kPa by the hour; NaN: nothing is measured."""


def track(label: str, curve: Curve, hours: int, bucket_us: int, swing_kpa: float = 0.4) -> Track:
    """Put a curve into buckets, with a daily swing within each."""
    count = hours * HOUR_US // bucket_us
    middles = [(number + 0.5) * bucket_us / HOUR_US for number in range(count)]
    means = [curve(hour) + swing_kpa * math.sin(hour / 24.0 * math.tau) for hour in middles]
    wide = min(1.0, bucket_us / (6 * HOUR_US)) * 2.0 * swing_kpa
    return Track(label, 900.0, tuple(Bucket(mean - wide, mean, mean + wide) for mean in means))


def drying(hour: float, every_h: float, top_kpa: float, low_kpa: float = 9.0) -> float:
    """Tension that grows slowly, then faster, until water comes."""
    part = (hour % every_h) / every_h
    return low_kpa + (top_kpa - low_kpa) * math.pow(part, 1.6)


def finding(
    kind: FindingKind, begin_h: float, found_h: float, *facts: Fact, subject: str = "", **changes: object
) -> Finding:
    """One finding about the tensiometer, or another subject."""
    key = FindingKey(kind, subject or f"tensiometer/{PORTRAIT.name}")
    made = Finding(key, START_US + round(begin_h * HOUR_US), START_US + round(found_h * HOUR_US), 0.97, facts)
    return replace(made, **changes)  # type: ignore[arg-type] # fields of a finding


def wettings(every_h: float, hours: int, offset_h: float = 0.0) -> tuple[Event, ...]:
    """Water that came again and again."""
    count = int((hours - offset_h) // every_h) + 1
    times = [START_US + round((number * every_h + offset_h) * HOUR_US) for number in range(count)]
    facts = (Fact("fell by", 31.0, "kPa"), Fact("reached", "30 and 60 cm"), Fact("time to reach 60 cm", 5.5, "h"))
    return tuple(
        Event(EventKind.WETTING, "station/north/post-1", us, us + 6 * HOUR_US, facts) for us in times if us > START_US
    )


def some_days() -> Explained:
    """Five days: it dries with its neighbours, loses its water, and reads wet."""
    hours, bucket_us = 120, HOUR_US // 4

    def own(hour: float) -> float:
        if 40.0 <= hour < 46.0:
            return math.nan
        healthy = drying(hour + 20.0, 150.0, 62.0)
        return healthy if hour < 70.0 else -3.9 + (healthy + 3.9) * math.exp(-(hour - 70.0) / 2.0)

    lost = finding(
        FindingKind.LOST_WATER, 70.0, 75.0,
        Fact("fell by", 21.4, "kPa"), Fact("within", 6.0, "h"), Fact("reads now", -3.9, "kPa"),
        Fact("fall began", START_US + 70 * HOUR_US, "time"), Fact("neighbours that were wetted", 0),
        Fact("rise of north-1-60 since", 9.6, "kPa"),
    )  # fmt: skip
    mistaken = finding(FindingKind.LEVEL_SHIFT, 22.0, 30.0, Fact("moved by", 3.1, "kPa"), end=End.DISMISSED)
    return Explained(
        portrait=PORTRAIT, start_us=START_US, end_us=START_US + hours * HOUR_US, bucket_us=bucket_us,
        now_us=START_US + hours * HOUR_US, own=track("north-1-30", own, hours, bucket_us),
        newest=Newest(START_US + hours * HOUR_US - bucket_us, -3.9, Flag.FAIL, Cause.CONDEMNED),
        flags={Flag.PASS: 256, Flag.FAIL: 200},
        neighbours=(
            track("north-1-60", lambda h: drying(h + 50.0, 300.0, 70.0), hours, bucket_us, 0.1),
            track("north-2-30", lambda h: drying(h + 14.0, 150.0, 58.0), hours, bucket_us),
        ),
        left_out=2,
        temperature=track("soil at 30 cm", lambda h: 16.0 + 4.0 * math.sin(h / 24 * math.tau), hours, bucket_us, 0.0),
        findings=(
            Told(replace(mistaken, ended_us=mistaken.start_us),
                 Dismissal("Ines", "we raised the tube that day", START_US + 33 * HOUR_US)),
            Told(lost),
        ),
        services=(
            ServiceRecord(PORTRAIT.name, "refill", START_US + 20 * HOUR_US, START_US + 32 * HOUR_US, "Ines", "ok"),
        ),
    )  # fmt: skip


def a_season() -> Explained:
    """Six months with irrigation twice a week and findings of all sorts."""
    hours, bucket_us = 24 * 183, 6 * HOUR_US
    dead_h = 24 * 150.0

    def own(hour: float) -> float:
        if 24 * 61 <= hour < 24 * 64:
            return math.nan
        top_kpa = 44.0 if hour < 24 * 110 else 80.0
        return drying(hour, 84.0 if hour < 24 * 110 else 24 * 40.0, top_kpa) if hour < dead_h else 4.0

    source = "source/bus1"
    found = (
        finding(FindingKind.SLOW_RESPONSE, 24 * 8, 24 * 12, Fact("time constant", 3.2, "h"), confidence=0.8,
                ended_us=START_US + 20 * DAY_US, end=End.SERVICED),
        finding(FindingKind.NOISY_SUPPLY, 24 * 33, 24 * 34, Fact("noise", 0.9, "kPa"), Fact("channels", 6),
                subject=source, ended_us=START_US + 41 * DAY_US, end=End.RECOVERED),
        finding(FindingKind.SILENT_SOURCE, 24 * 61, 24 * 61 + 1, subject=source, ended_us=START_US + 64 * DAY_US,
                end=End.RECOVERED),
        finding(FindingKind.ZERO_DRIFT, 24 * 80, 24 * 90, Fact("zero", 2.4, "kPa"), confidence=0.7,
                ended_us=START_US + 98 * DAY_US, end=End.SERVICED),
        finding(FindingKind.AIR_ENTRY, dead_h, dead_h + 5, Fact("fell by", 71.0, "kPa"), Fact("in", 1, "h"),
                Fact("share of usable limit", 95, "%")),
        finding(FindingKind.FROST_RISK, 24 * 178, 24 * 178, Fact("temperature", 1.4, "degC"), confidence=0.6),
    )  # fmt: skip
    return replace(
        some_days(),
        end_us=START_US + hours * HOUR_US, now_us=START_US + hours * HOUR_US, bucket_us=bucket_us,
        own=track("north-1-30", own, hours, bucket_us, 1.5),
        newest=Newest(START_US + hours * HOUR_US, 4.0, Flag.FAIL, Cause.CONDEMNED),
        flags={Flag.PASS: 14_000, Flag.SUSPECT: 1900, Flag.FAIL: 3100, Flag.MISSING: 12},
        neighbours=(
            track("north-1-60", lambda h: drying(h + 20, 168.0, 36.0, 14.0), hours, bucket_us, 0.2),
            track("north-2-30", lambda h: drying(h + 6, 84.0, 41.0), hours, bucket_us, 1.0),
            track("north-2-60", lambda h: drying(h + 40, 168.0, 33.0, 12.0), hours, bucket_us, 0.2),
            track("north-3-30", lambda h: drying(h + 9, 84.0, 47.0), hours, bucket_us, 1.0),
        ),
        temperature=None,
        findings=tuple(Told(one) for one in found),
        events=(
            *wettings(84.0, 24 * 110),
            Event(EventKind.SATURATION, f"tensiometer/{PORTRAIT.name}", START_US + 45 * DAY_US,
                  START_US + 49 * DAY_US, (Fact("highest", 0.8, "kPa"),)),
            Event(EventKind.POSITIVE_PRESSURE, f"tensiometer/{PORTRAIT.name}", START_US + 46 * DAY_US,
                  START_US + 47 * DAY_US, (Fact("free water above the cup", 18, "cm"),)),
            Event(EventKind.SERVICE, source, START_US + 98 * DAY_US, START_US + 98 * DAY_US + HOUR_US,
                  (Fact("channels that dipped", 6), Fact("of", 7))),
        ),
        services=(
            ServiceRecord(PORTRAIT.name, "re-prime", START_US + 20 * DAY_US, START_US + 21 * DAY_US, "Tom", ""),
        ),
    )  # fmt: skip
