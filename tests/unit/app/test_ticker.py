"""The schedule."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from apscheduler.job import Job
from apscheduler.schedulers.background import BackgroundScheduler

from parchd.app.ticker import Steady, Ticker

NOW = datetime(2026, 6, 1, 4, tzinfo=UTC)


@pytest.fixture
def ticker() -> Iterator[Ticker]:
    made = Ticker()
    made.start()
    yield made
    made.stop()


class Counter:
    """Counts calls; others wait for them."""

    def __init__(self, error: Exception | None = None) -> None:
        self.calls = 0
        self._error = error
        self._changed = threading.Condition()

    def __call__(self) -> None:
        with self._changed:
            self.calls += 1
            self._changed.notify_all()
        if self._error is not None:
            raise self._error

    def reaches(self, calls: int) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self.calls >= calls, 10.0)


@pytest.mark.parametrize(
    "previous", [None, NOW - timedelta(seconds=1), NOW - timedelta(days=56 * 365), NOW + timedelta(days=365)]
)
def test_the_next_firing_counts_from_now_whatever_the_last_was(previous: datetime | None) -> None:
    assert Steady(5.0).get_next_fire_time(previous, NOW) == NOW + timedelta(seconds=5)


def test_missed_firings_are_never_listed_even_when_the_clock_jumps_by_56_years() -> None:
    """APScheduler asks the trigger for every firing up to now, and keeps them all: 1.8 thousand million here."""
    start = datetime(1970, 1, 1, tzinfo=UTC)
    job = Job(
        BackgroundScheduler(timezone=UTC), id="tick", name="tick", func=print, args=(), kwargs={}, trigger=Steady(1.0),
        executor="default", next_run_time=start, misfire_grace_time=None, coalesce=True, max_instances=1,
    )  # fmt: skip
    assert job._get_run_times(NOW) == [start]


def test_a_job_is_called_again_and_again(ticker: Ticker) -> None:
    counter = Counter()
    ticker.every(0.01, "tick", counter)
    assert counter.reaches(3)


def test_a_job_that_was_named_before_the_start_runs_too() -> None:
    counter, ticker = Counter(), Ticker()
    ticker.every(0.01, "tick", counter)
    ticker.start()
    assert counter.reaches(2)
    ticker.stop()


def test_a_second_job_of_one_name_takes_the_place_of_the_first(ticker: Ticker) -> None:
    first, second = Counter(), Counter()
    ticker.every(3600.0, "tick", first)
    ticker.every(0.01, "tick", second)
    assert second.reaches(2)
    assert first.calls == 0


def test_a_job_that_fails_is_reported_and_called_again(caplog: pytest.LogCaptureFixture) -> None:
    counter, ticker = Counter(ZeroDivisionError("broken")), Ticker()
    ticker.every(0.01, "tick", counter)
    ticker.start()
    assert counter.reaches(3)
    ticker.stop()
    troubles = [record for record in caplog.records if record.__dict__.get("event") == "schedule.trouble"]
    assert troubles
    assert "broken" in troubles[0].getMessage()


def test_a_restart_sets_every_job_anew_from_now_on(ticker: Ticker) -> None:
    """As after a step back of the clock: the next firing lies an hour ahead, and must not be waited for."""
    fast, stalled = Counter(), Counter()
    ticker.every(0.01, "fast", fast)
    ticker.every(0.01, "stalled", stalled)
    assert stalled.reaches(1)
    far = datetime.now(UTC) + timedelta(hours=1)
    ticker._scheduler.modify_job("stalled", next_run_time=far)
    before = stalled.calls
    ticker.restart()
    assert stalled.reaches(before + 2)
    assert fast.reaches(2)


def test_after_the_stop_no_job_is_called() -> None:
    counter, ticker = Counter(), Ticker()
    ticker.start()
    ticker.every(0.01, "tick", counter)
    assert counter.reaches(1)
    ticker.stop()
    calls = counter.calls
    assert not threading.Event().wait(0.05)
    assert counter.calls == calls
