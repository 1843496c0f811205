"""The wires that simulated boards put their samples on."""

import threading
from collections.abc import Iterable

import pytest

from parchd.contract import Intake, Sample, SampleBatch, Services, Stopping, StopSignal, Unit
from parchd.demo.boards import BoardThread, LineWire, MqttWire, as_json, as_line
from parchd.demo.simulation import boards
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.line import PtyLine
from parchd.testing.running import Running
from parchd_adapters.serial_lines import KIND as SERIAL

FIELDS = ("a", "b", "supply")
SAMPLES = (Sample("a", 0, 1206.0, Unit.COUNTS), Sample("supply", 0, 5.0019, Unit.V))
BOARD = boards(0.0)[0]


class OneBatch:
    """A source that hands over one batch and waits."""

    def __init__(self, error: Exception | None = None) -> None:
        self.error = error
        self.handed = threading.Event()

    def run(self, intake: Intake, stop: StopSignal) -> None:
        committed: list[bool] = []
        intake.connected("nothing")
        intake.beat()
        assert intake.offer(SampleBatch("board", SAMPLES, lambda: committed.append(True)), 1.0)
        assert committed
        if self.error is not None:
            raise self.error
        self.handed.set()
        stop.wait()
        with pytest.raises(Stopping):
            intake.put(SampleBatch("board", SAMPLES))


class KeptWire:
    """A wire that keeps what it is given."""

    def __init__(self) -> None:
        self.sent: list[tuple[Sample, ...]] = []
        self.closed = False

    def send(self, samples: Iterable[Sample]) -> None:
        self.sent.append(tuple(samples))

    def close(self) -> None:
        self.closed = True


def test_a_sensor_that_is_not_heard_leaves_an_empty_field_which_the_daemon_reads_as_no_value() -> None:
    options = SERIAL.options.model_validate({"port": "/dev/null", "fields": ["a", "b", "supply:V"]})
    clock, intake = FakeClock(), FakeIntake()
    with PtyLine() as line:
        source = SERIAL.build(options.model_copy(update={"port": line.path}), Services("north", "Site", clock))
        with Running(source, intake):
            assert intake.wait_for(lambda intake: bool(intake.details))
            LineWire(line, FIELDS).send(SAMPLES)
            assert intake.wait_for(lambda intake: len(intake.samples) == 3)
    assert [(sample.channel, sample.value) for sample in intake.samples] == [
        ("a", 1206.0), ("b", None), ("supply", 5.002),
    ]  # fmt: skip
    assert not intake.rejects


def test_counts_are_printed_whole_and_volts_with_three_places() -> None:
    assert as_line(SAMPLES, FIELDS) == b"1206,,5.002\r\n"


def test_no_value_is_null_in_json() -> None:
    assert as_json(Sample("a", 0, None, Unit.V)) == b'{"time": "1970-01-01T00:00:00Z", "volts": null}'


def test_a_broker_that_is_away_costs_samples_but_not_the_board(caplog: pytest.LogCaptureFixture) -> None:
    wire = MqttWire("127.0.0.1", 1, "nursery")
    wire.send(SAMPLES)
    wire.close()
    assert [getattr(record, "event", "") for record in caplog.records] == ["demo.unpublished"]


def test_a_board_hands_its_samples_to_the_wire_and_closes_it_at_the_end() -> None:
    source, wire = OneBatch(), KeptWire()
    thread = BoardThread(BOARD, source, wire)
    thread.start()
    assert source.handed.wait(5.0)
    thread.stop()
    thread.join(5.0)
    assert wire.sent == [SAMPLES]
    assert wire.closed


def test_a_board_that_breaks_says_so_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    thread = BoardThread(BOARD, OneBatch(ValueError("a fault of ours")), KeptWire())
    thread.start()
    thread.join(5.0)
    assert "demo.board-broke" in [getattr(record, "event", "") for record in caplog.records]
