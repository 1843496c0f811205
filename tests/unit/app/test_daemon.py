"""The whole daemon with fakes at its ends: started, reloaded, stopped."""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from parchd.app import daemon as daemon_module
from parchd.app.daemon import ENGINE_DEAD_S, SOURCE_DEAD_S, TICKS_LOST_S, Daemon
from parchd.app.supervisor import SourceRunner
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.contract import (
    AdapterKind,
    ConfigError,
    Intake,
    Services,
    SinkUnavailable,
    Source,
    SourceLost,
    StopSignal,
    StoreError,
)
from parchd.store import reader
from parchd.store.database import open_reader
from parchd.testing import FakeClock
from parchd.testing.bench import refuse
from parchd.testing.notifier import FakeNotifier
from parchd.testing.sink import FakeSink
from parchd.testing.site import START_US, batch, line, sample, small_site
from parchd.testing.wiring import FakeOptions, FakeSource, loaded_site


class Farm:
    """A daemon and the fakes it is made of."""

    def __init__(self, folder: Path, **adapters: Any) -> None:
        self.folder = folder
        self.clock = SystemClock()
        self.source, self.sink, self.notifier = FakeSource(), FakeSink(), FakeNotifier("anne")
        self.daemon = Daemon(self.loaded(**adapters), self.clock, tick_s=0.05)

    def loaded(self, **changes: Any) -> Loaded:
        """The configuration of this farm; ``bus1`` stays its source when others are named."""
        adapters = {
            "sources": {"bus1": self.source},
            "sinks": {"farm": self.sink},
            "notifiers": {"mail": self.notifier},
        }
        return loaded_site(self.folder, **{**adapters, **changes})

    def abandon(self) -> None:
        """Free what a daemon holds that was never started, or could not be stopped."""
        self.daemon._connection.close()
        self.daemon._lock.release()

    @contextmanager
    def running(self) -> Iterator[Daemon]:
        self.daemon.start()
        stopped = False
        try:
            yield self.daemon
        finally:
            stopped = self.daemon.stop(10.0)
        assert stopped

    def now_us(self) -> int:
        return self.clock.now_us()

    def send(self, value: float) -> int:
        """Send one line and wait until it is on disk; return its time."""
        time_us, committed = self.now_us(), threading.Event()
        samples = [sample(channel, time_us, value) for channel in ("n20", "n40", "n60")]
        self.source.send(batch(*samples, on_committed=committed.set, urgent=True))
        assert committed.wait(10.0)
        return time_us

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        with closing(open_reader(self.folder / "journal.db")) as connection:
            return connection.execute(query).fetchall()


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Farm]:
    made = Farm(tmp_path)
    yield made
    made.abandon()


def until(condition: Callable[[], bool]) -> bool:
    """Ask again and again, for ten seconds at most."""
    pause = threading.Event()
    return any(condition() or pause.wait(0.01) for _ in range(1000))


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.__dict__["event"] for record in caplog.records if "event" in record.__dict__]


def test_a_sample_reaches_the_disk_the_sink_and_the_recipient(farm: Farm) -> None:
    with farm.running():
        farm.send(65.0)
        assert farm.sink.wait_for(lambda fake: len(fake.rows) == 3)
        assert farm.notifier.wait_for(lambda fake: len(fake.delivered) == 1)
        assert farm.daemon.watch() == ""
    assert farm.notifier.delivered[0][0].subject == "north block: irrigate now (65 kPa)"
    assert farm.rows("SELECT count(*) FROM journal") == [(3,)]
    assert farm.rows("SELECT state FROM outbox") == [("sent",)]
    assert farm.sink.closed


