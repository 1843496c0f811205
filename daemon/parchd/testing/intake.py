"""An intake that keeps what it is given."""

import threading
from collections import Counter
from collections.abc import Callable

from parchd.contract import Sample, SampleBatch, Stopping


class FakeIntake:
    """Keeps batches in memory and commits them at once, or when told if ``hold`` is set."""

    def __init__(self, *, hold: bool = False, stop: threading.Event | None = None) -> None:
        self.batches: list[SampleBatch] = []
        self.rejects: Counter[str] = Counter()
        self.details: list[str] = []
        self.beats = 0
        self._hold = hold
        self._stop = stop
        self._lock = threading.Condition(threading.RLock())
        self._waiting: list[Callable[[], None]] = []

    @property
    def samples(self) -> list[Sample]:
        with self._lock:
            return [sample for batch in self.batches for sample in batch.samples]

    def put(self, batch: SampleBatch) -> None:
        if self._stop is not None and self._stop.is_set():
            raise Stopping("stop is set")
        with self._lock:
            self.batches.append(batch)
            if batch.on_committed is not None:
                self._waiting.append(batch.on_committed)
            self._lock.notify_all()
        if not self._hold:
            self.commit()

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        del timeout_s
        self.put(batch)
        return True

    def commit(self) -> None:
        """Commit all that waits."""
        with self._lock:
            waiting, self._waiting = self._waiting, []
        for committed in waiting:
            committed()

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        del example
        with self._lock:
            self.rejects[reason] += count
            self._lock.notify_all()

    def connected(self, detail: str) -> None:
        with self._lock:
            self.details.append(detail)
            self._lock.notify_all()

    def beat(self) -> None:
        with self._lock:
            self.beats += 1
            self._lock.notify_all()

    def wait_for(self, condition: Callable[["FakeIntake"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._lock:
            return self._lock.wait_for(lambda: condition(self), timeout_s)
