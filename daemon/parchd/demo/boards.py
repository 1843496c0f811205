"""Simulated boards: the source ``sim`` read by this small daemon of one page, its samples put on a wire.

Each board is an adapter used the way the daemon uses one: found by its entry point, built from options, run in a
thread with an `Intake`. Only here the intake is a wire that leads to the daemon.
"""

import logging
import threading
from collections.abc import Iterable, Mapping
from typing import Protocol

from parchd.clock import Clock, to_datetime
from parchd.config.registry import listing, load_kind
from parchd.contract import Sample, SampleBatch, Services, Source, Stopping
from parchd.demo.configuration import SUPPLY
from parchd.demo.farm import NORTH, SITE
from parchd.demo.script import minutes_since_start
from parchd.demo.simulation import Board, boards
from parchd.testing.line import PtyLine
from parchd.testing.publisher import Publisher

logger = logging.getLogger(__name__)


class Wire(Protocol):
    """Carries the samples of one moment from a board."""

    def send(self, samples: Iterable[Sample]) -> None: ...
    def close(self) -> None: ...


class LineWire:
    """Prints a line of comma-separated fields; a sensor that is not heard leaves its field empty."""

    def __init__(self, line: PtyLine, fields: tuple[str, ...]) -> None:
        self._line = line
        self._fields = fields

    def send(self, samples: Iterable[Sample]) -> None:
        self._line.write(as_line(samples, self._fields), timeout_s=0.5)

    def close(self) -> None:
        """Leave the line to its owner."""


class MqttWire:
    """Publishes each sample as a JSON document with its time; connects again when the broker went away."""

    def __init__(self, host: str, port: int, zone: str) -> None:
        self._address = (host, port)
        self._zone = zone
        self._publisher: Publisher | None = None

    def send(self, samples: Iterable[Sample]) -> None:
        messages = [(f"quillmere/{self._zone}/{sample.channel}", as_json(sample)) for sample in samples]
        try:
            self._publisher = self._publisher or Publisher(*self._address)
            self._publisher.publish(messages)
        except OSError as error:
            logger.warning("board of %s: %s", self._zone, error, extra={"event": "demo.unpublished"})
            self.close()

    def close(self) -> None:
        publisher, self._publisher = self._publisher, None
        if publisher is not None:
            publisher.__exit__(None, None, None)


class BoardThread:
    """Runs one board; it is the `Intake` of its source as well."""

    def __init__(self, board: Board, source: Source, wire: Wire) -> None:
        self._name = board.name
        self._source = source
        self._wire = wire
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"board {board.name}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()

    def join(self, timeout_s: float) -> None:
        self._thread.join(timeout_s)

    def put(self, batch: SampleBatch) -> None:
        if self._stop.is_set():
            raise Stopping(f"board {self._name} is switched off")
        self._wire.send(batch.samples)
        if batch.on_committed is not None:
            batch.on_committed()

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        del timeout_s
        self.put(batch)
        return True

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        del example
        logger.warning("board %s: %d times %s", self._name, count, reason, extra={"event": "demo.rejected"})

    def connected(self, detail: str) -> None:
        logger.info("board %s reads %s", self._name, detail, extra={"event": "demo.board"})

    def beat(self) -> None:
        """Nobody watches a board."""

    def _run(self) -> None:
        try:
            self._source.run(self, self._stop)
        except Stopping:
            return
        except Exception:
            logger.exception("board %s broke", self._name, extra={"event": "demo.board-broke"})
        finally:
            self._wire.close()


class Boards:
    """All boards of the farm, switched on and off together."""

    def __init__(self, line: PtyLine, broker: tuple[str, int], clock: Clock) -> None:
        kind = load_kind(listing("sources"), "sim")
        self._threads = []
        for board in boards(minutes_since_start(clock.now_us())):
            options = kind.options.model_validate(board.options)
            source = kind.build(options, Services(board.name, SITE, clock))
            self._threads.append(BoardThread(board, source, _wire(board, line, broker)))

    def __enter__(self) -> "Boards":
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        for thread in self._threads:
            thread.stop()
        for thread in self._threads:
            thread.join(1.0)


def as_line(samples: Iterable[Sample], fields: tuple[str, ...]) -> bytes:
    """Write a line as the board of the north block prints it.

    >>> from parchd.contract import Unit
    >>> samples = [Sample("a", 0, 1206.0, Unit.COUNTS), Sample("supply", 0, 5.0019, Unit.V)]
    >>> as_line(samples, ("a", "b", "supply"))
    b'1206,,5.002\\r\\n'
    """
    found: Mapping[str, float | None] = {sample.channel: sample.value for sample in samples}
    return (",".join(_number(found.get(field)) for field in fields) + "\r\n").encode()


def as_json(sample: Sample) -> bytes:
    """Write a document as the boards that speak MQTT publish it.

    >>> from parchd.contract import Unit
    >>> as_json(Sample("shed-30", 1_778_560_860_000_000, 1.09479, Unit.V))
    b'{"time": "2026-05-12T04:41:00Z", "volts": 1.0948}'
    """
    time = to_datetime(sample.time_us).isoformat(timespec="seconds").replace("+00:00", "Z")
    return b'{"time": "%b", "volts": %b}' % (time.encode(), b"null" if sample.value is None else b"%.4f" % sample.value)


def _wire(board: Board, line: PtyLine, broker: tuple[str, int]) -> Wire:
    if board.zone is NORTH:
        return LineWire(line, (*board.channels, SUPPLY))
    return MqttWire(*broker, board.zone.key)


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.7g}" if value == int(value) else f"{value:.3f}"