def test_ticks_come_by_themselves(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        assert until(lambda: farm.daemon._loop.silent_s < 0.5)
        before = farm.rows("SELECT value FROM meta WHERE key = 'highest_us'")
        assert int(before[0][0]) > START_US - 10**16


def test_what_was_delivered_before_the_stop_is_on_disk(farm: Farm) -> None:
    with farm.running():
        farm.source.send(*(line(START_US + n, n20=20.0) for n in range(200)))
        delivered = threading.Event()
        farm.source.order(lambda _: delivered.set())
        assert delivered.wait(10.0)
    assert sorted(file.name for file in farm.folder.iterdir()) == ["journal.db", "journal.db.lock"]
    assert farm.rows("SELECT count(*) FROM journal") == [(200,)]


def test_a_stopped_daemon_leaves_its_journal_to_the_next(farm: Farm) -> None:
    with pytest.raises(StoreError, match="another daemon"):
        Daemon(farm.loaded(), farm.clock)
    with farm.running():
        farm.send(20.0)
    again = Farm(farm.folder)
    with again.running():
        again.send(20.0)
    assert again.rows("SELECT count(*) FROM journal") == [(6,)]


def test_a_sink_goes_on_where_it_was_after_a_restart(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        assert farm.sink.wait_for(lambda fake: len(fake.rows) == 3)
    again = Farm(farm.folder)
    with again.running():
        again.send(20.0)
        assert again.sink.wait_for(lambda fake: len(fake.rows) == 3)
    assert [seq for write in again.sink.writes for seq in write] == [4, 5, 6]


def test_a_reload_with_nothing_new_leaves_every_adapter_alone(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        farm.daemon.reload(farm.loaded())
        farm.send(20.0)
        assert farm.sink.wait_for(lambda fake: len(fake.rows) == 6)
        assert (farm.source.runs, farm.sink.closed) == (1, False)


def test_a_reload_starts_changed_adapters_anew_and_loses_nothing(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        old_sink = farm.sink
        farm.sink, farm.source, farm.notifier = FakeSink(), FakeSource(), FakeNotifier("ben")
        farm.daemon.reload(farm.loaded(label="changed"))
        farm.send(65.0)
        assert old_sink.closed
        assert farm.sink.wait_for(lambda fake: len({*old_sink.rows, *fake.rows}) == 6)
        assert farm.notifier.wait_for(lambda fake: len(fake.delivered) == 1)


def test_a_reload_takes_away_what_the_configuration_no_longer_has(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        farm.daemon.reload(farm.loaded(sources={}, sinks={}, notifiers={}))
        assert farm.sink.closed
        assert farm.daemon._crew.sources == {}


def test_a_reload_changes_the_rules(farm: Farm) -> None:
    with farm.running():
        farm.send(45.0)
        assert farm.notifier.wait_for(lambda fake: len(fake.delivered) == 1)
        farm.daemon.reload(farm.loaded(site=small_site(now_kpa=42.0)))
        farm.send(45.0)
        assert farm.notifier.wait_for(lambda fake: len(fake.delivered) == 2)
    assert [notice.subject.split(": ")[1] for notice, _ in farm.notifier.delivered] == [
        "plan an irrigation (45 kPa)", "irrigate now (45 kPa)",
    ]  # fmt: skip


def unbuildable(farm: Farm) -> Loaded:
    """A configuration whose source cannot be made."""

    def build(_options: FakeOptions, _services: Services) -> Source:
        raise ValueError("no such key file")

    loaded = farm.loaded(label="changed")
    broken = replace(loaded.sources["bus1"], factory=AdapterKind(FakeOptions, build))
    return replace(loaded, sources={"bus1": broken})


def test_an_adapter_that_cannot_be_made_refuses_the_reload_and_all_goes_on(farm: Farm) -> None:
    with farm.running():
        with pytest.raises(ConfigError, match=r"sources\.bus1.*no such key file") as raised:
            farm.daemon.reload(unbuildable(farm))
        assert raised.value.problems[0].key == "sources.bus1"
        farm.send(20.0)
        assert (farm.source.runs, farm.sink.closed) == (1, False)


def test_an_adapter_that_cannot_be_made_keeps_the_daemon_from_starting(farm: Farm) -> None:
    with farm.running():
        pass
    with pytest.raises(ConfigError):
        Daemon(unbuildable(farm), farm.clock)
    farm.daemon = Daemon(farm.loaded(), farm.clock)  # the lock is free


def test_a_journal_that_cannot_be_used_gives_the_lock_back(tmp_path: Path) -> None:
    (tmp_path / "journal.db").write_text("tomorrow's shopping list " * 100)
    for _ in range(2):
        with pytest.raises(StoreError, match="not a usable journal"):
            Farm(tmp_path)


def test_a_journal_that_cannot_be_written_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(daemon_module, "Engine", full)
    with pytest.raises(StoreError, match=r"journal\.db: cannot be written .database or disk is full"):
        Farm(tmp_path)


def test_a_source_that_is_lost_again_and_again_does_not_disturb_the_rest(farm: Farm) -> None:
    other = FakeSource()

    def lose(_: Intake) -> None:
        raise SourceLost("pulled out")

    with farm.running():
        farm.daemon.reload(farm.loaded(sources={"bus1": farm.source, "bus2": other}))
        other.order(lose)
        farm.send(20.0)
        assert until(lambda: other.runs >= 2)
        farm.send(20.0)
        assert farm.daemon.watch() == ""


def test_a_daemon_ends_when_all_its_sources_have_read_all(farm: Farm) -> None:
    with farm.running() as daemon:
        assert not daemon.sources_ended()
        farm.source.end()
        assert until(daemon.sources_ended)


def test_a_sink_that_is_away_does_not_hold_up_the_stop(farm: Farm) -> None:
    farm.sink.away = SinkUnavailable("connection refused", retry_after_s=3600.0)
    with farm.running():
        farm.send(20.0)
        assert farm.sink.wait_for(lambda fake: fake.failures >= 1)


def test_a_notifier_that_hangs_is_left_behind_at_the_stop(tmp_path: Path) -> None:
    let_go, hangs = threading.Event(), threading.Event()

    class Hanging(FakeNotifier):
        def send(self, notice: object, recipient: str) -> None:
            hangs.set()
            let_go.wait(10.0)

    farm = Farm(tmp_path, notifiers={"mail": Hanging()})
    farm.daemon.start()
    farm.send(65.0)
    assert hangs.wait(10.0)
    assert farm.daemon.stop(0.4)
    assert farm.rows("SELECT state FROM outbox") == [("ready",)]
    let_go.set()


def test_a_source_that_does_not_leave_makes_the_stop_unclean(tmp_path: Path) -> None:
    let_go, deaf = threading.Event(), threading.Event()

    class Deaf:
        def run(self, intake: Intake, stop: StopSignal) -> None:
            deaf.set()
            let_go.wait(10.0)

    farm = Farm(tmp_path, sources={"bus1": Deaf()})
    farm.daemon.start()
    assert deaf.wait(10.0)
    assert not farm.daemon.stop(0.4)
    let_go.set()
    farm.abandon()


def test_a_disk_that_takes_nothing_makes_the_stop_unclean(farm: Farm) -> None:
    farm.daemon.start()
    refuse(farm.daemon._connection, sqlite3.SQLITE_TRANSACTION, "COMMIT")
    delivered = threading.Event()
    farm.source.send(line(START_US, n20=20.0))
    farm.source.order(lambda _: delivered.set())
    assert delivered.wait(10.0)
    assert not farm.daemon.stop(10.0)


def test_a_checkpoint_that_fails_does_not_make_the_stop_unclean(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    def full() -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with farm.running():
        farm.send(20.0)
        monkeypatch.setattr(farm.daemon._engine, "checkpoint", full)
    assert farm.rows("SELECT count(*) FROM journal") == [(3,)]


class Watched:
    """A daemon that was never started, on a clock that stands still."""

    def __init__(self, folder: Path) -> None:
        self.clock, self.source = FakeClock(), FakeSource()
        self.daemon = Daemon(loaded_site(folder, sources={"bus1": self.source}), self.clock)


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    made = Watched(tmp_path)
    yield made
    made.daemon._connection.close()
    made.daemon._lock.release()


def test_ticks_that_stop_are_noticed_and_the_schedule_set_anew(
    watched: Watched, caplog: pytest.LogCaptureFixture
) -> None:
    watched.clock.advance(TICKS_LOST_S)
    assert watched.daemon.watch() == ""
    assert events(caplog) == []
    watched.clock.advance(0.1)
    assert watched.daemon.watch() == ""
    assert watched.daemon.watch() == ""
    assert events(caplog) == ["schedule.restarted"]


def test_an_engine_that_hangs_is_noticed(watched: Watched) -> None:
    watched.clock.advance(ENGINE_DEAD_S)
    assert watched.daemon.watch() == ""
    watched.clock.advance(0.1)
    assert watched.daemon.watch() == "the engine hangs"


def test_a_source_that_hangs_is_noticed_by_its_name(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    runner = SourceRunner("bus1", watched.source, watched.daemon._inbox, watched.clock)
    watched.daemon._crew.sources["bus1"] = ("mark", runner)
    monkeypatch.setattr(daemon_module, "ENGINE_DEAD_S", 1e9)
    watched.clock.advance(SOURCE_DEAD_S)
    assert watched.daemon.watch() == ""
    watched.clock.advance(0.1)
    assert watched.daemon.watch() == "source bus1 hangs"


def test_logs_of_a_quiet_daemon_are_short(farm: Farm, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, logger="parchd")
    with farm.running():
        for _ in range(20):
            farm.send(20.0)
    assert len([event for event in events(caplog) if event]) <= 3


def test_the_position_of_the_sink_is_known_after_the_stop(farm: Farm) -> None:
    with farm.running():
        farm.send(20.0)
        assert farm.sink.wait_for(lambda fake: len(fake.rows) == 3)
    with closing(open_reader(farm.folder / "journal.db")) as connection:
        assert [(p.name, p.behind) for p in reader.sink_positions(connection)] == [("farm", 0)]
