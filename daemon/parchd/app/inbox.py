"""The queue in front of the engine: bounded for samples, never closed to control messages."""

import threading
from collections import deque

from parchd.app.messages import Control, Message, Tick
from parchd.clock import Clock
from parchd.contract import SampleBatch

MAX_WAITING_SAMPLES = 20_000
MAX_GROUP_SAMPLES = 5_000


class Inbox:
    """Messages in the order they came.

    Samples are grouped: the engine gets them when one batch is urgent, when enough have gathered, or when the first
    has waited ``group_s``. A full inbox holds its senders up (back-pressure); nothing is dropped.
    """

    def __init__(self, group_s: float, clock: Clock) -> None:
        self.group_s = group_s
        self._clock = clock
        self._condition = threading.Condition()
        self._batches: deque[SampleBatch] = deque()
        self._control: deque[Control] = deque()
        self._samples = 0
        self._urgent = False
        self._first_s = 0.0

    def put(self, batch: SampleBatch, timeout_s: float) -> bool:
        """Queue a batch; false when there was no room within ``timeout_s``."""
        with self._condition:
            if not self._condition.wait_for(lambda: self._samples < MAX_WAITING_SAMPLES, timeout_s):
                return False
            if not self._batches:
                self._first_s = self._clock.monotonic_s()
            self._batches.append(batch)
            self._samples += len(batch.samples)
            self._urgent = self._urgent or batch.urgent
            if self._urgent or len(self._batches) == 1 or self._samples >= MAX_GROUP_SAMPLES:
                self._condition.notify_all()
            return True

    def tell(self, message: Control) -> None:
        """Queue a control message; at once. An engine that is behind is told once only that time has passed."""
        with self._condition:
            if isinstance(message, Tick) and message in self._control:
                return
            self._control.append(message)
            self._condition.notify_all()

    def take(self, timeout_s: float) -> list[Message]:
        """Wait for messages, at most ``timeout_s``, and take a group: control first, then whole batches."""
        deadline_s = self._clock.monotonic_s() + timeout_s
        with self._condition:
            while not self._ready():
                pause_s = min(deadline_s, self._due_s()) - self._clock.monotonic_s()
                if pause_s <= 0:
                    break
                self._condition.wait(pause_s)
            return self._group()

    @property
    def is_empty(self) -> bool:
        with self._condition:
            return not self._batches and not self._control

    def _ready(self) -> bool:
        return bool(self._control) or self._urgent or self._samples >= MAX_GROUP_SAMPLES

    def _due_s(self) -> float:
        return self._first_s + self.group_s if self._batches else float("inf")

    def _group(self) -> list[Message]:
        taken: list[Message] = list(self._control)
        self._control.clear()
        due = self._urgent or self._samples >= MAX_GROUP_SAMPLES or self._clock.monotonic_s() >= self._due_s()
        count = 0
        while due and self._batches and count < MAX_GROUP_SAMPLES:
            batch = self._batches.popleft()
            count += len(batch.samples)
            taken.append(batch)
        self._samples -= count
        if not self._batches:
            self._urgent = False
        self._condition.notify_all()
        return taken
