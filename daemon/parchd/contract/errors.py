"""Errors: one root; each says what the daemon does about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar


class Action(StrEnum):
    STOP = "stop"
    """A person must change something first."""
    RETRY = "retry"
    """It may work later."""
    DROP = "drop"
    """This one thing will never work; the rest goes on."""


class ParchdError(Exception):
    """Root of all errors parchd raises on purpose."""

    action: ClassVar[Action] = Action.STOP


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with a configuration.

    Args:
        file: path of the file as the user gave it; empty: the environment.
        line: 1-based; ``None`` where there is none.
        key: dotted path of the key, e.g. ``sources.bus1.baud``.
        found: the value found, shortened, never a secret; empty: nothing was there.
        expected: what would be right.
        hint: what to do; may be empty.
    """

    file: str
    line: int | None
    key: str
    found: str
    expected: str
    hint: str = ""

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        found = f"found {self.found}, " if self.found else ""
        hint = f" ({self.hint})" if self.hint else ""
        return f"{where}: {self.key}: {found}expected {self.expected}{hint}"


class ConfigError(ParchdError, ValueError):
    """The configuration cannot be used. Carries every problem found, not the first only."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


class RegistryError(ParchdError, LookupError):
    """Two distributions claim one adapter name, or an adapter cannot be loaded."""


class SourceLost(ParchdError, ConnectionError):
    """The source cannot go on (line pulled out, broker away): it is started again after a pause."""

    action = Action.RETRY


class SinkUnavailable(ParchdError, ConnectionError):
    """The server behind a sink does not take rows now: the same rows are offered again after a pause.

    Args:
        retry_after_s: what the server asked for, ``None`` if it said nothing.
        needs_person: no retry will help until somebody acts (wrong token, missing bucket); rows are still kept.
    """

    action = Action.RETRY

    def __init__(self, text: str, *, retry_after_s: float | None = None, needs_person: bool = False) -> None:
        super().__init__(text)
        self.retry_after_s = retry_after_s
        self.needs_person = needs_person


class DeliveryRetry(ParchdError, ConnectionError):
    """The message was not delivered; try again later."""

    action = Action.RETRY

    def __init__(self, text: str, *, retry_after_s: float | None = None) -> None:
        super().__init__(text)
        self.retry_after_s = retry_after_s


class DeliveryRefused(ParchdError, ValueError):
    """The receiver will never take this message."""

    action = Action.DROP


class RecipientGone(ParchdError, ConnectionError):
    """The receiver wants no further message (HTTP 410): it is disabled until the configuration changes."""

    action = Action.STOP


class StoreError(ParchdError, OSError):
    """The journal cannot be opened or is not a journal of ours."""


class Stopping(ParchdError, RuntimeError):
    """The daemon is going down: leave ``run`` at once."""
