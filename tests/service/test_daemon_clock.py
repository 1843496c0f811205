"""A clock that jumps by a year and back, under the whole daemon: nothing lost, nothing told twice, work goes on."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from parchd.app.daemon import Daemon
from parchd.clock import US_PER_S, SystemClock
from parchd.config import load
from parchd.contract import Cause
from parchd.testing.background import Background
from parchd.testing.farm import farm, serial_source, webhook
from parchd.testing.line import PtyLine
from parchd.testing.process import query, wait_until
from parchd.testing.receivers import HttpReceiver

DAY_S = 86_400
YEAR_S = 365 * DAY_S


class StepClock(SystemClock):
    """The machine's clock, set forward and back at will."""

    def __init__(self) -> None:
        self._offset_us = 0

    def now_us(self) -> int:
        return super().now_us() + self._offset_us

    def step(self, seconds: float) -> None:
        self._offset_us += round(seconds * US_PER_S)


class Bus(Background):
    """A board that prints a line some hundred times a second, and counts them."""

    def __init__(self, line: PtyLine) -> None:
        self.kpa = 20.0
        self.written = 0
        self._line = line
        super().__init__()

    def work(self) -> None:
        while not self.ends.wait(0.004):
            text = b"%.2f\n" % self.kpa
            assert self._line.write(text) == len(text)
            self.written += 1


@contextmanager
def running(
    folder: Path, clock: StepClock, hooks: HttpReceiver, caplog: pytest.LogCaptureFixture
) -> Iterator[tuple[Path, Bus]]:
    """Run a daemon on a line; at the end every line that was written must be stored."""
    caplog.set_level(logging.INFO, "parchd")
    config = folder / "farm.toml"
    with PtyLine() as line:
        config.write_text(farm(serial_source(line.path, "c0"), webhook(hooks), tensiometers=1, source="bus1"))
        daemon = Daemon(load(config, {}, None), clock, tick_s=0.05)
        journal = daemon.loaded.store.path
        daemon.start()
        try:
            assert wait_until(lambda: "source.connected" in events(caplog))
            with Bus(line) as bus:
                yield journal, bus
            assert wait_until(lambda: stored(journal) == bus.written)
        finally:
            assert daemon.stop()
    assert not query(journal, "SELECT 1 FROM outbox WHERE state <> 'sent'")


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [getattr(record, "event", "") for record in caplog.records]


def stored(journal: Path) -> int:
    return int(query(journal, "SELECT count(*) FROM journal")[0][0])


def come_more(journal: Path, where: str, rows: int = 20) -> None:
    """Wait for so many more rows of a kind."""
    sql = f"SELECT count(*) FROM journal WHERE {where}"
    seen = query(journal, sql)[0][0]
    assert wait_until(lambda: query(journal, sql)[0][0] >= seen + rows), query(journal, "SELECT * FROM meta")


def subjects(hooks: HttpReceiver) -> list[str]:
    return [request.headers["webhook-id"].rpartition(".")[0].split(".")[0] for request in hooks.requests]


def test_a_year_forward_and_back_loses_no_line_and_alarms_work_again_ten_minutes_later(
    tmp_path: Path, hooks: HttpReceiver, caplog: pytest.LogCaptureFixture
) -> None:
    clock = StepClock()
    with running(tmp_path, clock, hooks, caplog) as (journal, bus):
        come_more(journal, "NOT late")
        clock.step(YEAR_S)
        come_more(journal, f"NOT late AND time_us > {clock.now_us() - DAY_S * US_PER_S}")
        bus.kpa = 50.0
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
        clock.step(-YEAR_S)
        come_more(journal, f"late AND cause = {Cause.CLOCK.value}")
        clock.step(601)
        come_more(journal, f"NOT late AND time_us < {clock.now_us() + DAY_S * US_PER_S}")
        bus.kpa = 20.0
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 2)
    assert subjects(hooks) == ["irrigate-now", "irrigate-now"]
    changes = query(journal, "SELECT kind, change FROM alarm_event ORDER BY id")
    assert changes == [("irrigate-now", "raised"), ("irrigate-now", "cleared")], "nobody was called silent"


def test_a_year_forward_makes_nobody_silent_and_tells_no_alarm_anew(
    tmp_path: Path, hooks: HttpReceiver, caplog: pytest.LogCaptureFixture
) -> None:
    clock = StepClock()
    with running(tmp_path, clock, hooks, caplog) as (journal, bus):
        bus.kpa = 50.0
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
        for _ in range(3):
            clock.step(YEAR_S)
            come_more(journal, f"NOT late AND time_us > {clock.now_us() - DAY_S * US_PER_S}")
        bus.kpa = 20.0
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 2)
    assert query(journal, "SELECT kind, change FROM alarm_event ORDER BY id") == [
        ("irrigate-now", "raised"), ("irrigate-now", "cleared"),
    ]  # fmt: skip


def test_a_board_that_starts_in_the_past_keeps_its_samples_but_does_not_believe_their_time(
    tmp_path: Path, hooks: HttpReceiver, caplog: pytest.LogCaptureFixture
) -> None:
    clock = StepClock()
    clock.step(-20 * YEAR_S)
    with running(tmp_path, clock, hooks, caplog) as (journal, bus):
        bus.kpa = 50.0
        come_more(journal, f"late AND cause = {Cause.CLOCK.value}")
        assert not query(journal, "SELECT 1 FROM alarm_event"), "nothing is raised at a time that nobody believes"
        clock.step(20 * YEAR_S)
        come_more(journal, "NOT late")
        assert hooks.wait_for(lambda hooks: len(hooks.deliveries) == 1)
    assert query(journal, "SELECT change FROM alarm_event") == [("raised",)]
