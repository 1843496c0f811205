"""The engine's thread: takes messages, turns the crank, holds on when the disk fails."""

import logging
import sqlite3
import threading

from parchd.app.engine import Engine
from parchd.app.inbox import Inbox
from parchd.app.messages import Message
from parchd.clock import Clock

logger = logging.getLogger(__name__)

IDLE_S = 1.0
LONGEST_PAUSE_S = 30.0

_HELD = "the journal cannot be written (%s); nothing is acknowledged, trying again in %.0f s"


class EngineLoop:
    """Runs the engine in a thread of its own until `finish`, which works off what is queued."""

    def __init__(self, engine: Engine, inbox: Inbox, clock: Clock) -> None:
        self._engine = engine
        self._inbox = inbox
        self._clock = clock
        self._finish = threading.Event()
        self._wakers: list[threading.Event] = []
        self._thread = threading.Thread(target=self._run, name="engine")
        self._alive_s = clock.monotonic_s()
        self.dropped = 0

    def start(self) -> None:
        self._thread.start()

    def wake_after_commit(self, event: threading.Event) -> None:
        """Set ``event`` after every commit."""
        self._wakers = [*self._wakers, event]

    def forget(self, event: threading.Event) -> None:
        self._wakers = [waker for waker in self._wakers if waker is not event]

    def finish(self, timeout_s: float) -> bool:
        """Work off what is queued and end; false when that takes too long."""
        self._finish.set()
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    @property
    def silent_s(self) -> float:
        """Seconds since the loop last came round; what the watchdog looks at."""
        return self._clock.monotonic_s() - self._alive_s

    def _run(self) -> None:
        while not (self._finish.is_set() and self._inbox.is_empty):
            self._alive_s = self._clock.monotonic_s()
            messages = self._inbox.take(0.05 if self._finish.is_set() else IDLE_S)
            if messages:
                self._turn_until_done(messages)
                for waker in self._wakers:
                    waker.set()

    def _turn_until_done(self, messages: list[Message]) -> None:
        """Offer the group until it is on disk. A disk that fails is waited for: the group stays in memory."""
        pause_s = 1.0
        while True:
            try:
                self._engine.turn(messages, self._clock.now_us())
            except sqlite3.Error as error:
                self._alive_s = self._clock.monotonic_s()
                logger.warning(_HELD, error, pause_s, extra={"event": "store.failed"})
                if self._finish.wait(pause_s):
                    return
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            except Exception:
                self._one_by_one(messages)
                return
            else:
                return

    def _one_by_one(self, messages: list[Message]) -> None:
        """Find the message that breaks the engine, drop it alone, and say so."""
        for message in messages:
            try:
                self._engine.turn([message], self._clock.now_us())
            except sqlite3.Error:
                self._turn_until_done([message])
            except Exception:
                self.dropped += 1
                logger.exception(
                    "a %s broke the engine and was dropped", type(message).__name__, extra={"event": "engine.dropped"}
                )
