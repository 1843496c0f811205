"""Watching the daemon through its journal, as any program beside it could."""

import math
from collections import deque
from collections.abc import Iterable
from datetime import time
from typing import Self
from zoneinfo import ZoneInfo

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Change
from parchd.alarms.rules import AlarmKind, IrrigationRule
from parchd.app.setup import names, places
from parchd.app.zones_now import zone_standing
from parchd.clock import US_PER_S, to_datetime
from parchd.config import Loaded
from parchd.contract import Place, StoredReading
from parchd.demo.news import News
from parchd.demo.picture import Gauge, Picture, Point, Sign, ZonePicture
from parchd.store import reader
from parchd.store.database import open_reader
from parchd.store.states import load_alarm_state

HOUR_US = 3600 * US_PER_S
CHUNK = 5000
ZONE_SIGNS = {"irrigate now": Sign.NOW, "plan an irrigation": Sign.PLAN, "enough water": Sign.ENOUGH}


class Watch:
    """Reads what is new, and makes the picture of it. Belongs to one thread."""

    def __init__(self, loaded: Loaded, speed: float) -> None:
        self.samples = 0
        self._speed = speed
        self._names = names(loaded)
        self._places = places(loaded)
        self._rules = loaded.alarms.irrigation
        self._clock_zone = ZoneInfo(self._names.time_zone)
        self._scale_kpa = scale_end_kpa(limit_kpa for rule in self._rules for _, limit_kpa in rule.limits)
        self._history: dict[str, deque[tuple[int, float | None]]] = {channel: deque() for channel in self._places}
        self._seq = 0
        self._connection = open_reader(loaded.store.path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._connection.close()

    def look(self, now_us: int, news: tuple[News, ...] = ()) -> Picture:
        """Read the journal and draw up the picture of ``now_us``."""
        self._read_news(now_us)
        state, newest = load_alarm_state(self._connection), reader.latest(self._connection)
        return Picture(
            site=self._names.site,
            time=self._names.local(now_us),
            speed=self._speed,
            scale_kpa=self._scale_kpa,
            zones=tuple(self._zone(rule, state, newest, now_us) for rule in self._rules),
            news=news,
        )

    def alarms(self, change: Change) -> int:
        """How many alarms were raised or cleared so far."""
        query = "SELECT count(*) FROM alarm_event WHERE change = ?"
        return int(self._connection.execute(query, (change,)).fetchone()[0])

    def _read_news(self, now_us: int) -> None:
        while rows := reader.rows_after(self._connection, self._places, self._seq, CHUNK):
            self._seq = rows[-1].seq
            for row in rows:
                self._remember(row)
        for points in self._history.values():
            while points and points[0][0] < now_us - HOUR_US:
                points.popleft()

    def _remember(self, row: StoredReading) -> None:
        self.samples += 1
        if row.channel in self._history and not row.late:
            self._history[row.channel].append((row.time_us, row.tension_kpa))

    def _zone(
        self, rule: IrrigationRule, state: AlarmState, newest: dict[str, reader.Latest], now_us: int
    ) -> ZonePicture:
        standing = zone_standing(rule, state, self._names, now_us)
        words = standing.words.partition(":")[0]
        sign = ZONE_SIGNS.get(words, Sign.UNKNOWN)
        key = rule.subject.partition("/")[2]
        members = {channel: place for channel, place in self._places.items() if place.zone == key}
        return ZonePicture(
            title=standing.name,
            plan_kpa=rule.plan_kpa,
            now_kpa=rule.now_kpa,
            sign=sign,
            words=self._unknown(rule, now_us) if sign is Sign.UNKNOWN else words,
            tension_kpa=standing.tension_kpa,
            gauges=tuple(self._gauge(c, place, state, newest.get(c), now_us) for c, place in members.items()),
        )

    def _unknown(self, rule: IrrigationRule, now_us: int) -> str:
        """Say since when nothing has been decided, or when that will be."""
        start = time() if rule.window is None else rule.window.start
        before = to_datetime(now_us).astimezone(self._clock_zone).time() < start
        return f"unknown, decided from {start:%H:%M}" if before else "unknown"

    def _gauge(self, channel: str, place: Place, state: AlarmState, newest: reader.Latest | None, now_us: int) -> Gauge:
        sign, words = _reading_words(place.tensiometer, state, newest)
        return Gauge(
            name=place.tensiometer,
            depth_cm=place.depth_m * 100,
            tension_kpa=newest.tension_kpa if newest is not None and sign is Sign.WELL else None,
            sign=sign,
            words=words,
            history=tuple(Point((now_us - at) / 60 / US_PER_S, kpa) for at, kpa in self._history[channel]),
        )


def scale_end_kpa(limits_kpa: Iterable[float]) -> float:
    """Where the scale of all bars ends: a good way above the highest limit, a multiple of 10 kPa.

    >>> scale_end_kpa([35.0, 50.0])
    60.0
    """
    return math.ceil(max(limits_kpa) * 1.15 / 10) * 10.0


def _reading_words(tensiometer: str, state: AlarmState, newest: reader.Latest | None) -> tuple[Sign, str]:
    active = {
        k.kind for k, c in state.faults.items() if k.subject == f"tensiometer/{tensiometer}" and c.phase.is_active
    }
    if AlarmKind.SILENT in active:
        return Sign.SILENT, "silent"
    if newest is None:
        return Sign.UNKNOWN, "not heard yet"
    if newest.cause:
        return Sign.FAULT, newest.cause.word
    return Sign.WELL, "reads well"
