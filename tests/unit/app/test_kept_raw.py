"""A defect of the pipeline costs readings and alarms, never samples."""

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parchd.app import engine as engine_module
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.contract import SampleBatch
from parchd.pipeline.stage import process
from parchd.testing import FakeClock
from parchd.testing.bench import Bench, engine_on
from parchd.testing.site import START_US, batch, sample

CLOCK = FakeClock(START_US)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with engine_on(tmp_path) as running:
        yield running


@pytest.fixture
def defect(monkeypatch: pytest.MonkeyPatch) -> None:
    """Break on every sample of 13 kPa."""

    def broken(plan: Any, state: Any, taken: SampleBatch, received_us: int, **how: Any) -> Any:
        if any(sample.value == 13.0 for sample in taken.samples):
            raise ZeroDivisionError("thirteen")
        return process(plan, state, taken, received_us, **how)

    monkeypatch.setattr(engine_module, "process", broken)


def run(bench: Bench, *batches: SampleBatch) -> EngineLoop:
    """Work off batches and end."""
    inbox = Inbox(0.0, CLOCK)
    loop = EngineLoop(bench.engine, inbox, CLOCK)
    for taken in batches:
        assert inbox.put(taken, 0.0)
    loop.start()
    assert loop.finish(10.0)
    return loop


@pytest.mark.usefixtures("defect")
def test_a_sample_that_breaks_the_engine_is_kept_as_it_came_and_judges_nothing(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    released = threading.Event()
    taken = batch(
        sample("n20", START_US, 70.0), sample("n40", START_US, 13.0), sample("n60", START_US, 71.0),
        on_committed=released.set, urgent=True,
    )  # fmt: skip
    loop = run(bench, taken)
    assert released.is_set(), "nobody waits for it for ever"
    assert (loop.kept_raw, loop.dropped) == (1, 0)
    assert bench.rows("SELECT value, tension_kpa, flag, late FROM journal ORDER BY value") == [
        (13.0, None, 2, 1),
        (70.0, 70.0, 1, 0),
        (71.0, 71.0, 1, 0),
    ]
    assert [record.__dict__["event"] for record in caplog.records if "event" in record.__dict__].count(
        "engine.dropped"
    ) == 1
    assert ("irrigate-now", "zone/north", "raised") in bench.events(), "the others decide"


@pytest.mark.usefixtures("defect")
def test_a_defect_that_breaks_on_everything_loses_no_sample(bench: Bench) -> None:
    loop = run(bench, *(batch(*(sample(f"x{c}", START_US + n, 13.0) for c in range(5))) for n in range(100)))
    assert (loop.kept_raw, loop.dropped) == (500, 0)
    assert bench.rows("SELECT count(*) FROM journal WHERE value = 13") == [(500,)]


@pytest.mark.usefixtures("defect")
def test_after_it_the_engine_knows_what_it_knew_before(bench: Bench) -> None:
    run(bench, batch(sample("n20", START_US, 30.0)), batch(sample("n20", START_US + 1, 13.0)))
    bench.feed(batch(sample("n20", START_US + 2, 31.0)))
    assert bench.rows("SELECT value, late FROM journal ORDER BY time_us") == [(30.0, 0), (13.0, 1), (31.0, 0)]
