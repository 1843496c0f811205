"""Keeping sources alive, each in a thread of its own."""

import logging
import random
import threading
from collections import Counter

from parchd.app.inbox import Inbox
from parchd.app.messages import SourceHealth
from parchd.clock import Clock
from parchd.contract import SampleBatch, Source, SourceLost, Stopping

logger = logging.getLogger(__name__)

SHORTEST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 60.0
SUMMARY_S = 60.0
STEADY_S = 60.0
"""A connection that has lasted so long is one; a broker that lets in and throws out is away."""


class SourceRunner:
    """Runs one source again and again, with growing pauses and jitter between, until stopped.

    It is the source's `Intake` as well: the way of its batches into the inbox, its counters and its pulse.
    """

    def __init__(self, name: str, source: Source, inbox: Inbox, clock: Clock) -> None:
        self.name = name
        self.rejects: Counter[str] = Counter()
        """Input that made no sample, by reason, since the start."""
        self._source = source
        self._inbox = inbox
        self._clock = clock
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"source {name}", daemon=True)
        self._pause_s = SHORTEST_PAUSE_S
        self._beat_s = clock.monotonic_s()
        self._summed_s = float("-inf")
        self._unsaid: Counter[str] = Counter()
        self._example: bytes | str = b""
        self.ended = False
        self._trouble: str | None = None
        """What the engine was told last; ``None``: nothing yet, and it may know of a trouble from before the start."""
        self._connected_s: float | None = None

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Ask the source to leave; `join` waits for it."""
        self._stop.set()

    def join(self, timeout_s: float) -> bool:
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    @property
    def silent_s(self) -> float:
        """Seconds since the source last showed that it lives; 0 while it waits to be started again or has ended."""
        return 0.0 if self.ended or self._waiting else self._clock.monotonic_s() - self._beat_s

    def put(self, batch: SampleBatch) -> None:
        while not self.offer(batch, 1.0):
            self.beat()

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        if self._stop.is_set():
            raise Stopping(f"source {self.name} is being stopped")
        self.beat()
        if not self._inbox.put(batch, timeout_s):
            return False
        self._tell("")
        return True

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        self.rejects[reason] += count
        self._unsaid[reason] += count
        self._example = example
        self._say_rejects_when_due()

    def connected(self, detail: str) -> None:
        self._pause_s = SHORTEST_PAUSE_S
        self._connected_s = self._clock.monotonic_s()
        self.beat()
        logger.info("source %s: connected to %s", self.name, detail, extra={"event": "source.connected"})

    def beat(self) -> None:
        self._beat_s = self._clock.monotonic_s()
        if self._trouble != "" and self._is_steady:
            self._tell("")
        if self._unsaid:
            self._say_rejects_when_due()

    @property
    def _is_steady(self) -> bool:
        return self._connected_s is not None and self._beat_s - self._connected_s >= STEADY_S

    def _tell(self, trouble: str) -> None:
        """Let the engine know what has changed."""
        if trouble != self._trouble:
            self._trouble = trouble
            self._inbox.tell(SourceHealth(self.name, trouble))

    def _say_rejects_when_due(self) -> None:
        """Say the first at once, and all others once a minute."""
        if self._clock.monotonic_s() - self._summed_s >= SUMMARY_S:
            self._say_rejects()

    def _say_rejects(self) -> None:
        if not self._unsaid:
            return
        reasons = ", ".join(f"{reason} ({count})" for reason, count in self._unsaid.most_common())
        logger.warning(
            "source %s: %d inputs made no sample: %s; the last: %.80r",
            self.name, self._unsaid.total(), reasons, self._example, extra={"event": "source.rejected"},
        )  # fmt: skip
        self._summed_s = self._clock.monotonic_s()
        self._unsaid.clear()

    _waiting = False

    def _run(self) -> None:
        while not self._stop.is_set():
            self.beat()
            if self._run_once():
                self.ended = True
                break
            pause_s = self._pause_s * random.uniform(0.5, 1.0)  # noqa: S311 -- jitter, not a secret
            self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S)
            self._waiting = True
            self._stop.wait(pause_s)
            self._waiting = False
        self._say_rejects()

    def _run_once(self) -> bool:
        """Run the source; true when it is through."""
        self._connected_s = None
        try:
            self._source.run(self, self._stop)
        except Stopping:
            return True
        except SourceLost as error:
            logger.warning("source %s: %s; trying again", self.name, error, extra={"event": "source.lost"})
            self._tell(str(error) or "the connection is gone")
        except Exception as error:
            logger.exception("source %s failed; trying again", self.name, extra={"event": "source.failed"})
            self._tell(f"{type(error).__name__}: {error}")
        else:
            if not self._stop.is_set():
                logger.info("source %s: all is read", self.name, extra={"event": "source.ended"})
            return True
        return self._stop.is_set()
