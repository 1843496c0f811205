"""The source: a file read once, at the pace of its times."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from parchd.contract import Intake, Sample, SampleBatch, Services, SourceLost, StopSignal
from parchd_adapters._shared.batches import LARGEST
from parchd_adapters._shared.pacing import Pacer
from parchd_adapters.replay.options import ReplayOptions
from parchd_adapters.replay.table import BadHeading, Row, read_rows

logger = logging.getLogger(__name__)

BAD_CELL = "cell cannot be used"
TOLD = 10


class Replay:
    """Plays a file from its first row to its last, then ends."""

    def __init__(self, options: ReplayOptions, services: Services) -> None:
        self._options = options
        self._name = services.name
        self._clock = services.clock

    def run(self, intake: Intake, stop: StopSignal) -> None:
        player = _Player(self._options, self._name, intake, Pacer(self._clock, intake, stop))
        with self._rows() as rows:
            start_us = self._clock.now_us()
            intake.connected(str(self._options.path))
            if player.play(rows, start_us):
                logger.info("%s: played %s", self._name, player, extra={"event": "replay.end"})

    @contextmanager
    def _rows(self) -> Iterator[Iterator[Row]]:
        path = self._options.path
        try:
            with path.open(encoding="utf-8-sig", errors="replace", newline="") as lines:
                yield read_rows(lines, self._options)
        except (OSError, BadHeading) as error:
            raise SourceLost(f"{path}: {error}") from error


class _Player:
    def __init__(self, options: ReplayOptions, name: str, intake: Intake, pacer: Pacer) -> None:
        self._options = options
        self._name = name
        self._intake = intake
        self._pacer = pacer
        self._waiting: list[Sample] = []
        self._samples = 0
        self._troubles = 0
        self._shift_us = 0

    def __str__(self) -> str:
        return f"{self._samples} samples; {self._troubles} cells could not be used"

    def play(self, rows: Iterator[Row], start_us: int) -> bool:
        """Hand over each row when it is due; false when the stop came first."""
        first_us: int | None = None
        for row in rows:
            self._tell(row)
            if not row.samples:
                continue
            time_us = row.samples[0].time_us
            first_us = time_us if first_us is None else first_us
            self._shift_us = start_us - first_us if self._options.shift_to_now else 0
            if not self._wait(self._due(start_us - self._pacer.slipped_us, time_us - first_us)):
                return False
            self._take(row)
        self._flush()
        return True

    def _due(self, start_us: int, elapsed_us: int) -> int:
        return start_us + round(elapsed_us / self._options.speed) if self._options.speed else 0

    def _wait(self, due_us: int) -> bool:
        if self._waiting and not self._pacer.is_due(due_us):
            self._flush()
        return self._pacer.wait_until(due_us)

    def _take(self, row: Row) -> None:
        if len(self._waiting) + len(row.samples) > LARGEST:
            self._flush()
        self._waiting += row.samples

    def _flush(self) -> None:
        if not self._waiting:
            return
        batch, self._waiting = self._waiting, []
        if self._shift_us:
            batch = [replace(sample, time_us=sample.time_us + self._shift_us) for sample in batch]
        self._samples += len(batch)
        self._intake.put(SampleBatch(self._name, tuple(batch), replayed=True))

    def _tell(self, row: Row) -> None:
        for trouble in row.troubles:
            self._troubles += 1
            self._intake.rejected(BAD_CELL, str(trouble))
            if self._troubles <= TOLD:
                place = "%s: %s: %s"
                logger.warning(place, self._name, self._options.path, trouble, extra={"event": "replay.bad-cell"})
