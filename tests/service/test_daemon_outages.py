"""Servers that are away for three days: afterwards everything arrives, once, and in order for each recipient.

The clock runs 30 000 times faster than life.
"""

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from parchd.app.daemon import Daemon
from parchd.clock import US_PER_S, Clock, ScaledClock, from_datetime
from parchd.config import load
from parchd.testing.background import Background
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, influx, mail, mqtt_source, webhook
from parchd.testing.process import query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import HttpReceiver, MailSandbox
from parchd.testing.series import VictoriaMetrics

pytestmark = [pytest.mark.needs("mosquitto"), pytest.mark.needs("victoria-metrics")]

START_US = from_datetime(datetime(2026, 6, 1, 4, tzinfo=UTC))
DAYS = 3
SPEED = 30_000.0
HOUR_S = 3600
CHANNELS = 4


class Field(Background):
    """Publishes a sample of every channel each ten minutes; four hours dry, four hours wet."""

    def __init__(self, broker: Mosquitto, clock: Clock) -> None:
        self.published = 0
        self._broker = broker
        self._clock = clock
        super().__init__()

    def work(self) -> None:
        second = START_US // US_PER_S
        with Publisher(self._broker.host, self._broker.port) as publisher:
            while not self.ends.wait(0.005):
                due = range(second, self._clock.now_us() // US_PER_S, 600)
                self.published += publisher.publish(_samples(due))
                second += 600 * len(due)


def _samples(seconds: Iterable[int]) -> Iterator[tuple[str, bytes]]:
    for second in seconds:
        dry = (second // (4 * HOUR_S)) % 2
        for channel in range(CHANNELS):
            kpa = 20 + 35 * dry + channel / 8
            yield f"farm/c{channel}", json.dumps({"t": second, "v": kpa}).encode()


@contextmanager
def running(config: Path, clock: Clock) -> Iterator[Daemon]:
    daemon = Daemon(load(config, {}, None), clock, tick_s=0.02)
    daemon.start()
    try:
        yield daemon
    finally:
        assert daemon.stop()


@pytest.mark.timeout(120)
def test_after_three_days_without_any_server_everything_arrives_once_and_in_order(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    mails, hooks, few, series = MailSandbox(), HttpReceiver(), HttpReceiver(), VictoriaMetrics()
    for receiver in (mails, hooks, few):
        with receiver:  # from here on it has a port
            pass
    with Mosquitto(tmp_path / "broker") as broker:
        notifiers = (mail(mails), webhook(hooks), webhook(few, "few", max_per_hour=2))
        text = farm(mqtt_source(broker.port), influx(series.url), *notifiers, tensiometers=CHANNELS)
        text = text.replace(
            "depth_cm = 30", "depth_cm = 30\ninterval_s = 86400"
        )  # a hiccup of a second is a night here
        config.write_text(text.replace('digest_at = "never"', 'digest_at = "06:30"'))
        (calm := tmp_path / "calm.toml").write_text(text)
        clock = ScaledClock(START_US, SPEED)
        with running(config, clock) as daemon:
            with Field(broker, clock) as field:
                assert wait_until(lambda: clock.now_us() > START_US + DAYS * 86_400 * US_PER_S, 60.0)
            journal = daemon.loaded.store.path
            assert wait_until(lambda: stored(journal) == field.published)
            assert query(journal, "SELECT count(*) FROM outbox WHERE state = 'sent'") == [(0,)]
            assert query(journal, "SELECT max(seq) FROM sink") == [(0,)]
            daemon.reload(load(calm, {}, None))  # no more digests: nothing new is said while we look
            with mails, hooks, few, series:
                assert wait_until(lambda: all_is_told(journal), 60.0), standing(journal)
                assert wait_until(lambda: all_is_copied(journal), 60.0), standing(journal)
                copied = {
                    (row.labels["channel"], time_ms * 1000): value
                    for row in series.export('{__name__="tension_tension_kpa"}')
                    for time_ms, value in row.values.items()
                }
                assert series.invalid_rows() == 0
    assert copied == {(name, time_us): kpa for name, time_us, kpa in tensions(journal)}
    check_told(journal, "people", [str(mail.message["Subject"]) for mail in mails.mails])
    check_told(journal, "hook", [json.loads(request.body)["data"]["subject"] for request in hooks.requests])
    check_merged(journal, few)


def stored(journal: Path) -> int:
    return int(query(journal, "SELECT count(*) FROM journal")[0][0])


def tensions(journal: Path) -> list[tuple[Any, ...]]:
    return query(
        journal, "SELECT name, time_us, tension_kpa FROM journal JOIN channel ON channel.id = channel_id ORDER BY seq"
    )


def all_is_told(journal: Path) -> bool:
    return query(journal, "SELECT count(*) FROM outbox WHERE state NOT IN ('sent', 'merged')") == [(0,)]


def all_is_copied(journal: Path) -> bool:
    return query(journal, "SELECT seq, (SELECT max(seq) FROM journal) FROM sink") == [(stored(journal),) * 2]


def standing(journal: Path) -> list[tuple[Any, ...]]:
    return [
        *query(journal, "SELECT notifier, state, trouble, count(*) FROM outbox GROUP BY 1, 2, 3"),
        *query(journal, "SELECT * FROM sink"),
    ]


def check_told(journal: Path, notifier: str, subjects: list[str]) -> None:
    """Nothing was merged: each event and each digest has its own message, sent in the order it happened."""
    states = "SELECT DISTINCT state FROM outbox WHERE notifier = ?"
    # That a server is back is found out a little later, while the daemon stops perhaps.
    back = " AND coalesce(json_extract(notice, '$.data.alarm'), '') NOT IN ('notifier-down', 'sink-down')"
    assert query(journal, states + back, notifier) == [("sent",)]
    queued = query(
        journal,
        "SELECT json_extract(notice, '$.subject') FROM outbox WHERE notifier = ? AND state = 'sent' ORDER BY id",
        notifier,
    )
    assert subjects == [subject for (subject,) in queued]
    told = query(journal, "SELECT count(*) FROM outbox WHERE notifier = ? AND kind IN ('raised', 'cleared')", notifier)
    others = "SELECT count(*) FROM alarm_event WHERE subject <> 'notifier/' || ?"  # none tells that it is away itself
    assert told == query(journal, others, notifier)
    assert told[0][0] >= DAYS * 3  # alarms clear hours after water, once something explains the fall


def check_merged(journal: Path, few: HttpReceiver) -> None:
    """Two messages an hour at most: each event and each digest was told by itself or in a message that lists it."""
    assert len(few.requests) == len(few.deliveries), "nothing came twice"
    told: Counter[tuple[str, str | None, str]] = Counter()
    overflows = 0
    for request in few.requests:
        envelope = json.loads(request.body)
        if envelope["type"] == "messages.merged":
            overflows += 1
            told.update((m["type"], m["thread"], m["time"]) for m in envelope["data"]["details"]["messages"])
        else:
            told[envelope["type"], envelope["data"]["thread"], envelope["timestamp"]] += 1
    queued = query(
        journal,
        "SELECT json_extract(notice, '$.data.type'), json_extract(notice, '$.thread'),"
        " json_extract(notice, '$.time_us') FROM outbox WHERE notifier = 'few' AND kind <> 'overflow'",
    )
    assert overflows >= 1
    assert told == Counter((kind, thread, iso(time_us)) for kind, thread, time_us in queued)
    assert len(queued) >= DAYS * 5


def iso(time_us: int) -> str:
    return datetime.fromtimestamp(time_us / US_PER_S, UTC).isoformat().replace("+00:00", "Z")
