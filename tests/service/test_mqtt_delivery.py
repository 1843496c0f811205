"""Nothing acknowledged is lost: acknowledgements, sessions and restarts with a real broker."""

import json
import logging
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from parchd.clock import SystemClock
from parchd.contract import SampleBatch, Services, Source, SourceLost, TimeSource
from parchd.testing import FakeIntake
from parchd.testing.broker import Mosquitto
from parchd.testing.committer import Committer
from parchd.testing.publisher import Publisher
from parchd.testing.running import Running
from parchd_adapters.mqtt import KIND

pytestmark = pytest.mark.needs("mosquitto")

RULES = {
    "timed": {"filter": "farm/+/json", "channel": "{1}", "value": "v", "time_field": "at", "unit": "counts"},
    "bare": {"filter": "farm/+/volts", "channel": "{1}"},
}
FIRST_US = 1_780_000_000_000_000
PROTOCOLS = pytest.mark.parametrize("protocol", ["3.1.1", "5"])


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


def source(broker: Mosquitto, **given: Any) -> Source:
    options = {"host": broker.host, "port": broker.port, "subscribe": RULES, "gather_s": 0, **given}
    services = Services("field", "Quillmere Orchard", SystemClock())
    return KIND.build(KIND.options.model_validate(options), services)


@contextmanager
def reading(source: Source, intake: FakeIntake) -> Iterator[Running]:
    with Running(source, intake) as running:
        assert intake.wait_for(lambda intake: bool(intake.details)), running.error
        yield running


def subscribed_once(source: Source) -> None:
    """Let the broker know our session."""
    with reading(source, FakeIntake()):
        pass


