import errno
import termios
import threading
from collections.abc import Iterator, Sequence
from typing import Any, ClassVar

import pytest
import serial

from parchd.clock import SystemClock
from parchd.contract import Services, Source, SourceLost, Unit
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.line import PtyLine
from parchd.testing.running import Running
from parchd.testing.source_suite import ConnectedSourceSuite, Sent
from parchd_adapters.serial_lines import KIND, SerialLinesOptions
from parchd_adapters.serial_lines.ports import TtyPort
from parchd_adapters.serial_lines.source import WAIT_S, SerialLines


def options(port: str = "/dev/null", **given: Any) -> SerialLinesOptions:
    return KIND.options.model_validate({"port": port, "fields": ["a0", "a1", "supply:V"], **given})


class Device:
    """A microcontroller that writes three fields on a line."""

    name = "bus1"

    def __init__(self) -> None:
        self.line = PtyLine()
        self.source: Source = KIND.build(
            options(self.line.path), Services(self.name, "Quillmere Orchard", SystemClock())
        )
        self._count = 0

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        return [self._feed_one() for _ in range(groups)]

    def _feed_one(self) -> Sequence[Sent]:
        self._count += 1
        values = (float(self._count), self._count / 7, None if self._count % 3 else 4.98)
        self.line.write(",".join("nan" if value is None else repr(value) for value in values).encode() + b"\r\n", 0.1)
        units = (Unit.COUNTS, Unit.COUNTS, Unit.V)
        return [Sent(*sent) for sent in zip(("a0", "a1", "supply"), values, units, strict=True)]

    def feed_garbage(self) -> None:
        self.line.write(b"\xff\x00\x9f,,,\r\n\x1b[2J\r\nx,y,z\r\n" + b"U" * 2000 + b"\r\n")

    def lose(self) -> None:
        self.line.unplug()

    def restore(self) -> None:
        self.line.replug()


class TestSerialLines(ConnectedSourceSuite):
    kind = KIND
    options: ClassVar = {"port": "/dev/serial/by-id/not-there", "fields": ["a0"]}

    @pytest.fixture
    def rig(self) -> Iterator[Device]:
        device = Device()
        yield device
        device.line.close()


class ScriptedPort:
    """Hands out what the script says, then says stop."""

    def __init__(self, script: Sequence[bytes | Exception], stop: threading.Event) -> None:
        self._script = list(script)
        self._stop = stop
        self.closed = False

    def read(self, wait_s: float) -> bytes:
        del wait_s
        if not self._script:
            self._stop.set()
            return b""
        step = self._script.pop(0)
        if isinstance(step, Exception):
            raise step
        return step

    def close(self) -> None:
        self.closed = True


def listen(script: Sequence[bytes | Exception], **given: Any) -> tuple[FakeIntake, ScriptedPort]:
    stop = threading.Event()
    intake, port = FakeIntake(), ScriptedPort(script, stop)
    source = SerialLines(options(**given), Services("bus1", "Quillmere Orchard", FakeClock()), lambda _: port)
    source.run(intake, stop)
    return intake, port


def test_what_was_being_said_while_the_port_opened_is_dropped_in_silence() -> None:
    intake, _ = listen([b"23,4,5\n6,7,8\n"])
    assert [sample.value for sample in intake.samples] == [6, 7, 8]
    assert not intake.rejects


def test_a_line_that_follows_a_quiet_opening_is_read() -> None:
    intake, port = listen([b"", b"1,2,3\n"])
    assert [sample.value for sample in intake.samples] == [1, 2, 3]
    assert port.closed


def test_an_unfinished_line_is_dropped_after_its_time() -> None:
    silence = [b""] * round(2.0 / WAIT_S)
    intake, _ = listen([b"", b"1,2", *silence, b"3,4,5\n6,7,8\n"], partial_line_s=2.0)
    assert [sample.value for sample in intake.samples] == [6, 7, 8]
    assert intake.rejects == {"line was not finished": 1}


def test_an_unfinished_line_waits_through_a_short_silence() -> None:
    silence = [b""] * (round(2.0 / WAIT_S) - 1)
    intake, _ = listen([b"", b"1,2", *silence, b"3,4\n"], partial_line_s=2.0)
    assert [sample.value for sample in intake.samples] == [1, 23, 4]
    assert not intake.rejects


def test_a_flood_is_handed_over_in_batches_of_a_thousand_with_whole_lines() -> None:
    intake, _ = listen([b"", b"1,2,3\n" * 4000])
    assert {len(batch.samples) for batch in intake.batches[:-1]} == {999}
    assert len(intake.samples) == 12_000


def test_rejects_of_one_reason_are_counted_together() -> None:
    intake, _ = listen([b"", b"x,y,z\n" * 50 + b"\xff\n" * 3])
    assert intake.rejects == {"field is not a number": 150, "line is not text": 3}


def test_the_port_is_closed_when_the_line_is_lost() -> None:
    stop = threading.Event()
    port = ScriptedPort([b"", SourceLost("pulled out")], stop)
    source = SerialLines(options(), Services("bus1", "Quillmere Orchard", FakeClock()), lambda _: port)
    with pytest.raises(SourceLost):
        source.run(FakeIntake(), stop)
    assert port.closed


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.EIO, "Input/output error"),
        termios.error(5, "Input/output error"),
        TypeError("argument must be an int, or have a fileno() method"),
        serial.SerialException("device reports readiness to read but returned no data"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_whatever_a_dying_device_raises_means_that_the_line_is_lost(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    with PtyLine() as line:
        port = TtyPort(options(line.path))

        def fail(size: int) -> bytes:
            raise error

        monkeypatch.setattr(port._serial, "read", fail)
        with pytest.raises(SourceLost):
            port.read(0.0)
        port.close()


def test_a_port_that_another_program_holds_is_said() -> None:
    with PtyLine() as line:
        first = TtyPort(options(line.path))
        source = KIND.build(options(line.path), Services("bus1", "Quillmere Orchard", SystemClock()))
        with Running(source, FakeIntake()) as running:
            assert running.ended(within_s=5)
            assert isinstance(running.error, SourceLost)
            assert "another program holds it" in str(running.error)
        first.close()


def test_a_port_that_is_no_serial_port_is_lost_not_fatal() -> None:
    source = KIND.build(options("/dev/null"), Services("bus1", "Quillmere Orchard", SystemClock()))
    with pytest.raises(SourceLost, match="/dev/null"):
        source.run(FakeIntake(), threading.Event())
