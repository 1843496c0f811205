"""What the engine is told; every change of state begins with one of these."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from parchd.app.once import Once
from parchd.app.requests import Answer, AnyRequest
from parchd.app.setup import EngineSetup
from parchd.contract import Notice, Rejection, SampleBatch
from parchd.store.cursors import Cursor


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""


@dataclass(frozen=True, slots=True)
class SinkProgress:
    """A sink has taken everything up to ``cursor`` but what it rejected; or it has trouble and took nothing new."""

    sink: str
    cursor: Cursor
    rejections: Sequence[Rejection] = ()
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class SourceHealth:
    """A source cannot be reached, for this reason; or it can again (an empty one)."""

    source: str
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class DiskSpace:
    """What is free on the disk of the journal; ``is_full``: the journal could not be written."""

    free_bytes: int
    total_bytes: int
    is_full: bool = False


class Outcome(StrEnum):
    SENT = "sent"
    RETRY = "retry"
    REFUSED = "refused"
    GONE = "gone"


@dataclass(frozen=True, slots=True)
class Delivery:
    """What became of one attempt to deliver a message. ``on_committed`` is called once that is on disk."""

    notifier: str
    row_id: int
    attempts: int
    outcome: Outcome
    trouble: str = ""
    retry_after_s: float | None = None
    on_committed: Callable[[], None] | None = None


@dataclass(frozen=True, slots=True)
class Reload:
    """A new configuration holds from here on."""

    setup: EngineSetup


@dataclass(frozen=True, slots=True)
class Post:
    """Send this notice to every recipient of a notifier (``None``: of all notifiers)."""

    notice: Notice
    notifier: str | None = None


@dataclass(frozen=True, slots=True)
class Ask:
    """Somebody asks for something; ``answer`` is called from the engine's thread, the last time after the commit.

    Args:
        once: it counts once, however often it comes; ``None``: each time.
    """

    request: AnyRequest
    answer: Callable[[Answer], None]
    once: Once | None = None


Control = Tick | SinkProgress | SourceHealth | DiskSpace | Delivery | Reload | Post | Ask
Message = SampleBatch | Control
