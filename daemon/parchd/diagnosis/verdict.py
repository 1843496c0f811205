"""What a detector says, and how it looks."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US, LATELY_H, NAN, Hour, Hours
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.setup import Instrument
from parchd.diagnosis.standing import DiagnosisState, Neighbours, SourceStanding, Standing


@dataclass(frozen=True, slots=True)
class Case:
    """The evidence is enough for a finding.

    Args:
        kind: what is wrong.
        start_us: where the evidence begins.
        confidence: 0 to 1.
        facts: evidence, numbers and times.
        others: names of other tensiometers it concerns.
        refutes: kinds that this evidence shows to be wrong, though they are the stronger ones as a rule.
        beside: kinds that hold as well, stronger ones as a rule: this evidence does not hang on them.
        is_repeated: whether it happened anew while the finding of the last time is still open.
    """

    kind: FindingKind
    start_us: int
    confidence: float
    facts: tuple[Fact, ...] = ()
    others: tuple[str, ...] = ()
    refutes: frozenset[FindingKind] = frozenset()
    beside: frozenset[FindingKind] = frozenset()
    is_repeated: bool = False


@dataclass(frozen=True, slots=True)
class Over:
    """The evidence for an open finding is gone; readings from ``at_us`` on can be believed."""

    kind: FindingKind
    at_us: int


Verdict = Case | Over | Event


@dataclass(slots=True)
class Look:
    """What a detector sees of one tensiometer when an hour has closed.

    Args:
        state: everything; detectors only read it.
        standing: the tensiometer; a detector may change its ``notes``.
        hour: the hour that closed.
        neighbours: of it.
        now: what the hour that closed was like.
    """

    state: DiagnosisState
    standing: Standing
    hour: int
    neighbours: Neighbours
    now: Hour
    instrument: Instrument = field(init=False)

    def __post_init__(self) -> None:
        self.instrument = self.standing.instrument

    @property
    def now_us(self) -> int:
        """End of the hour that closed."""
        return (self.hour + 1) * HOUR_US

    def past(self, name: str, hours: int, *, until: int | None = None) -> list[float]:
        """The last ``hours`` numbers of a column up to and with ``until`` (usually the hour that closed).

        NaN where there is none, and before the last service.
        """
        here, last = self.standing, self.hour if until is None else until
        begin = last - hours + 1
        if until is None and name == "mean_kpa" and hours <= LATELY_H and begin >= here.since:
            return here.hours.lately(hours)
        column = here.hours.column(name, begin, last + 1)
        return column if begin >= here.since else since(column, begin, here.since)

    def has(self, *kinds: FindingKind) -> bool:
        """Whether one of these findings is open."""
        open_ = self.state.findings.kinds.get(self.instrument.subject)
        return open_ is not None and not open_.isdisjoint(kinds)

    def source_has(self, kind: FindingKind) -> bool:
        """Whether a finding of its source is open."""
        return kind in self.state.findings.of(f"source/{self.instrument.source}")

    def trusts(self, other: Standing) -> bool:
        """Whether nothing is known against a neighbour."""
        return other.instrument.subject not in self.state.findings.doubted


def above(look: Look) -> list[Standing]:
    """Give the tensiometers of its station that are not as deep."""
    depth_m = look.instrument.place.depth_m
    return [n for n in look.neighbours.station if n.instrument.place.depth_m < depth_m]


def is_shallowest(look: Look) -> bool:
    """Whether water reaches it first of its station: further down it comes late, slowly, or not at all."""
    depth_m = look.instrument.place.depth_m
    return all(n.instrument.place.depth_m > depth_m for n in look.neighbours.station)


def since(values: Sequence[float], begin: int, earliest: int) -> list[float]:
    """Blank what lies before an hour."""
    blank = min(max(0, earliest - begin), len(values))
    return [NAN] * blank + list(values[blank:])


def is_doubted(state: DiagnosisState, standing: Standing) -> bool:
    """Whether an open finding takes away trust in a tensiometer."""
    return standing.instrument.subject in state.findings.doubted


@dataclass(frozen=True, slots=True)
class SourceLook:
    """What a detector sees of a source when an hour of it has closed."""

    state: DiagnosisState
    source: SourceStanding
    standings: tuple[Standing, ...]
    hour: int

    @property
    def now_us(self) -> int:
        return (self.hour + 1) * HOUR_US

    @property
    def subject(self) -> str:
        return f"source/{self.source.name}"

    def has(self, kind: FindingKind) -> bool:
        return kind in self.state.findings.of(self.subject)


Detector = Callable[[Look], Iterable[Verdict]]
SourceDetector = Callable[[SourceLook], Iterable[Verdict]]


def median(values: Iterable[float]) -> float:
    """Median of the numbers among them; NaN: none.

    >>> median([3.0, NAN, 1.0, 2.0])
    2.0
    """
    numbers = sorted([value for value in values if value == value])
    if not numbers:
        return NAN
    middle = len(numbers) // 2
    return numbers[middle] if len(numbers) % 2 else (numbers[middle - 1] + numbers[middle]) / 2


__all__ = [
    "Case", "Detector", "Hours", "Look", "Neighbours", "Over", "SourceDetector", "SourceLook", "Verdict", "is_doubted",
    "median", "since",
]  # fmt: skip
