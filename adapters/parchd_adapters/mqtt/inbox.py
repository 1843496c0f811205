"""What has arrived and what may be acknowledged. No input and output here."""

from collections import deque
from collections.abc import Callable, Sequence

from parchd.contract import Sample, SampleBatch

BATCH_SAMPLES = 500
"""A batch is closed at this size, though a message with many values may exceed it."""
MOST_HELD = 5000
"""Messages kept while the daemon is behind; then nothing more is read. A broker's in-flight window is smaller."""
_EXAMPLE_BYTES = 120


class Receipt:
    """The messages of one batch: acknowledged together once it is committed.

    ``commit`` is called by the engine's thread; all else belongs to the source's.
    """

    __slots__ = ("_wake", "committed", "messages", "mids")

    def __init__(self, mids: list[int], messages: int, wake: Callable[[], None]) -> None:
        self.mids = mids
        self.messages = messages
        self.committed = False
        self._wake = wake

    def commit(self) -> None:
        self.committed = True
        self._wake()


class Inbox:
    """Gathers messages into batches and gives their ids back, in the order of arrival, when they are committed.

    One inbox lives as long as one connection. Ids of messages mean nothing on the next one: a batch that is
    committed later tells an inbox nobody asks any more.
    """

    def __init__(self, source: str, wake: Callable[[], None]) -> None:
        self._source = source
        self._wake = wake
        self._samples: list[Sample] = []
        self._mids: list[int] = []
        self._messages = 0
        self._hurry = False
        self._ready: deque[tuple[Receipt, tuple[Sample, ...] | None]] = deque()
        self._handed: deque[Receipt] = deque()
        self._rejects: dict[str, tuple[int, str]] = {}
        self.held = 0
        self.unacknowledged = 0

    def add(self, samples: Sequence[Sample], mid: int | None) -> None:
        """Take a message in; ``mid``: what to acknowledge it with, ``None`` for QoS 0."""
        self._samples += samples
        self._messages += 1
        self.held += 1
        if mid is None:
            self._hurry = True
        else:
            self._mids.append(mid)
            self.unacknowledged += 1
        if self._messages >= BATCH_SAMPLES or len(self._samples) >= BATCH_SAMPLES:
            self.close()

    def hold(self, mid: int | None) -> Receipt:
        """Take in a message that makes no samples; whoever gets its receipt commits it."""
        self.close()
        receipt = Receipt([] if mid is None else [mid], 1, self._wake)
        self._ready.append((receipt, None))
        self.held += 1
        self.unacknowledged += len(receipt.mids)
        return receipt

    def reject(self, reason: str, topic: str, payload: bytes | bytearray) -> None:
        """Count a message, or a part of one, that made no sample."""
        count, example = self._rejects.get(reason, (0, ""))
        self._rejects[reason] = (count + 1, example or f"{topic[:_EXAMPLE_BYTES]} {bytes(payload[:_EXAMPLE_BYTES])!r}")

    @property
    def has_gathered(self) -> bool:
        """Whether there is something to hand over."""
        return bool(self._messages or self._ready)

    @property
    def may_wait(self) -> bool:
        """Whether the broker keeps all that is not handed over yet, and there is not much of it."""
        return not (self._hurry or self._ready)

    @property
    def is_full(self) -> bool:
        return self.held >= MOST_HELD

    @property
    def awaits_commit(self) -> bool:
        """Whether something was handed over that is not acknowledged yet."""
        return bool(self._handed)

    def close(self) -> None:
        """Close the batch that is being gathered."""
        if self._messages:
            self._ready.append((Receipt(self._mids, self._messages, self._wake), tuple(self._samples)))
            self._samples, self._mids, self._messages, self._hurry = [], [], 0, False

    def hand_over(self, offer: Callable[[SampleBatch], bool], *, urgent: bool) -> bool:
        """Offer the closed batches in order; false when one was not taken: it stays, as do those behind it."""
        while self._ready:
            receipt, samples = self._ready[0]
            if samples is None:
                pass
            elif not samples:
                receipt.committed = True
            elif not offer(SampleBatch(self._source, samples, receipt.commit, urgent)):
                return False
            self._ready.popleft()
            self._handed.append(receipt)
        return True

    def acknowledgeable(self) -> list[int]:
        """Take the ids of committed messages up to the first that is not."""
        mids: list[int] = []
        while self._handed and self._handed[0].committed:
            receipt = self._handed.popleft()
            mids += receipt.mids
            self.held -= receipt.messages
        self.unacknowledged -= len(mids)
        return mids

    def take_rejects(self) -> list[tuple[str, int, str]]:
        """Take what was counted since the last call: reason, count and one example."""
        taken = [(reason, count, example) for reason, (count, example) in self._rejects.items()]
        self._rejects.clear()
        return taken
