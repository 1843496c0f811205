"""Reading from the journal what is to be explained; one pass over its rows, however many there are."""

import json
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from parchd.alarms.rules import AlarmKind, IrrigationRule
from parchd.clock import US_PER_S
from parchd.config import Loaded
from parchd.contract import Cause, Flag
from parchd.diagnosis.findings import Event, Finding
from parchd.physics.head import head_kpa
from parchd.pipeline.setup import TensiometerSetup
from parchd.store import findings, reader, services
from parchd.workbench.explain_case import Bucket, Dismissal, Explained, Newest, Portrait, Told, Track

MINUTE_US = 60 * US_PER_S
DAY_US = 1440 * MINUTE_US
BUCKETS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440)
MOST_BUCKETS = 760
LEVEL_M = 0.12
_MOST_STATION, _MOST_LEVEL = 3, 2
_LONG_US, _MOST_WHEN_LONG = 45 * DAY_US, 2
_LONGEST_EVENT_US = 60 * DAY_US

_ROWS = """
SELECT channel_id, flag, cause IN (?, ?), count(*), count(tension_kpa), total(tension_kpa), min(tension_kpa),
  max(tension_kpa), count(value), total(value), min(value), max(value)
FROM journal WHERE time_us >= ? AND time_us < ? AND channel_id IN (SELECT value FROM json_each(?)) GROUP BY 1, 2, 3
"""
_NAMES = "SELECT id, name FROM channel WHERE name IN (SELECT value FROM json_each(?))"
_TOLD = (int(Cause.DOUBTED), int(Cause.CONDEMNED))


def explained(
    connection: sqlite3.Connection, loaded: Loaded, name: str, start_us: int, end_us: int, now_us: int
) -> Explained:
    """Gather all that is to be explained of a tensiometer, ``start_us <= time < end_us``.

    Raises:
        KeyError: no tensiometer has this name.
    """
    setups = {setup.place.tensiometer: setup for setup in loaded.pipeline.tensiometers}
    own = setups[name]
    bucket_us = bucket_length_us(start_us, end_us, own.interval_s)
    most = _MOST_WHEN_LONG if end_us - start_us > _LONG_US else _MOST_STATION + _MOST_LEVEL - 1
    neighbours, left_out = _neighbours(own, setups.values(), most)
    warm = own.temperature_channel
    channels = [own.channel, *(setup.channel for setup in neighbours), *([warm] if warm else [])]
    worked = [record for record in services.records(connection) if record.tensiometer == name]
    sums = _read(connection, channels, range(start_us, end_us, bucket_us), bucket_us, end_us)
    return Explained(
        portrait=_portrait(loaded, own),
        start_us=start_us,
        end_us=end_us,
        bucket_us=bucket_us,
        now_us=now_us,
        own=sums[own.channel].track(name, own.interval_s),
        newest=_newest(connection, own.channel),
        flags=dict(sums[own.channel].flags),
        neighbours=tuple(sums[setup.channel].track(setup.place.tensiometer, setup.interval_s) for setup in neighbours),
        left_out=left_out,
        temperature=sums[warm].thermometer(f"temperature of {warm}", own.interval_s) if warm else None,
        findings=tuple(_findings(connection, own, start_us, end_us)),
        events=tuple(_events(connection, own, start_us, end_us)),
        services=tuple(one for one in worked if one.begin_us < end_us and one.end_us > start_us),
        settling=max(
            (one for one in worked if one.begin_us <= now_us < one.end_us), key=lambda one: one.end_us, default=None
        ),
    )


