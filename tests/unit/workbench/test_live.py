"""Samples as they come: from sources, from a journal, typed; and what is said when none come."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from parchd.clock import SystemClock
from parchd.config import Loaded, load
from parchd.config.loaded import AdapterEntry
from parchd.contract import (
    AdapterKind,
    Intake,
    Options,
    Sample,
    SampleBatch,
    Source,
    SourceLost,
    StopSignal,
    Unit,
)
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, Ratiometric
from parchd.pipeline.setup import TensiometerSetup
from parchd.store.database import Lock
from parchd.testing.bench import Bench, engine_on
from parchd.testing.board import bench_config, volts_of
from parchd.testing.clock import FakeClock
from parchd.testing.site import SITE, START_US, engine_setup_of, sample, small_site, tensiometer
from parchd.workbench.live import LiveError, LiveSample, find_setup
from parchd.workbench.live_chain import Chain
from parchd.workbench.live_journal import JournalFeed
from parchd.workbench.live_open import open_feed
from parchd.workbench.live_source import SourceFeed
from parchd.workbench.live_typed import TypedError, parse_signal, parse_vacuum_kpa, typed_vacuum

HEAD_KPA = 5.8734  # 60 cm at 20 C: facts 1.4
CREEK = tensiometer("creek-30", "c30", Ratiometric(0.0, -100.0), height_m=0.6, supply_channel="bus1/vs")


def volt(channel: str, second: int, value: float | None) -> tuple[str, Sample]:
    return "bus1", sample(channel, START_US + second * 1_000_000, value, Unit.V)


# --- the chain


def test_a_sample_goes_the_way_it_goes_in_the_daemon() -> None:
    chain = Chain(CREEK, SITE)
    (live,) = chain.convert([volt("vs", 0, 5.0), volt("c30", 1, 2.1)], START_US)
    assert (live.value, live.unit, live.signal, live.supply_v) == (2.1, Unit.V, 2.1, 5.0)
    assert live.indicated_kpa == pytest.approx(-40.0)  # facts 3.1: 40 mV a kPa from 0.5 V on
    assert live.vacuum_kpa == pytest.approx(40.0)
    assert live.tension_kpa == pytest.approx(40.0 - HEAD_KPA, abs=1e-3)
    assert live.trouble == ""


def test_a_supply_that_was_not_heard_yet_is_named() -> None:
    (live,) = Chain(CREEK, SITE).convert([volt("c30", 1, 2.1)], START_US)
    assert live.signal is live.vacuum_kpa is None
    assert live.trouble.endswith("it is measured on bus1/vs")


def test_a_supply_that_sags_does_not_change_the_pressure() -> None:
    chain = Chain(CREEK, SITE)
    (live,) = chain.convert([volt("vs", 0, 4.75), volt("c30", 1, 2.375)], START_US)
    assert live.indicated_kpa == pytest.approx(-50.0)  # facts 3.1: 2.375 of 4.75 V
    assert live.supply_v == 4.75


@pytest.mark.parametrize(
    ("value", "unit", "trouble"),
    [(0.01, Unit.V, "open circuit (0.01 V)"), (None, Unit.V, "no value"), (7.0, Unit.MA, "it takes V, mV")],
)
def test_what_is_no_pressure_says_why(value: float | None, unit: Unit, trouble: str) -> None:
    chain = Chain(replace(CREEK, supply_channel=None), SITE)
    (live,) = chain.convert([("bus1", sample("c30", START_US, value, unit))], START_US)
    assert live.vacuum_kpa is None
    assert trouble in live.trouble


def test_other_channels_are_passed_over() -> None:
    assert Chain(CREEK, SITE).convert([volt("n20", 0, 1.0)], START_US) == []


# --- the journal


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with engine_on(tmp_path, engine_setup_of(small_site())) as bench:
        yield bench


@pytest.fixture
def loaded(tmp_path: Path) -> Loaded:
    config = tmp_path / "bench.toml"
    config.write_text(bench_config("/dev/none"))
    return load(config, {}, None)


def journal_feed(bench: Bench, loaded: Loaded, clock: FakeClock) -> JournalFeed:
    there = replace(loaded, store=replace(loaded.store, path=bench.path))
    return JournalFeed(there, Chain(CREEK, SITE), clock)


def put(bench: Bench, *samples: tuple[str, Sample]) -> None:
    bench.feed(SampleBatch("bus1", tuple(one for _, one in samples)))


def test_a_journal_is_followed_from_now_on_with_the_supply_that_is_known(bench: Bench, loaded: Loaded) -> None:
    put(bench, volt("vs", 0, 4.75), volt("c30", 0, 1.0))
    feed = journal_feed(bench, loaded, FakeClock())
    assert feed.take(0.0) == []
    put(bench, volt("c30", 10, 2.375))
    (live,) = feed.take(0.0)
    assert live.indicated_kpa == pytest.approx(-50.0)
    assert feed.take(0.0) == []
    feed.close()


def test_what_a_gateway_catches_up_with_is_not_live(bench: Bench, loaded: Loaded) -> None:
    put(bench, volt("vs", 100, 5.0), volt("c30", 100, 1.0))
    feed = journal_feed(bench, loaded, FakeClock())
    put(bench, volt("c30", 50, 2.0), volt("c30", 101, 2.1))
    assert [live.value for live in feed.take(0.0)] == [2.1]
    feed.close()


def test_forgotten_samples_are_gone_but_not_the_supply(bench: Bench, loaded: Loaded) -> None:
    feed = journal_feed(bench, loaded, FakeClock())
    put(bench, volt("vs", 0, 4.75), volt("c30", 0, 1.0))
    feed.forget()
    put(bench, volt("c30", 10, 2.375))
    assert [live.supply_v for live in feed.take(0.0)] == [4.75]
    feed.close()


def test_silence_names_what_is_missing_and_a_daemon_that_has_gone(bench: Bench, loaded: Loaded) -> None:
    feed = journal_feed(bench, loaded, FakeClock())
    put(bench, ("bus1", sample("n20", START_US, 10.0)))
    feed.take(0.0)
    with pytest.raises(LiveError, match="the daemon has stopped"):
        feed.silence()
    lock = Lock(bench.path)
    try:
        assert "hears nothing from bus1/c30, bus1/vs though others come (bus1/n20)" in feed.silence()
    finally:
        lock.release()
        feed.close()


# --- sources


class Scripted:
    """A source that does what a test tells it."""

    def __init__(self, act: Callable[[Intake, StopSignal], None]) -> None:
        self._act = act

    def run(self, intake: Intake, stop: StopSignal) -> None:
        self._act(intake, stop)


def with_source(loaded: Loaded, act: Callable[[Intake, StopSignal], None]) -> Loaded:
    kind: AdapterKind[Options, Source] = AdapterKind(Options, lambda _options, _services: Scripted(act))
    return replace(loaded, sources={"board": AdapterEntry("sources", "board", "scripted", Options(), kind)})


def source_feed(loaded: Loaded, act: Callable[[Intake, StopSignal], None]) -> SourceFeed:
    setup = find_setup(loaded, "n1")
    return SourceFeed(with_source(loaded, act), Chain(setup, loaded.pipeline.site), SystemClock())


def taken(feed: SourceFeed, count: int) -> list[LiveSample]:
    found: list[LiveSample] = []
    deadline_s = time.monotonic() + 5.0
    while len(found) < count and time.monotonic() < deadline_s:
        found += feed.take(0.05)
    return found


def line(volts: float, second: int = 0, channel: str = "a0") -> SampleBatch:
    return SampleBatch("board", (Sample(channel, START_US + second * 1_000_000, volts, Unit.V),))


def test_a_source_is_run_and_its_end_is_known(loaded: Loaded) -> None:
    def act(intake: Intake, _stop: StopSignal) -> None:
        for second, kpa in enumerate((10.0, 20.0)):
            intake.put(line(volts_of(kpa), second))

    feed = source_feed(loaded, act)
    assert [live.vacuum_kpa for live in taken(feed, 2)] == [pytest.approx(10.0), pytest.approx(20.0)]
    feed.close()
    assert feed.ended


def test_a_source_that_cannot_be_reached_says_why(loaded: Loaded) -> None:
    def act(_intake: Intake, _stop: StopSignal) -> None:
        raise SourceLost("could not open port /dev/none")

    feed = source_feed(loaded, act)
    with pytest.raises(LiveError, match="source board cannot be reached: could not open port /dev/none"):
        taken(feed, 1)
    feed.close()


def test_an_adapter_that_breaks_is_told_too(loaded: Loaded) -> None:
    def act(_intake: Intake, _stop: StopSignal) -> None:
        raise ZeroDivisionError("oh")

    feed = source_feed(loaded, act)
    with pytest.raises(LiveError, match="ZeroDivisionError: oh"):
        taken(feed, 1)
    feed.close()


def test_a_line_that_is_lost_later_is_tried_again(loaded: Loaded, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("parchd.workbench.live_source.PAUSE_S", 0.01)
    runs = iter((0, 1))

    def act(intake: Intake, stop: StopSignal) -> None:
        intake.connected("/dev/board")
        intake.put(line(volts_of(10.0), next(runs, 2)))
        if next(runs, None) is not None:
            raise SourceLost("pulled out")
        stop.wait(5.0)

    feed = source_feed(loaded, act)
    assert len(taken(feed, 2)) == 2
    assert feed.silence() == "Source board is connected to /dev/board."
    feed.close()


def test_a_batch_that_wants_to_be_acknowledged_is_refused_and_never_is(loaded: Loaded) -> None:
    acknowledged = threading.Event()

    def act(intake: Intake, _stop: StopSignal) -> None:
        intake.offer(replace(line(1.0), on_committed=acknowledged.set), 1.0)

    feed = source_feed(loaded, act)
    with pytest.raises(LiveError, match="Start the daemon"):
        taken(feed, 1)
    feed.close()
    assert not acknowledged.is_set()


def test_silence_tells_of_other_channels_and_of_lines_that_make_no_sample(loaded: Loaded) -> None:
    heard = threading.Event()

    def act(intake: Intake, stop: StopSignal) -> None:
        intake.connected("/dev/board")
        intake.put(line(1.0, channel="a7"))
        intake.rejected("field is not a number", b"volts=", 3)
        heard.set()
        stop.wait(5.0)

    feed = source_feed(loaded, act)
    assert heard.wait(5.0)
    said = feed.silence()
    assert "field is not a number (3); the last: b'volts='" in said
    assert "Other channels are heard (board/a7), but not board/a0." in said
    feed.close()


def waiting(_intake: Intake, stop: StopSignal) -> None:
    stop.wait(5.0)


def test_the_way_hangs_on_who_holds_the_journal(loaded: Loaded, bench: Bench) -> None:
    there = replace(with_source(loaded, waiting), store=replace(loaded.store, path=bench.path))
    setup = find_setup(loaded, "n1")
    feed = open_feed(there, setup, SystemClock())
    assert feed.origin == "source board"
    feed.close()
    lock = Lock(bench.path)
    try:
        feed = open_feed(there, setup, SystemClock())
        assert feed.origin == "the running daemon's journal"
        feed.close()
    finally:
        lock.release()


def test_an_unknown_tensiometer_is_guessed_at(loaded: Loaded) -> None:
    with pytest.raises(LiveError, match="no tensiometer 'n11': did you mean n1"):
        find_setup(loaded, "n11")


# --- typed


def test_a_typed_vacuum_becomes_a_tension() -> None:
    live = typed_vacuum("10 inHg", CREEK, START_US)
    assert live.vacuum_kpa == pytest.approx(33.86389)  # facts 1.8
    assert live.tension_kpa == pytest.approx(33.86389 - HEAD_KPA, abs=1e-3)


@pytest.mark.parametrize(("text", "kpa"), [("-20", 20.0), ("20 cb", 20.0), ("200mbar", 20.0), ("1,5 psi", 10.34214)])
def test_vacuum_is_read_as_people_write_it(text: str, kpa: float) -> None:
    assert parse_vacuum_kpa(text) == pytest.approx(kpa, rel=1e-5)


COUNTS = tensiometer("a-1", "a", Ratiometric(0.0, -100.0), adc=Adc(10, 5.0))


@pytest.mark.parametrize(
    ("setup", "text", "signal"),
    [(CREEK, "2.104", 2.104), (CREEK, "2104 mV", 2.104), (COUNTS, "512 counts", 2.5),
     (tensiometer("b-1", "b", CurrentLoop(0.0, -100.0, 150.0)), "8", 8.0),
     (tensiometer("b-1", "b", CurrentLoop(0.0, -100.0, 150.0)), "1.2 V", 8.0)],
)  # fmt: skip
def test_a_signal_may_carry_its_unit(setup: TensiometerSetup, text: str, signal: float) -> None:
    assert parse_signal(text, setup) == pytest.approx(signal)


@pytest.mark.parametrize(
    ("text", "said"), [("2 mA", "it gives V, mV"), ("x", "no number"), ("1023 counts", "stands at its end")]
)
def test_a_signal_that_cannot_be_is_refused(text: str, said: str) -> None:
    with pytest.raises(TypedError, match=said):
        parse_signal(text, COUNTS)
