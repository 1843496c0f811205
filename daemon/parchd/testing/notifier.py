"""A notifier that keeps what it is given."""

import threading
from collections import deque
from collections.abc import Callable
from typing import ClassVar

from parchd.contract import DeliveryRetry, Notice, ParchdError


class FakeNotifier:
    """Delivers into memory; `script` makes the next attempts fail, ``away`` all of them.

    >>> notifier = FakeNotifier("anne")
    >>> notifier.recipients
    ('anne',)
    """

    UNCONFIRMED: ClassVar[ParchdError] = DeliveryRetry("it arrived, but the confirmation was lost")
    """An outcome: the message arrives, and the sender does not learn of it."""

    def __init__(self, *recipients: str) -> None:
        self.attempts: list[tuple[str, str]] = []
        """Notice id and recipient of every attempt."""
        self.arrived: list[tuple[Notice, str]] = []
        """What arrived, confirmed or not."""
        self.delivered: list[tuple[Notice, str]] = []
        """What arrived and was confirmed."""
        self.away: ParchdError | None = None
        self._recipients = recipients or ("fake",)
        self._script: deque[ParchdError | None] = deque()
        self._changed = threading.Condition(threading.RLock())

    @property
    def recipients(self) -> tuple[str, ...]:
        return self._recipients

    def script(self, *outcomes: ParchdError | None) -> None:
        """Append outcomes for the attempts to come; ``None`` is a delivery."""
        with self._changed:
            self._script += outcomes

    def send(self, notice: Notice, recipient: str) -> None:
        with self._changed:
            self.attempts.append((notice.id, recipient))
            error = self.away or (self._script.popleft() if self._script else None)
            if error is None or error is self.UNCONFIRMED:
                self.arrived.append((notice, recipient))
            if error is None:
                self.delivered.append((notice, recipient))
            self._changed.notify_all()
        if error is not None:
            raise error

    def wait_for(self, condition: Callable[["FakeNotifier"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._changed:
            return self._changed.wait_for(lambda: condition(self), timeout_s)
