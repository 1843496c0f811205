"""kill -9 at any moment: nothing that was acknowledged is lost, nothing is stored or told twice."""

import json
import random
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import pytest

from parchd.app.setup import engine_setup
from parchd.clock import US_PER_S, SystemClock
from parchd.config import load
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.background import Background
from parchd.testing.bench import engine_on
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, influx, mail, mqtt_source, webhook
from parchd.testing.influx_fake import FakeInflux
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.testing.receivers import HttpReceiver, MailSandbox

pytestmark = pytest.mark.needs("mosquitto")

SEED = 20260612
KILLS = 50
CHANNELS = 4
MOST_MESSAGES = 120_000
PIECE = 100
Value = tuple[str, float, float]
"""Channel, time in seconds, tension in kPa."""


def drying_and_watered(start_s: int) -> Iterator[Value]:
    """Four samples a second from each channel; about every 22 s the soil passes the limit up or down."""
    chance = random.Random(SEED)
    for number in range(MOST_MESSAGES):
        step, channel = divmod(number, CHANNELS)
        tension_kpa = 20 + 25 * abs((step / 90) % 2 - 1) * 2 + chance.uniform(-1, 1)
        yield f"c{channel}", start_s + step / 4, round(tension_kpa, 3)


class Load(Background):
    """Publishes values piece by piece from a thread of its own, each piece acknowledged by the broker."""

    def __init__(self, broker: Mosquitto, values: Iterator[Value], pieces_a_second: float) -> None:
        self.published: list[Value] = []
        self._broker = broker
        self._values = values
        self._pause_s = 1 / pieces_a_second
        super().__init__()

    @property
    def goes_on(self) -> bool:
        return self.is_alive

    def work(self) -> None:
        with Publisher(self._broker.host, self._broker.port) as publisher:
            while (piece := list(islice(self._values, PIECE))) and not self.ends.wait(self._pause_s):
                publisher.publish(
                    (f"farm/{channel}", json.dumps({"t": second, "v": kpa}).encode()) for channel, second, kpa in piece
                )
                self.published += piece


@pytest.fixture
def series() -> Iterator[FakeInflux]:
    with FakeInflux(token="") as server:
        yield server


@pytest.mark.timeout(300)
def test_killed_at_fifty_random_moments_it_stores_copies_and_tells_everything_once(
    tmp_path: Path, mails: MailSandbox, hooks: HttpReceiver, series: FakeInflux
) -> None:
    chance = random.Random(SEED)
    start_s = SystemClock().now_us() // US_PER_S - 9000  # recent: what is hours old judges no alarm
    config = tmp_path / "farm.toml"
    with Mosquitto(tmp_path / "broker") as broker:
        parts = mqtt_source(broker.port), mail(mails), webhook(hooks), influx(series.url)
        config.write_text(farm(*parts, tensiometers=CHANNELS, interval_s=3600))  # hours old is still new then
        daemon = DaemonProcess(config)
        with daemon:
            daemon.wait_for("source.connected")  # from here on the broker keeps what we miss
            daemon.kill()
        with Load(broker, drying_and_watered(start_s), pieces_a_second=10) as load:
            under_load = kill_again_and_again(daemon, chance, load)
        values = load.published
        with daemon:
            daemon.wait_for("daemon.started")
            all_is_stored = wait_until(lambda: stored(config) >= len(values), 60.0)
            assert all_is_stored, f"{stored(config)} of {len(values)}: {daemon.log[-3000:]}"
            assert wait_until(lambda: not unsent(config), 60.0), unsent(config)
            assert wait_until(lambda: len(series.lines) >= len(values), 30.0), len(series.lines)
            assert daemon.stop() == 0
    assert under_load >= KILLS * 0.7, "too few of the kills came while messages did"
    check_journal(config, values)
    check_alarms(config, values)
    check_messages(config, mails, hooks)
    assert len(series.lines) == len(values), "a row that comes again overwrites itself"


