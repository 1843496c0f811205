"""A sink that keeps what it is given."""

import threading
from collections import deque
from collections.abc import Callable, Sequence

from parchd.contract import Rejection, SinkUnavailable, StoredReading

Judge = Callable[[StoredReading], str | None]
"""Says why a row is refused; ``None``: it is good."""


class FakeSink:
    """Keeps rows in memory by (channel, time); fails and refuses as it is told.

    Args:
        batch_rows: how many rows it likes at once.
        judge: finds rows to refuse; none by default.
    """

    def __init__(self, batch_rows: int = 1000, judge: Judge = lambda _row: None) -> None:
        self.batch_rows = batch_rows
        self.judge = judge
        self.away: SinkUnavailable | None = None
        """While set, every write raises it."""
        self.rows: dict[tuple[str, int], StoredReading] = {}
        self.writes: list[tuple[int, ...]] = []
        """The ``seq`` of the rows of each write that was answered, in order."""
        self.failures = 0
        self.closed = False
        self._failures: deque[tuple[Exception, bool]] = deque()
        self._lock = threading.Condition(threading.RLock())

    def fail(self, *errors: Exception, after_storing: bool = False) -> None:
        """Make the next writes raise these; ``after_storing``: as if only the answer were lost."""
        with self._lock:
            self._failures.extend((error, after_storing) for error in errors)

    def write(self, rows: Sequence[StoredReading]) -> Sequence[Rejection]:
        with self._lock:
            assert not self.closed, "write after close"
            error, after_storing = self._next_failure()
            if error is not None and not after_storing:
                raise error
            rejections = self._store(rows)
            if error is not None:
                raise error
            self.writes.append(tuple(row.seq for row in rows))
            self._lock.notify_all()
            return rejections

    def close(self) -> None:
        with self._lock:
            self.closed = True
            self._lock.notify_all()

    def wait_for(self, condition: Callable[["FakeSink"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._lock:
            return self._lock.wait_for(lambda: condition(self), timeout_s)

    def _next_failure(self) -> tuple[Exception | None, bool]:
        failure = self._failures.popleft() if self._failures else (self.away, False)
        if failure[0] is not None:
            self.failures += 1
            self._lock.notify_all()
        return failure

    def _store(self, rows: Sequence[StoredReading]) -> list[Rejection]:
        judged = [(row, self.judge(row)) for row in rows]
        self.rows.update({(row.channel, row.time_us): row for row, reason in judged if reason is None})
        return [Rejection(row.seq, reason) for row, reason in judged if reason is not None]
