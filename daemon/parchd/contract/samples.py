"""What comes off the wire."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


class Unit(StrEnum):
    """Unit of a sample, as the configuration writes it."""

    COUNTS = "counts"
    V = "V"
    MV = "mV"
    MA = "mA"
    KPA = "kPa"
    HPA = "hPa"
    CELSIUS = "degC"


class TimeSource(StrEnum):
    """Who said when a sample was taken."""

    DEVICE = "device"
    """The payload carried a time."""
    ARRIVAL = "arrival"
    """The payload carried none: stamped by the source as it arrived."""
    UNKNOWN = "unknown"
    """It may be old (a retained message without a time of its own): stamped on arrival, never treated as new."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One number as it came from one channel.

    Args:
        channel: name of the input within its source, 1 to 64 characters of ``a-z A-Z 0-9 . _ -``. The journal
            knows it as ``source/channel``.
        time_us: when it was measured, integer microseconds since 1970-01-01 UTC.
        value: the number in ``unit``, always finite. ``None``: the device said that it has no value; it is stored
            with the flag "missing".
        unit: what the number is.
        time_source: who said ``time_us``.
    """

    channel: str
    time_us: int
    value: float | None
    unit: Unit
    time_source: TimeSource = TimeSource.DEVICE


@dataclass(frozen=True, slots=True)
class SampleBatch:
    """Samples of one source that are committed together, in the order they were measured.

    Args:
        source: name of the source in the configuration.
        samples: at most some 1000; fields of one line or one message stay in one batch.
        on_committed: called once by the engine thread, after the batch is safe on disk. It must return at once
            (append to a queue, set an event) and must not raise. Never called for a batch that was not committed.
        urgent: the sender waits for the commit: do not hold the batch back to group it with others.
        replayed: the samples are old on purpose and judged as if they were new. All others that arrive hours after
            they were measured (a gateway catching up) are kept, but raise and clear nothing.
    """

    source: str
    samples: tuple[Sample, ...]
    on_committed: Callable[[], None] | None = None
    urgent: bool = False
    replayed: bool = False
