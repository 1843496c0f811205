"""The engine's thread: takes messages, turns the crank, holds on when the disk fails."""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial

from parchd.app.engine import Engine
from parchd.app.inbox import Inbox
from parchd.app.messages import Ask, DiskSpace, Message, Tick
from parchd.app.requests import Answer
from parchd.clock import Clock
from parchd.contract import SampleBatch, Verdict

logger = logging.getLogger(__name__)

IDLE_S = 1.0
LONGEST_PAUSE_S = 30.0

COMPLAIN_S = 60.0

MakeRoom = Callable[[sqlite3.Error], DiskSpace | None]
"""Makes room on a full disk; ``None``: it cannot, or the disk is not full."""

_OF_THE_MESSAGE = (sqlite3.IntegrityError, sqlite3.DataError, sqlite3.InterfaceError, sqlite3.ProgrammingError)
_HELD = "the journal cannot be written (%s); nothing is acknowledged, trying again in %.0f s"


class EngineLoop:
    """Runs the engine in a thread of its own until `finish`, which works off what is queued."""

    def __init__(self, engine: Engine, inbox: Inbox, clock: Clock, make_room: MakeRoom = lambda _error: None) -> None:
        self._engine = engine
        self._inbox = inbox
        self._clock = clock
        self._make_room = make_room
        self._finish = threading.Event()
        self._wakers: list[threading.Event] = []
        self._thread = threading.Thread(target=self._run, name="engine")
        self._alive_s = clock.monotonic_s()
        engine.pulse = self._show_life
        self._given_up = False
        self._complained_s = float("-inf")
        self.dropped = 0
        self.kept_raw = 0

    def start(self) -> None:
        self._thread.start()

    def wake_after_commit(self, event: threading.Event) -> None:
        """Set ``event`` after every commit."""
        self._wakers = [*self._wakers, event]

    def forget(self, event: threading.Event) -> None:
        self._wakers = [waker for waker in self._wakers if waker is not event]

    def finish(self, timeout_s: float) -> bool:
        """Work off what is queued and end; false when that takes too long, or something could not be written."""
        self._finish.set()
        self._inbox.tell(Tick())  # else it may wait for messages first
        self._thread.join(timeout_s)
        return not self._thread.is_alive() and not self._given_up

    def _show_life(self) -> None:
        self._alive_s = self._clock.monotonic_s()

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

    def _turn_until_done(self, messages: Sequence[Message]) -> None:
        """Offer the group until it is on disk."""
        try:
            self._until_written(lambda: self._engine.turn(messages, self._clock.now_us()))
        except Exception:
            self._one_by_one(messages)

    def _until_written(self, write: Callable[[], None]) -> None:
        """Try until the disk takes it: it stays in memory meanwhile. Errors of another kind are let through."""
        pause_s = 1.0
        while True:
            try:
                write()
            except sqlite3.Error as error:
                if not _is_of_the_disk(error):
                    raise
                self._alive_s = self._clock.monotonic_s()
                if self._tells_of_full_disk(error):
                    continue
                logger.warning(_HELD, error, pause_s, extra={"event": "store.failed"})
                if self._finish.wait(pause_s):
                    self._given_up = True
                    return
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            else:
                return

    def _tells_of_full_disk(self, error: sqlite3.Error) -> bool:
        """Have the alarm about a full disk written first, in the room that is made for it; false: there is none."""
        space = self._make_room(error)
        if space is None:
            return False
        try:
            self._engine.turn([space], self._clock.now_us())
        except sqlite3.Error as again:
            logger.warning("the reserve was not enough: %s", again, extra={"event": "store.failed"})
        return True

    def _one_by_one(self, messages: Iterable[Message]) -> None:
        """Find what breaks the engine, give it up alone, and say so."""
        for message in messages:
            try:
                self._until_written(partial(self._turn_alone, message))
            except Exception as error:
                if isinstance(message, SampleBatch) and len(message.samples) > 1:
                    self._sample_by_sample(message)
                else:
                    self._drop(message, error)

    def _turn_alone(self, message: Message) -> None:
        self._engine.turn([message], self._clock.now_us())

    def _sample_by_sample(self, batch: SampleBatch) -> None:
        self._one_by_one(replace(batch, samples=(sample,), on_committed=None) for sample in batch.samples)
        if not self._given_up:
            _release(batch)

    def _drop(self, message: Message, error: Exception) -> None:
        """Give up what breaks the engine; of samples at least what came off the wire is kept."""
        kept = isinstance(message, SampleBatch) and self._keep_raw(message)
        self.kept_raw += kept
        self.dropped += not kept
        self._complain(message, error, "kept as it came" if kept else "dropped")
        if not self._given_up:
            _release(message)

    def _keep_raw(self, batch: SampleBatch) -> bool:
        """Store a batch without working it out; false when that is impossible too."""
        try:
            self._until_written(lambda: self._engine.keep_raw(batch, self._clock.now_us()))
        except Exception:
            return False
        return True

    def _complain(self, message: Message, error: Exception, fate: str) -> None:
        """Log at most once a minute: what breaks on one sample breaks on the next too."""
        if self._clock.monotonic_s() - self._complained_s >= COMPLAIN_S:
            self._complained_s = self._clock.monotonic_s()
            logger.error(
                "a %s broke the engine and was %s; so far %d were kept as they came and %d dropped",
                type(message).__name__, fate, self.kept_raw, self.dropped, exc_info=error,
                extra={"event": "engine.dropped"},
            )  # fmt: skip


def _is_of_the_disk(error: sqlite3.Error) -> bool:
    """Whether it may go away by itself: the same messages may be written later."""
    return not isinstance(error, _OF_THE_MESSAGE)


def _release(message: Message) -> None:
    """Tell who waits not to: what can be kept of samples is on disk, the rest never will be, and nothing was done."""
    if isinstance(message, Ask):
        message.answer(
            Answer(state="failed", text="the daemon could not do it; its log says why", verdict=Verdict.BUSY)
        )
    elif isinstance(message, SampleBatch) and message.on_committed is not None:
        message.on_committed()
