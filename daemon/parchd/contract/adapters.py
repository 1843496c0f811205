"""What adapters are and what they may ask of the daemon.

An adapter is a module with a ``KIND``, registered as an entry point in one of four groups:
``parchd.sources``, ``parchd.sinks``, ``parchd.notifiers``, ``parchd.outputs``. ``adapters/README.md`` shows one whole.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from parchd.clock import Clock
from parchd.contract.commands import AskDaemon, nobody_listens
from parchd.contract.notices import Notice
from parchd.contract.options import Options
from parchd.contract.readings import StoredReading
from parchd.contract.samples import SampleBatch


class StopSignal(Protocol):
    """Set once, when the adapter must leave. A `threading.Event` is one."""

    def is_set(self) -> bool: ...

    def wait(self, timeout: float | None = None) -> bool:
        """Sleep up to ``timeout`` seconds; true as soon as the signal is set."""
        ...


class Intake(Protocol):
    """The way from a source into the daemon; safe to call from the source's thread."""

    def put(self, batch: SampleBatch) -> None:
        """Hand over a batch; block while the engine is behind.

        Raises:
            Stopping: the daemon goes down; leave ``run``.
        """
        ...

    def offer(self, batch: SampleBatch, timeout_s: float) -> bool:
        """Hand over a batch, or give up after ``timeout_s``: false means that it was not taken."""
        ...

    def rejected(self, reason: str, example: bytes | str = b"", count: int = 1) -> None:
        """Count input that made no sample. ``reason`` is one of a few fixed phrases; log lines are summarised."""
        ...

    def connected(self, detail: str) -> None:
        """Say that the line is up (``detail``: device, broker). The pause between attempts starts over."""
        ...

    def beat(self) -> None:
        """Say that the source is alive though nothing arrives; call at least every 10 s. ``put`` counts as one."""
        ...


class Source(Protocol):
    """Delivers samples. Runs in a thread of its own, one after another, never twice at once."""

    def run(self, intake: Intake, stop: StopSignal) -> None:
        """Connect, read and hand over until ``stop`` is set (then return within 2 s) or all is read (then return).

        Raises:
            SourceLost: the connection is gone; ``run`` is called again after a growing pause with jitter.
                Any other exception is logged with its trace and treated alike.
        """
        ...


@dataclass(frozen=True, slots=True)
class Rejection:
    """A row the server will never take, and what it said."""

    seq: int
    reason: str


class Sink(Protocol):
    """Copies journal rows to a server. Runs in a thread of its own. The journal is the truth; a sink never drops."""

    batch_rows: int
    """How many rows it likes to get at once."""

    def write(self, rows: Sequence[StoredReading]) -> Sequence[Rejection]:
        """Write all rows but those returned as rejected. Writing a row twice must leave what writing it once leaves.

        Raises:
            SinkUnavailable: nothing is lost; the same rows come again.
        """
        ...

    def close(self) -> None:
        """Free the connection. ``write`` is not called again."""
        ...


class Notifier(Protocol):
    """Delivers messages to people or programs. Runs in a thread of its own."""

    @property
    def recipients(self) -> tuple[str, ...]:
        """Whom it reaches by itself, by the names that logs and the outbox show; no secrets.

        A kind with an option ``to``, a list of addresses, reaches people at addresses of their own too; it may have
        no recipient by itself.
        """
        ...

    def send(self, notice: Notice, recipient: str) -> None:
        """Deliver one message to one recipient; returning means delivered. Takes 60 s at most.

        Raises:
            DeliveryRetry: later may work. DeliveryRefused: never will. RecipientGone: send nothing more.
        """
        ...


@dataclass(frozen=True, slots=True)
class Services:
    """What the daemon lends to an adapter.

    Args:
        name: the adapter's name in the configuration.
        site: name of the site.
        clock: the only clock an adapter may read.
        ask: where commands about alarms go; only for adapters whose user switched commands on.
    """

    name: str
    site: str
    clock: Clock
    ask: AskDaemon = nobody_listens


OptionsT = TypeVar("OptionsT", bound=Options)
OptionsT_contra = TypeVar("OptionsT_contra", bound=Options, contravariant=True)
AdapterT_co = TypeVar("AdapterT_co", covariant=True)


class Build(Protocol[OptionsT_contra, AdapterT_co]):
    def __call__(self, options: OptionsT_contra, services: Services, /) -> AdapterT_co:
        """Make an adapter. Nothing is opened yet: it must not fail for a line or server that is away."""
        ...


@dataclass(frozen=True, slots=True)
class AdapterKind(Generic[OptionsT, AdapterT_co]):
    """What an entry point names: the options' model and how to build the adapter from them.

    Args:
        schema: gives the JSON Schema of what the adapter sends to programs, as text; ``None``: there is none.
    """

    options: type[OptionsT]
    build: Build[OptionsT, AdapterT_co]
    schema: Callable[[], str] | None = None