def bucket_length_us(start_us: int, end_us: int, interval_s: float) -> int:
    """Choose a round length so that there are not too many, and none shorter than the interval.

    >>> bucket_length_us(0, 5 * DAY_US, 900.0) // MINUTE_US, bucket_length_us(0, 183 * DAY_US, 60.0) // MINUTE_US
    (15, 360)
    """
    least_us = max((end_us - start_us) / MOST_BUCKETS, interval_s * US_PER_S, MINUTE_US)
    days = -(-least_us // DAY_US)
    return next((n * MINUTE_US for n in BUCKETS_MIN if n * MINUTE_US >= least_us), int(days) * DAY_US)


@dataclass(slots=True)
class _Sums:
    """Sums of one channel by the bucket."""

    tension: list[Bucket] = field(default_factory=list)
    value: list[Bucket] = field(default_factory=list)
    flags: Counter[Flag] = field(default_factory=Counter)

    def take(self, rows: Sequence[tuple[Any, ...]]) -> None:
        """Take the groups of one bucket; what is no measurement is counted, but not drawn."""
        for flag, _, count, *_ in rows:
            self.flags[Flag(flag)] += count
        good = [row for row in rows if row[0] != Flag.FAIL or row[1]]
        self.tension.append(_bucket([row[3:7] for row in good]))
        self.value.append(_bucket([row[7:11] for row in rows]))

    def track(self, label: str, interval_s: float) -> Track:
        return Track(label, interval_s, tuple(self.tension))

    def thermometer(self, label: str, interval_s: float) -> Track:
        return Track(label, interval_s, tuple(self.value))


def _bucket(groups: Iterable[Sequence[Any]]) -> Bucket:
    """Put groups together: count, total, lowest and highest of each."""
    known = [group for group in groups if group[0]]
    if not known:
        return Bucket()
    mean = sum(total for _, total, _, _ in known) / sum(count for count, *_ in known)
    return Bucket(min(low for _, _, low, _ in known), mean, max(high for *_, high in known))


def _read(
    connection: sqlite3.Connection, channels: Sequence[str], starts: Iterable[int], bucket_us: int, end_us: int
) -> Mapping[str, _Sums]:
    names = dict(connection.execute(_NAMES, (json.dumps(channels),)))
    ids = json.dumps(list(names))
    sums = {channel: _Sums() for channel in channels}
    for start_us in starts:
        found: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
        last_us = min(start_us + bucket_us, end_us)
        for channel_id, *row in connection.execute(_ROWS, (*_TOLD, start_us, last_us, ids)):
            found[names[channel_id]].append(tuple(row))
        for channel, one in sums.items():
            one.take(found[channel])
    return sums


def _neighbours(
    own: TensiometerSetup, setups: Iterable[TensiometerSetup], most: int
) -> tuple[list[TensiometerSetup], int]:
    """Others of the station, then ones of the zone at about the same depth, the nearest first."""
    depth_m = own.place.depth_m
    others = [s for s in setups if s.place.zone == own.place.zone and s.channel != own.channel]
    others.sort(key=lambda s: (round(abs(s.place.depth_m - depth_m), 3), s.place.tensiometer))
    station = [s for s in others if s.place.station == own.place.station][:_MOST_STATION]
    level = [s for s in others if s not in station and abs(s.place.depth_m - depth_m) <= LEVEL_M]
    level = [s for s in level if s.place.station != own.place.station][:_MOST_LEVEL]
    chosen = ([*station[:1], *level[:1], *station[1:], *level[1:]])[:most]
    return chosen, len(others) - len(chosen)


def _portrait(loaded: Loaded, own: TensiometerSetup) -> Portrait:
    site, place = loaded.pipeline.site, own.place
    return Portrait(
        site=site.name,
        time_zone=site.time_zone,
        name=place.tensiometer,
        zone=loaded.settings.zones[place.zone].title or place.zone,
        station=place.station,
        depth_m=place.depth_m,
        channel=own.channel,
        interval_s=own.interval_s,
        height_m=own.height_m,
        head_kpa=head_kpa(own.height_m, own.water_c),
        limit_kpa=own.usable_limit_kpa,
        limits=_limits(loaded.alarms.irrigation, place.tensiometer, place.zone),
    )


def _limits(rules: Iterable[IrrigationRule], name: str, zone: str) -> tuple[tuple[str, float], ...]:
    """When it, or else its zone, asks for water."""
    by_subject = {rule.subject: rule for rule in rules}
    rule = by_subject.get(f"tensiometer/{name}") or by_subject.get(f"zone/{zone}")
    words = {AlarmKind.IRRIGATE_NOW: "irrigate now", AlarmKind.IRRIGATE_PLAN: "plan"}
    return () if rule is None else tuple((words[kind], kpa) for kind, kpa in rule.limits)


def _newest(connection: sqlite3.Connection, channel: str) -> Newest | None:
    latest = reader.latest(connection).get(channel)
    return None if latest is None else Newest(latest.time_us, latest.tension_kpa, latest.flag, latest.cause)


def _findings(connection: sqlite3.Connection, own: TensiometerSetup, start_us: int, end_us: int) -> Iterable[Told]:
    records = [
        *findings.open_findings(connection).values(),
        *findings.past_findings(connection, start_us, end_us),
    ]
    its = [record for record in records if _concerns(record.finding, own)]
    for record in sorted(its, key=lambda record: record.finding.start_us):
        if not any(_is_other_half(record.finding, one.finding, own) for one in its):
            said = bool(record.by or record.because)
            yield Told(record.finding, Dismissal(record.by, record.because, record.closed_us or 0) if said else None)


def _concerns(finding: Finding, own: TensiometerSetup) -> bool:
    name = own.place.tensiometer
    return finding.key.subject in (f"tensiometer/{name}", f"source/{_source(own)}") or name in finding.others


def _is_other_half(finding: Finding, of: Finding, own: TensiometerSetup) -> bool:
    """Whether it tells of another tensiometer what its own finding tells already: of two that are exchanged, say."""
    is_own = of.key.subject == f"tensiometer/{own.place.tensiometer}" and of.key.kind is finding.key.kind
    return is_own and finding.key != of.key and finding.key.name in of.others and finding.start_us == of.start_us


def _events(connection: sqlite3.Connection, own: TensiometerSetup, start_us: int, end_us: int) -> Iterable[Event]:
    place = own.place
    station, tensiometer = f"station/{place.zone}/{place.station}", f"tensiometer/{place.tensiometer}"
    subjects = (station, tensiometer, f"source/{_source(own)}")
    for event in findings.events(connection, start_us - _LONGEST_EVENT_US, end_us):
        ends_us = end_us if event.end_us is None else event.end_us
        if event.subject in subjects and max(ends_us, event.start_us) >= start_us:
            yield event


def _source(own: TensiometerSetup) -> str:
    return own.channel.partition("/")[0]
