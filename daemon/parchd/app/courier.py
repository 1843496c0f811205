"""Carrying messages from the outbox to one notifier."""

import logging
import sqlite3
import threading
from pathlib import Path

from parchd.app.inbox import Inbox
from parchd.app.messages import Delivery, Outcome
from parchd.clock import Clock
from parchd.contract import DeliveryRefused, DeliveryRetry, Notifier, RecipientGone, StoreError
from parchd.store.database import open_reader
from parchd.store.outbox import Letter, next_letter

logger = logging.getLogger(__name__)

IDLE_S = 1.0
CRASHES = 10  # a message that breaks its notifier so often does not hold up the others any longer
UNREADABLE_PAUSE_S = 10.0


class Courier:
    """Sends what is due, one message at a time, and tells the engine what became of it.

    It waits for the outcome to be on disk before it takes the next: between the two lies the only moment in which a
    message can be sent twice (a crash), and then it carries the same id.
    """

    def __init__(self, name: str, notifier: Notifier, inbox: Inbox, clock: Clock, database: Path) -> None:
        self.name = name
        self.wake = threading.Event()
        self._notifier = notifier
        self._inbox = inbox
        self._clock = clock
        self._database = database
        self._stop = threading.Event()
        self._recorded = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"courier {name}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._stop.set()
        self.wake.set()
        self._recorded.set()

    def join(self, timeout_s: float) -> bool:
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        """Carry until stopped; a journal that cannot be read now is opened again."""
        while not self._stop.is_set():
            try:
                self._carry_all()
            except (sqlite3.Error, StoreError) as error:
                logger.warning("notifier %s: %s; trying again", self.name, error, extra={"event": "store.unreadable"})
                self._stop.wait(UNREADABLE_PAUSE_S)

    def _carry_all(self) -> None:
        connection = open_reader(self._database)
        try:
            while not self._stop.is_set():
                self.wake.clear()
                letter = next_letter(connection, self.name, self._clock.now_us())
                if letter is None:
                    self.wake.wait(IDLE_S)
                else:
                    self._carry(letter)
        finally:
            connection.close()

    def _carry(self, letter: Letter) -> None:
        outcome, trouble, retry_after_s = self._attempt(letter)
        self._recorded.clear()
        self._inbox.tell(
            Delivery(
                self.name, letter.row_id, letter.attempts, outcome, trouble, retry_after_s, self._recorded.set
            )
        )  # fmt: skip
        while not self._recorded.wait(IDLE_S) and not self._stop.is_set():
            pass

    def _attempt(self, letter: Letter) -> tuple[Outcome, str, float | None]:
        try:
            self._notifier.send(letter.notice, letter.recipient)
        except DeliveryRetry as error:
            self._say(letter, error, "message.retry")
            return Outcome.RETRY, str(error), error.retry_after_s
        except DeliveryRefused as error:
            self._say(letter, error, "message.refused")
            return Outcome.REFUSED, str(error), None
        except RecipientGone as error:
            self._say(letter, error, "message.gone")
            return Outcome.GONE, str(error), None
        except Exception as error:
            logger.exception("notifier %s failed", self.name, extra={"event": "message.failed"})
            given_up = letter.attempts + 1 >= CRASHES
            return Outcome.REFUSED if given_up else Outcome.RETRY, f"{type(error).__name__}: {error}", None
        logger.info(
            "notifier %s: told %s: %s",
            self.name,
            letter.recipient,
            letter.notice.subject,
            extra={"event": "message.sent"},
        )
        return Outcome.SENT, "", None

    def _say(self, letter: Letter, error: Exception, event: str) -> None:
        logger.warning(
            "notifier %s: attempt %d for %s: %s", self.name, letter.attempts + 1, letter.recipient, error,
            extra={"event": event},
        )  # fmt: skip