def kill_again_and_again(daemon: DaemonProcess, chance: random.Random, load: Load) -> int:
    """Return how many of the kills came while the load was on and the daemon connected."""
    under_load = 0
    for number in range(KILLS):
        with daemon:
            if number % 5:
                daemon.wait_for("source.connected")
                under_load += load.goes_on
                time.sleep(chance.uniform(0.0, 0.25))
            else:
                time.sleep(chance.uniform(0.0, 0.6))  # some while it starts
            daemon.kill()
    return under_load


def journal_of(config: Path) -> Path:
    return config.parent / "parchd.db"


def stored(config: Path) -> int:
    return int(query(journal_of(config), "SELECT count(*) FROM journal")[0][0])


def unsent(config: Path) -> list[tuple[object, ...]]:
    return query(journal_of(config), "SELECT id, notifier, state, trouble FROM outbox WHERE state <> 'sent'")


def check_journal(config: Path, values: list[Value]) -> None:
    database = journal_of(config)
    assert query(database, "PRAGMA integrity_check") == [("ok",)]
    assert query(database, "PRAGMA foreign_key_check") == []
    rows = query(
        database,
        "SELECT name, time_us / 1e6, value FROM journal JOIN channel ON channel.id = channel_id ORDER BY seq",
    )
    assert len(rows) == len(values)
    assert set(rows) == {(f"field/{channel}", second, kpa) for channel, second, kpa in values}
    assert query(database, "SELECT count(*) FROM journal WHERE late OR flag <> 1") == [(0,)]


def check_alarms(config: Path, values: list[Value]) -> None:
    """Compare with an engine that was never disturbed: the same samples must give the same alarms."""
    loaded = load(config, {}, None)
    setup = engine_setup(loaded, {"people": ("anne",), "hook": ("hook",)})
    with engine_on(config.with_name("undisturbed.db"), setup, now_us := SystemClock().now_us()) as undisturbed:
        for at in range(0, len(values), 500):
            samples = tuple(Sample(c, round(s * US_PER_S), v, Unit.KPA) for c, s, v in values[at : at + 500])
            undisturbed.turn(now_us, SampleBatch("field", samples))
        expected = undisturbed.rows("SELECT kind, subject, change, time_us, raised_us, tension_kpa FROM alarm_event")
    happened = query(
        journal_of(config), "SELECT kind, subject, change, time_us, raised_us, tension_kpa FROM alarm_event ORDER BY id"
    )
    assert len(expected) > 60
    assert happened == expected


def check_messages(config: Path, mails: MailSandbox, hooks: HttpReceiver) -> None:
    """Each change of an alarm has one message for each notifier, and each receiver has it once, in order."""
    events = query(journal_of(config), "SELECT kind, subject, change, raised_us FROM alarm_event ORDER BY id")
    names = [f"{kind}.{subject.replace('/', '.')}.{raised_us}.{change}" for kind, subject, change, raised_us in events]
    for notifier in ("people", "hook"):
        rows = query(
            journal_of(config), "SELECT notice_id, attempts FROM outbox WHERE notifier = ? ORDER BY id", notifier
        )
        assert [notice_id.rpartition(".")[0] for notice_id, _ in rows] == names
    kept = [
        notice_id
        for (notice_id,) in query(
            journal_of(config), "SELECT notice_id FROM outbox WHERE notifier = 'hook' ORDER BY id"
        )
    ]
    assert list(hooks.deliveries) == kept
    letters = list(dict.fromkeys(str(mail.message["Message-ID"]) for mail in mails.mails))
    assert len(letters) == len(names)
    again = {"webhooks": len(hooks.requests) - len(kept), "mails": len(mails.mails) - len(letters)}
    print(f"{stored(config)} samples, {len(names)} alarms; sent again with the same id: {again}")
    assert max(again.values()) <= KILLS, "a kill can repeat the message that was on its way, no more"
