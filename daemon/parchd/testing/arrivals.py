"""What was sent compared with what arrived."""

import math
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from parchd.contract import Sample, Unit
from parchd.testing.intake import FakeIntake

CHANNEL = re.compile(r"[a-zA-Z0-9._-]{1,64}")
LARGEST_BATCH = 2000
PATIENCE_S = 10.0


@dataclass(frozen=True, slots=True)
class Sent:
    """A value that the far end of a line sent.

    Args:
        channel: the channel it must arrive on.
        value: the number; ``None``: the device says that it has none.
        unit: the unit it must arrive with.
        time_us: the time it must arrive with; ``None``: the source stamps it.
    """

    channel: str
    value: float | None
    unit: Unit
    time_us: int | None = None

    def is_seen_in(self, sample: Sample) -> bool:
        """Whether this value, and no other, arrived as ``sample``."""
        timed = self.time_us in (None, sample.time_us)
        return timed and (self.channel, self.value, self.unit) == (sample.channel, sample.value, sample.unit)


class Arrivals:
    """Reads on in an intake: each call of `expect` looks at what came since the last."""

    def __init__(self, intake: FakeIntake) -> None:
        self._intake = intake
        self._seen = 0

    def expect(self, sent: Sequence[Sequence[Sent]]) -> list[set[int]]:
        """Check that all that was sent, and nothing else, arrives, in order within each channel.

        Returns:
            for each group, the numbers of the batches that its values arrived in.
        """
        wanted = self._seen + sum(map(len, sent))
        whole = self._intake.wait_for(lambda intake: len(intake.samples) >= wanted, PATIENCE_S)
        arrived = numbered(self._intake)[self._seen :]
        assert whole, f"sent {sent}, arrived {arrived}, rejected {self._intake.rejects}"
        self._seen = wanted
        return match(sent, arrived)


def numbered(intake: FakeIntake) -> list[tuple[int, Sample]]:
    """List all samples, each with the number of its batch."""
    return [(number, sample) for number, batch in enumerate(tuple(intake.batches)) for sample in batch.samples]


def match(sent: Sequence[Sequence[Sent]], arrived: Sequence[tuple[int, Sample]]) -> list[set[int]]:
    """Find each value in what arrived; fail when one is missing, changed, or too many."""
    queues: dict[str, list[tuple[int, Sample]]] = defaultdict(list)
    for number, sample in reversed(arrived):
        queues[sample.channel].append((number, sample))
    found = [{_take(value, queues[value.channel]) for value in group} for group in sent]
    surplus = [sample for queue in queues.values() for _, sample in queue]
    assert not surplus, f"arrived though it was not sent: {surplus}"
    return found


def _take(value: Sent, queue: list[tuple[int, Sample]]) -> int:
    assert queue, f"never arrived: {value}"
    number, sample = queue.pop()
    assert value.is_seen_in(sample), f"sent {value}, arrived {sample}"
    return number


def check_contract(intake: FakeIntake, source: str) -> None:
    """Check what `Sample` and `SampleBatch` promise of all that arrived."""
    assert intake.batches
    for batch in intake.batches:
        assert batch.source == source
        assert 0 < len(batch.samples) <= LARGEST_BATCH
        for sample in batch.samples:
            check_sample(sample)
    keys = [(sample.channel, sample.time_us) for sample in intake.samples]
    assert len(set(keys)) == len(keys), "two samples of one channel share a time: the journal keeps one of them"


def check_sample(sample: Sample) -> None:
    """Check what `Sample` promises of each of its fields."""
    assert CHANNEL.fullmatch(sample.channel), sample
    assert type(sample.time_us) is int, sample
    assert type(sample.unit) is Unit, sample
    assert sample.value is None or (type(sample.value) is float and math.isfinite(sample.value)), sample