def numbered(numbers: Iterable[int]) -> list[tuple[str, bytes]]:
    """Messages that carry a number as their value and in their time."""
    return [
        (f"farm/s{n % 100}/json", json.dumps({"v": n, "at": (FIRST_US + n * 1_000_000) // 1000}).encode())
        for n in numbers
    ]


def publish(broker: Mosquitto, messages: Iterable[tuple[str, bytes]], **how: Any) -> None:
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish(messages, **how)


def values(intake: FakeIntake) -> list[float | None]:
    return [sample.value for sample in intake.samples]


def arrived(intake: FakeIntake, count: int) -> bool:
    return intake.wait_for(lambda intake: len(intake.samples) >= count)


def commit(batch: SampleBatch) -> None:
    assert batch.on_committed is not None
    batch.on_committed()


@PROTOCOLS
def test_only_what_was_committed_is_acknowledged_and_the_rest_comes_again_in_order(
    broker: Mosquitto, protocol: str
) -> None:
    field = source(broker, protocol=protocol)
    intake = FakeIntake(hold=True)
    with reading(field, intake):
        for number in range(10):
            publish(broker, numbered([number]))
            assert arrived(intake, number + 1)
        for batch in (*intake.batches[:4], *intake.batches[5:7]):  # 4 is not: what lies behind it must wait
            commit(batch)
    again = FakeIntake()
    with reading(field, again):
        assert again.wait_for(lambda intake: len(intake.samples) == 6)
        assert values(again) == [4, 5, 6, 7, 8, 9]
    assert {sample.time_us for sample in again.samples} <= {sample.time_us for sample in intake.samples}
    nothing = FakeIntake()
    with reading(field, nothing):
        assert not nothing.wait_for(lambda intake: bool(intake.samples), 0.3)


def test_a_commit_that_comes_after_a_reconnect_acknowledges_nothing(tmp_path: Path) -> None:
    """Message ids start over with a new session: the old id 1 must not acknowledge the new message 1."""
    folder = tmp_path / "broker"
    with Mosquitto(folder) as broker:
        field, late = source(broker), FakeIntake(hold=True)
        with reading(field, late):
            publish(broker, numbered([1]))
            assert late.wait_for(lambda intake: len(intake.samples) == 1)
            broker.kill()
        (folder / "mosquitto.db").unlink(missing_ok=True)
        broker.start()
        held = FakeIntake(hold=True)
        with reading(field, held):
            publish(broker, numbered([2]))
            assert held.wait_for(lambda intake: len(intake.samples) == 1)
            late.commit()
            time.sleep(0.2)
        again = FakeIntake()
        with reading(field, again):
            assert again.wait_for(lambda intake: values(intake) == [2])


@PROTOCOLS
def test_a_hundred_thousand_messages_queued_while_the_daemon_was_down_arrive_exactly_once(
    broker: Mosquitto, protocol: str
) -> None:
    field = source(broker, protocol=protocol)
    subscribed_once(field)
    count = 100_000
    publish(broker, numbered(range(count)))
    intake = Committer()
    began = time.monotonic()
    with intake, Running(field, intake) as running:
        assert intake.wait_for(lambda intake: len(intake.samples) >= count, 60.0), running.error
        took_s = time.monotonic() - began
        time.sleep(0.1)
    assert intake.values == list(range(count))
    assert took_s < 60.0
    assert "session resumed" in intake.detail
    nothing = FakeIntake()
    with reading(field, nothing):
        assert not nothing.wait_for(lambda intake: bool(intake.samples), 0.2), "all of it was acknowledged"


@PROTOCOLS
def test_a_broker_restarted_in_mid_stream_loses_nothing_it_acknowledged(broker: Mosquitto, protocol: str) -> None:
    field = source(broker, protocol=protocol)
    subscribed_once(field)
    stop, losses = threading.Event(), list[SourceLost]()
    with Committer(pause_s=0.002) as intake:
        reader = threading.Thread(target=run_again_and_again, args=(field, intake, stop, losses))
        writer = threading.Thread(target=publish_in_pieces, args=(broker, 20, 250))
        reader.start()
        writer.start()
        for _ in range(2):
            time.sleep(0.15)
            broker.restart()
        writer.join()
        try:
            assert intake.wait_for(lambda intake: set(intake.values) >= set(range(5000)), 20.0)
        finally:
            stop.set()
            reader.join()
    assert len(losses) >= 2, "both restarts must have cut the line"


def run_again_and_again(field: Source, intake: Committer, stop: threading.Event, losses: list[SourceLost]) -> None:
    while not stop.is_set():
        try:
            field.run(intake, stop)
        except SourceLost as error:
            losses.append(error)
            stop.wait(0.05)


def publish_in_pieces(broker: Mosquitto, pieces: int, size: int) -> None:
    """Publish, and publish a piece again if the broker did not acknowledge all of it."""
    for piece in range(pieces):
        messages = numbered(range(piece * size, (piece + 1) * size))
        while True:
            try:
                publish(broker, messages)
                break
            except OSError:
                time.sleep(0.02)
        time.sleep(0.02)


@PROTOCOLS
def test_a_retained_message_keeps_its_own_time_or_is_marked_as_of_unknown_time(
    broker: Mosquitto, protocol: str
) -> None:
    publish(broker, [*numbered([7]), ("farm/old/volts", b"2.5")], retain=True)
    intake = FakeIntake()
    with reading(source(broker, protocol=protocol), intake):
        assert intake.wait_for(lambda intake: len(intake.samples) == 2)
        publish(broker, [("farm/old/volts", b"2.6")])
        assert intake.wait_for(lambda intake: len(intake.samples) == 3)
    found = {(sample.channel, sample.value): sample for sample in intake.samples}
    assert found["s7", 7.0].time_source is TimeSource.DEVICE
    assert found["s7", 7.0].time_us == FIRST_US + 7_000_000
    assert found["old", 2.5].time_source is TimeSource.UNKNOWN
    assert found["old", 2.6].time_source is TimeSource.ARRIVAL


def test_mqtt_5_does_not_bring_retained_messages_again_to_a_resumed_session(broker: Mosquitto) -> None:
    publish(broker, [("farm/old/volts", b"2.5")], retain=True)
    field, first, second = source(broker, protocol="5"), FakeIntake(), FakeIntake()
    with reading(field, first):
        assert first.wait_for(lambda intake: len(intake.samples) == 1)
    with reading(field, second):
        assert not second.wait_for(lambda intake: bool(intake.samples), 0.2)


@PROTOCOLS
def test_messages_kept_for_us_that_tell_no_time_are_marked_and_those_after_them_are_not(
    broker: Mosquitto, protocol: str
) -> None:
    field = source(broker, protocol=protocol)
    subscribed_once(field)
    publish(broker, [("farm/north/volts", b"%d" % number) for number in range(500)])
    with Committer() as intake, Running(field, intake):
        assert intake.wait_for(lambda intake: len(intake.samples) == 500)
        time.sleep(0.1)  # the question whether there is more goes to the broker and back
        publish(broker, [("farm/north/volts", b"500")])
        assert intake.wait_for(lambda intake: len(intake.samples) == 501)
    assert {sample.time_source for sample in intake.samples[:500]} == {TimeSource.UNKNOWN}
    assert intake.samples[500].time_source is TimeSource.ARRIVAL
    assert len({sample.time_us for sample in intake.samples}) == 501


def test_a_session_the_broker_forgot_is_reported(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    folder = tmp_path / "broker"
    with Mosquitto(folder) as broker:
        field = source(broker)
        first = FakeIntake()
        with reading(field, first):
            broker.kill()
        (folder / "mosquitto.db").unlink(missing_ok=True)
        broker.start()
        second = FakeIntake()
        with caplog.at_level(logging.WARNING), reading(field, second):
            pass
    assert "new session" in second.details[0]
    assert "mqtt.session-lost" in [getattr(record, "event", "") for record in caplog.records]


def test_acknowledgements_follow_their_commit_at_once(tmp_path: Path) -> None:
    """The broker sends one message at a time, so the next one shows when the last was acknowledged."""
    with Mosquitto(tmp_path / "broker", max_inflight=1) as broker:
        field = source(broker)
        subscribed_once(field)
        publish(broker, numbered(range(50)))
        intake, waits = FakeIntake(hold=True), []
        with reading(field, intake):
            for number in range(1, 50):
                assert arrived(intake, number)
                began = time.monotonic()
                intake.commit()
                assert arrived(intake, number + 1)
                waits.append(time.monotonic() - began)
    assert sorted(waits)[len(waits) // 2] < 0.02


def test_a_stop_waits_for_commits_on_their_way_and_acknowledges_them(broker: Mosquitto) -> None:
    field, intake = source(broker), FakeIntake(hold=True)
    with reading(field, intake) as running:
        publish(broker, numbered([1]))
        assert intake.wait_for(lambda intake: len(intake.samples) == 1)
        running.stop.set()
        time.sleep(0.2)
        intake.commit()
        began = time.monotonic()
        assert running.ended(within_s=1.0)
        assert time.monotonic() - began < 0.2
    nothing = FakeIntake()
    with reading(field, nothing):
        assert not nothing.wait_for(lambda intake: bool(intake.samples), 0.2)


def test_the_first_message_goes_at_once_and_those_behind_it_go_together(broker: Mosquitto) -> None:
    field, intake = source(broker, gather_s=0.6), FakeIntake()
    with reading(field, intake):
        time.sleep(0.2)  # the probe that ends the backlog
        publish(broker, numbered([1]))
        assert intake.wait_for(lambda intake: len(intake.samples) == 1, 0.4)
        for number in range(2, 6):
            publish(broker, numbered([number]))
            time.sleep(0.02)
        assert arrived(intake, 5)
    assert [len(batch.samples) for batch in intake.batches] == [1, 4]


def test_what_nobody_keeps_for_us_is_not_held_back(broker: Mosquitto) -> None:
    field, intake = source(broker, gather_s=60), FakeIntake()
    with reading(field, intake):
        time.sleep(0.2)
        for number in range(1, 4):
            publish(broker, numbered([number]), qos=0)
            assert arrived(intake, number)


def test_messages_that_were_being_gathered_at_a_stop_come_again(broker: Mosquitto) -> None:
    field, intake = source(broker, gather_s=60), FakeIntake()
    with reading(field, intake):
        time.sleep(0.2)
        publish(broker, numbered([1]))
        assert arrived(intake, 1)
        publish(broker, numbered([2, 3]))
        time.sleep(0.2)
    again = FakeIntake()
    with reading(source(broker), again):
        assert arrived(again, 2)
    assert (values(intake), values(again)) == ([1], [2, 3])
