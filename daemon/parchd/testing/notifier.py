"""A notifier that keeps what it is given."""

import threading
from collections import deque
from collections.abc import Callable

from parchd.contract import Notice, ParchdError


class FakeNotifier:
    """Delivers into memory; `script` makes the next attempts fail.

    >>> notifier = FakeNotifier("anne")
    >>> notifier.recipients
    ('anne',)
    """

    def __init__(self, *recipients: str) -> None:
        self.attempts: list[tuple[str, str]] = []
        """Notice id and recipient of every attempt."""
        self.delivered: list[tuple[Notice, str]] = []
        self.away: ParchdError | None = None
        """Raised by every attempt while it is set."""
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
            if error is None:
                self.delivered.append((notice, recipient))
            self._changed.notify_all()
        if error is not None:
            raise error

    def wait_for(self, condition: Callable[["FakeNotifier"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._changed:
            return self._changed.wait_for(lambda: condition(self), timeout_s)
