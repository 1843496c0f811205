"""What a program may ask the daemon to do to an alarm, through an adapter."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Do(StrEnum):
    """What can be done to an alarm. None of it moves a valve."""

    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    TAKE_OUT = "take-out"
    PUT_BACK = "put-back"


class Verdict(StrEnum):
    """What became of it. The words are sent to programs: never change one."""

    DONE = "done"
    REFUSED = "refused"
    """The alarm does not stand so that it can be done; nothing was."""
    UNKNOWN = "unknown"
    """There is no such alarm."""
    LATE = "late"
    """It waited too long on its way, and may be meant for an alarm of another day."""
    CLASH = "clash"
    """Its id was used for another command before."""
    BUSY = "busy"
    """Too much was asked at once; ask again."""


@dataclass(frozen=True, slots=True)
class Command:
    """Something to be done to one alarm, once.

    Args:
        id: names the command: with an id that was used before, nothing is done and the first reply is given again.
            1 to 100 characters.
        do: what.
        alarm: which, e.g. ``irrigate-now.zone.north``.
        by: who asks; it is written down.
        why: for what reason; shelving and taking out of service need one.
        hours: how long a shelf lasts.
        episode: only if this is the alarm's episode now; empty: whichever it is.
        waited: nobody knows when it was given: it lay about while the daemon was away. It is not done; only one that
            was done before is replied to again.
    """

    id: str
    do: Do
    alarm: str
    by: str
    why: str = ""
    hours: float | None = None
    episode: str = ""
    waited: bool = False


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to a command; what it tells is on disk.

    Args:
        verdict: what became of it.
        text: the same in a sentence.
        state: how the alarm stands now, e.g. ``acknowledged``; empty: there is no such alarm.
    """

    verdict: Verdict
    text: str
    state: str = ""


class AskDaemon(Protocol):
    """The way of commands into the daemon; safe to call from any thread."""

    def __call__(self, command: Command, answer: Callable[[Reply], None], /) -> None:
        """Ask, and return at once. ``answer`` is called once, from another thread, and must return at once."""
        ...


def nobody_listens(_command: Command, answer: Callable[[Reply], None], /) -> None:
    """Stand in for the daemon where none runs, as in a test message or on the bench."""
    answer(Reply(Verdict.BUSY, "no daemon runs that could do this"))
