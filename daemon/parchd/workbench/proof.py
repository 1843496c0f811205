"""Proving an instrument on the bench: what all three tests have in common."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from statistics import median
from typing import Protocol

from parchd.workbench.chart import Chart, Point, thinned
from parchd.workbench.limits import PROOF_GOOD_KPA, PROOF_LEAST_KPA

_MOST_POINTS = 8000


class Proof(StrEnum):
    """The tests, in the order that loses least time: a leak shows at the pump within minutes."""

    HOLD = "hold"
    TOWEL = "towel"
    RETURN = "return"


class Outcome(StrEnum):
    PASSED = "passed"
    DOUBTFUL = "doubtful"
    FAILED = "failed"
    UNFINISHED = "not finished"


@dataclass(frozen=True, slots=True)
class Subject:
    """The instrument that is proven.

    Args:
        name: of the tensiometer.
        head_kpa: what its transducer shows with the cup in water.
        usable_kpa: tension at the cup up to which it can be believed at the site.
    """

    name: str
    head_kpa: float
    usable_kpa: float

    @property
    def usable_vacuum_kpa(self) -> float:
        """The same at the transducer."""
        return self.usable_kpa + max(0.0, self.head_kpa)


@dataclass(frozen=True, slots=True)
class Terms:
    """What must be shown, and in which time.

    Args:
        target_kpa, good_kpa: tension that the towel test must reach, and one that is good. Common practice.
        towel_s: time for it.
        hold_s: how long the vacuum must hold.
        leak_kpa: loss of vacuum in five minutes that is allowed; more than `LEAK_FACTOR` times as much is a leak.
        return_s: time for the return to water.
        slow_s: a return within 1 kPa that takes longer is slow.
        zero_kpa: most that the zero may be off.
    """

    target_kpa: float = PROOF_LEAST_KPA
    good_kpa: float = PROOF_GOOD_KPA
    towel_s: float = 3600.0
    hold_s: float = 300.0
    leak_kpa: float = 2.0
    return_s: float = 600.0
    slow_s: float = 300.0
    zero_kpa: float = 1.0


@dataclass(frozen=True, slots=True)
class Moment:
    """One sample during a test.

    Args:
        t_s: seconds since the first sample of the test.
        vacuum_kpa: at the transducer; ``None``: there is no value.
        tension_kpa: at the cup.
        trouble: why there is none.
    """

    t_s: float
    vacuum_kpa: float | None
    tension_kpa: float | None
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """A number that a test found; ``key`` names it with its unit in the record."""

    key: str
    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Result:
    """What came of a test.

    Args:
        headline: one sentence.
        facts: numbers.
        meaning: why, in whole sentences.
        advice: what to do, a sentence or two each.
        chart: the curve.
        points: the same as numbers, for the record.
    """

    proof: Proof
    outcome: Outcome
    headline: str
    facts: tuple[Fact, ...]
    meaning: tuple[str, ...]
    advice: tuple[str, ...]
    chart: Chart
    points: tuple[Point, ...]


class Trial(Protocol):
    """A test while it runs. Pure: time comes with the samples."""

    @property
    def over(self) -> bool:
        """Whether it has all it needs, or its time is up."""
        ...

    def take(self, moment: Moment) -> None:
        """Take a sample; they come in the order of time."""
        ...

    def enter(self) -> None:
        """The person pressed Enter: go on to what comes next."""
        ...

    def stop(self) -> None:
        """End it now, unfinished or not."""
        ...

    def chart(self) -> Chart:
        """The curve so far."""
        ...

    def status(self) -> str:
        """How it stands, in one line."""
        ...

    def hint(self) -> str:
        """What to do now, or what Enter does; in one line."""
        ...

    def result(self) -> Result:
        """What came of it, as it stands."""
        ...


@dataclass(slots=True)
class Curve:
    """Values in time, and what kept others from being one."""

    points: list[Point] = field(default_factory=list)
    troubles: dict[str, int] = field(default_factory=dict)

    def take(self, t_s: float, value: float | None, trouble: str) -> None:
        if value is None:
            self.troubles[trouble] = self.troubles.get(trouble, 0) + 1
            return
        self.points.append((t_s, value))
        if len(self.points) > _MOST_POINTS:
            self.points = list(thinned(self.points, _MOST_POINTS // 2))

    @property
    def last_s(self) -> float:
        return self.points[-1][0] if self.points else 0.0

    @property
    def level(self) -> float:
        """Where it stands: the median of the last three."""
        return median(y for _, y in self.points[-3:])

    @property
    def worst_trouble(self) -> str:
        return max(self.troubles, key=self.troubles.__getitem__, default="")

    def since(self, t_s: float) -> list[Point]:
        return [point for point in self.points if point[0] >= t_s]


def smoothed(points: Sequence[Point]) -> list[Point]:
    """Take the median of each point and its two neighbours: single wild ones vanish.

    >>> smoothed([(0.0, 1.0), (1.0, 90.0), (2.0, 2.0), (3.0, 3.0)])
    [(0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 3.0)]
    """
    if len(points) < 3:
        return list(points)
    inner = [(points[n][0], median(y for _, y in points[n - 1 : n + 2])) for n in range(1, len(points) - 1)]
    return [points[0], *inner, points[-1]]


def time_text(seconds: float) -> str:
    """
    >>> time_text(42.0), time_text(750.0), time_text(5400.0), time_text(0.42)
    ('42 s', '12.5 min', '90 min', '0.4 s')
    """
    if seconds < 180.0:
        return f"{seconds:.0f} s" if seconds >= 10.0 else f"{seconds:.1f} s"
    minutes = seconds / 60.0
    return f"{minutes:.0f} min" if minutes >= 60.0 else f"{minutes:.1f} min"
