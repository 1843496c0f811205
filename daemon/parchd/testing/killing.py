"""A daemon that dies as in a power cut, at one chosen step of a message's way.

As a program: ``python -m parchd.testing.killing STEP NOTIFIER run CONFIG``.
"""

import os
import signal
import smtplib
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from http.client import HTTPConnection
from typing import Any

from parchd.app import courier
from parchd.app.courier import Courier
from parchd.cli.main import main
from parchd.store.journal import Journal
from parchd.store.outbox import Outbox


class Step(StrEnum):
    """Steps of a message, in order; the daemon dies when it gets there."""

    NOT_QUEUED = "not-queued"
    """Its alarm is written down, the message is not; nothing is committed."""
    QUEUED = "queued"
    RELEASED = "released"
    """It may leave; nothing is committed."""
    MADE = "made"
    """All that its turn does is done; nothing is committed."""
    MADE_FOR_GOOD = "made-for-good"
    """It is committed."""
    IN_HAND = "in-hand"
    """A courier has read it."""
    SAID = "said"
    """The receiver has it, and its answer was not read."""
    ANSWERED = "answered"
    """Its answer was read, and the engine knows nothing of it."""
    NOT_RECORDED = "not-recorded"
    """The engine knows."""
    RECORDED = "recorded"
    """It is written down; nothing is committed."""
    RECORDED_FOR_GOOD = "recorded-for-good"
    """That is committed; the courier does not know."""
    KNOWN = "known"
    """The courier knows, and will look for the next."""


class Trap:
    """Waits for one step of a message of one notifier."""

    def __init__(self, step: Step, notifier: str) -> None:
        self._step = step
        self._notifier = notifier
        self._touched: set[Step] = set()

    def reach(self, step: Step, notifier: str) -> None:
        if (step, notifier) == (self._step, self._notifier):
            os.kill(os.getpid(), signal.SIGKILL)
            time.sleep(60.0)  # the signal is on its way

    def set(self) -> None:
        """Put it where the steps are taken, around what the daemon does."""
        around(Outbox, "add", self._queueing)
        around(Outbox, "release", self._releasing)
        around(Outbox, "sent", self._recording)
        around(Courier, "_attempt", self._attempting)
        around(Courier, "_carry", self._carrying)
        around(courier, "next_letter", self._reading)
        around(HTTPConnection, "getresponse", self._asking)
        around(smtplib.SMTP, "send", self._mailing)
        setattr(Journal, "transaction", self._transacting(Journal.transaction))  # noqa: B010 - it takes the place of a method

    def _queueing(self, add: Callable[..., Any], outbox: Outbox, notifier: str, *rest: Any) -> Any:
        self.reach(Step.NOT_QUEUED, notifier)
        add(outbox, notifier, *rest)
        self.reach(Step.QUEUED, notifier)
        self._touched |= {Step.MADE, Step.MADE_FOR_GOOD}

    def _releasing(self, release: Callable[..., Any], outbox: Outbox, row_ids: Any, now_us: int) -> Any:
        rows = list(row_ids)
        release(outbox, rows, now_us)
        for row_id in rows:
            self.reach(Step.RELEASED, _notifier(outbox, row_id))

    def _recording(self, sent: Callable[..., Any], outbox: Outbox, row_id: int, now_us: int) -> Any:
        self.reach(Step.NOT_RECORDED, _notifier(outbox, row_id))
        sent(outbox, row_id, now_us)
        self._touched |= {Step.RECORDED, Step.RECORDED_FOR_GOOD}

    def _transacting(self, transaction: Callable[[Journal], Any]) -> Callable[[Journal], Any]:
        @contextmanager
        def around_it(journal: Journal) -> Iterator[sqlite3.Connection]:
            self._touched.clear()
            with transaction(journal) as connection:
                yield connection
                self._reach_if_touched(Step.MADE, Step.RECORDED)
            self._reach_if_touched(Step.MADE_FOR_GOOD, Step.RECORDED_FOR_GOOD)

        return around_it

    def _reach_if_touched(self, *steps: Step) -> None:
        for step in steps:
            if step in self._touched:
                self.reach(step, self._notifier)

    def _reading(self, next_letter: Callable[..., Any], connection: Any, notifier: str, now_us: int) -> Any:
        letter = next_letter(connection, notifier, now_us)
        if letter is not None:
            self.reach(Step.IN_HAND, notifier)
        return letter

    def _attempting(self, attempt: Callable[..., Any], carrier: Courier, letter: Any) -> Any:
        outcome = attempt(carrier, letter)
        self.reach(Step.ANSWERED, carrier.name)
        return outcome

    def _carrying(self, carry: Callable[..., Any], carrier: Courier, letter: Any) -> Any:
        carry(carrier, letter)
        self.reach(Step.KNOWN, carrier.name)

    def _asking(self, getresponse: Callable[..., Any], line: HTTPConnection) -> Any:
        self.reach(Step.SAID, self._notifier)
        return getresponse(line)

    def _mailing(self, send: Callable[..., Any], client: smtplib.SMTP, text: Any) -> Any:
        send(client, text)
        if text[-3:] == b".\r\n":  # the end of a mail, of which there is no other
            self.reach(Step.SAID, self._notifier)


def around(owner: Any, name: str, wrapper: Callable[..., Any]) -> None:
    """Let ``wrapper`` be called instead, with what it stands for in front."""
    original = getattr(owner, name)
    setattr(owner, name, lambda *args: wrapper(original, *args))


def _notifier(outbox: Outbox, row_id: int) -> str:
    query = "SELECT notifier FROM outbox WHERE id = ?"
    return str(outbox._connection.execute(query, (row_id,)).fetchone()[0])


if __name__ == "__main__":
    Trap(Step(sys.argv[1]), sys.argv[2]).set()
    sys.exit(main(sys.argv[3:]))
