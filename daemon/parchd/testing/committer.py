"""An intake with something like an engine behind it."""

import threading
import time
from collections import Counter
from collections.abc import Callable
from typing import Self

from parchd.contract import Sample, SampleBatch

_ROOM = 8


class Committer:
    """Takes batches into a short queue and commits them in a thread of its own, several at once.

    ``FakeIntake`` is simpler; this one is for what two threads and a full queue do to a source.

    Args:
        pause_s: how long a commit takes.
    """

    def __init__(self, pause_s: float = 0.0) -> None:
        self.samples: list[Sample] = []
        """What is committed."""
        self.rejects: Counter[str] = Counter()
        self.reports = 0
        """How often `rejected` was called."""
        self.urgent = 0
        self.detail = ""
        self._pause_s = pause_s
        self._queue: list[SampleBatch] = []
        self._changed = threading.Condition()
        self._ends = False
        self._thread = threading.Thread(target=self._work, name="committer")

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        with self._changed:
            self._ends = True
            self._changed.notify_all()
        self._thread.join()

    @property
    def values(self) -> list[float | None]:
        return [sample.value for sample in self.samples]

    def put(self, batch: SampleBatch) -> None:
        while not self.offer(batch, 1.0):
            pass

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        with self._changed:
            if not self._changed.wait_for(lambda: len(self._queue) < _ROOM, timeout_s):
                return False
            self._queue.append(batch)
            self.urgent += batch.urgent
            self._changed.notify_all()
            return True

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        del example
        with self._changed:
            self.rejects[reason] += count
            self.reports += 1
            self._changed.notify_all()

    def connected(self, detail: str) -> None:
        with self._changed:
            self.detail = detail
            self._changed.notify_all()

    def beat(self) -> None:
        pass

    def wait_for(self, condition: Callable[["Committer"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._changed:
            return self._changed.wait_for(lambda: condition(self), timeout_s)

    def _work(self) -> None:
        while batches := self._take():
            time.sleep(self._pause_s)
            with self._changed:
                self.samples += [sample for batch in batches for sample in batch.samples]
                self._changed.notify_all()
            for batch in batches:
                if batch.on_committed is not None:
                    batch.on_committed()

    def _take(self) -> list[SampleBatch]:
        with self._changed:
            self._changed.wait_for(lambda: bool(self._queue) or self._ends)
            batches, self._queue = self._queue, []
            self._changed.notify_all()
            return batches
